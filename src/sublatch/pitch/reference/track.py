"""The reference pitch of a take: what was played, moment by moment, whatever a circuit makes of it.

Every 10 ms the partials are read off a spectrum of the sound between one onset and the next, and every pitch from 28 Hz
to 1 kHz is scored by how many of them it accounts for, allowing for stiff strings, and where notes follow fast by how
much the sound repeats itself. The pitch is the path through the scores that adds up to most, and a jump where nothing
is plucked costs more than a few moments' evidence can bring in. So the lowest pitch that a whole note agrees on wins
over the octave above, which the note seems to have once its odd partials are gone.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from sublatch.arrays import Array, Single
from sublatch.pitch.reference.candidates import candidates_hz, refined, spectral_clarity, spectral_scores
from sublatch.pitch.reference.confirmed_onsets import confirmed_onsets
from sublatch.pitch.reference.excerpts import HOP_S, RATE_HZ, Excerpts, excerpts, sound_of
from sublatch.pitch.reference.onsets import onsets
from sublatch.pitch.reference.partials import Peaks, find_peaks
from sublatch.pitch.reference.path import best_path, jump_costs, octave_margin
from sublatch.pitch.reference.periodicity import CHANCE, WEIGHT, octave_gains, periodicities
from sublatch.takes.take import Take

LOWEST_HZ = 28.0
"""Lowest pitch that is looked for: a little under the low B of a five-string bass."""
HIGHEST_HZ = 1000.0
"""Highest pitch that is looked for: beyond a guitar's highest frets as far as octave circuits go."""
QUIET_DB = 60.0
"""How far under the loudest moment of the take a moment counts least, a tenth."""
CLEAR = 0.25
"""Clarity from which a moment is pitched; white noise stays under 0.2 (measured)."""
SILENT_DB = -90.0
"""Level, in decibels of full scale, up to which nothing sounds."""
KEPT = 4
"""Takes whose pitch is remembered."""

_LEVEL_SAMPLES = RATE_HZ // 25
_HOP = round(HOP_S * RATE_HZ)


@dataclass(frozen=True, eq=False)
class PitchTrack:
    """Pitch and level of a take, moment by moment.

    Attributes
    ----------
    time_s
        Seconds from the start of the take, of shape (k,), every 10 ms.
    pitch_hz
        Pitch in hertz (k,), NaN where nothing pitched sounds, and where the pitch is out of range.
    level_db
        RMS level of the 40 ms around, below 2 kHz, in decibels of full scale (k,); a full-scale sine has −3.
    clarity
        How well the pitch accounts for the partials around (k,): 1 for all of them, below 0 for few.
    onset_s
        When something is plucked (m,), in seconds.
    octave_margin
        By how much the pitch scores above the octaves below and above it (k,), in what one partial brings; below 0
        where, taken alone, a moment has another octave.
    """

    time_s: Array
    pitch_hz: Array
    level_db: Array
    clarity: Array
    onset_s: Array
    octave_margin: Array


_tracks: dict[str, PitchTrack] = {}


def reference_pitch(take: Take) -> PitchTrack:
    """Return the pitch of a take, found without any circuit's detector.

    Parameters
    ----------
    take
        Of any length; a pitch is found for one note at a time, 28 Hz to 1 kHz.

    Returns
    -------
    PitchTrack
        Every 10 ms. The last few takes are remembered, so its arrays are read-only.

    Notes
    -----
    Partial n of a stiff string lies at ``n f √(1 + B n²)`` (Fletcher and Rossing, *The Physics of Musical
    Instruments*, from memory). A pitch gains by every spectral peak that is near one of its first 12 partials,
    the less the higher the partial, so that an octave below does not win by accounting for as much; and loses
    by every peak that is not. Between onsets less than 0.25 s apart it gains by the normalised difference function of
    the sound as well (McLeod and Wyvill, "A smarter way to find pitch", ICMC 2005, from memory). The best path through
    these scores is found by dynamic programming (Viterbi).
    """
    key = take.fingerprint()
    if key not in _tracks:
        if len(_tracks) >= KEPT:
            _tracks.pop(next(iter(_tracks)), None)
        _tracks[key] = _track(take)
    return _tracks[key]


def _track(take: Take) -> PitchTrack:
    """Return the pitch of a take: a second time, with the onsets that the pitch confirms."""
    sound = sound_of(take)
    clear_s, faint_s = onsets(take)
    track = _track_between(sound, take.seconds, clear_s, faint_s)
    confirmed_s = confirmed_onsets(track.pitch_hz, clear_s, faint_s)
    if not np.array_equal(confirmed_s, clear_s):
        track = _track_between(sound, take.seconds, confirmed_s, faint_s)
    for field in fields(track):
        getattr(track, field.name).setflags(write=False)
    return track


def _track_between(sound: Array, seconds: float, onset_s: Array, faint_s: Array) -> PitchTrack:
    """Return the pitch of a sound (n,) at 4 kHz between such onsets."""
    count = int(seconds / HOP_S) + 1
    level_db = _levels_db(sound, count)
    where = excerpts(count, onset_s)
    peaks = find_peaks(sound, where)
    alike = periodicities(sound, where, candidates_hz())
    scores = _scores(peaks, alike, where)
    loudness = np.clip(1.0 + (level_db - np.max(level_db)) / QUIET_DB, 0.1, 1.0).astype(np.float32)
    path = best_path(scores * loudness[:, None], jump_costs(where.span, faint_s))
    path_hz = candidates_hz()[path]
    clarity = spectral_clarity(peaks, path_hz)
    for span, likeness in alike.items():
        inside = where.span == span
        clarity[inside] = np.maximum(clarity[inside], likeness[path[inside]] - CHANCE)
    clarity[level_db <= SILENT_DB] = 0.0
    fine_hz = refined(peaks, path_hz)
    within = (fine_hz >= LOWEST_HZ) & (fine_hz <= HIGHEST_HZ)
    return PitchTrack(
        time_s=np.arange(count, dtype=np.float64) * HOP_S,
        pitch_hz=np.where((clarity >= CLEAR) & within, fine_hz, np.nan),
        level_db=level_db,
        clarity=clarity,
        onset_s=onset_s,
        octave_margin=octave_margin(scores, path),
    )


def _scores(peaks: Peaks, alike: dict[int, Array], where: Excerpts) -> Single:
    """Return how well each pitch accounts for each moment, by its partials and in short stretches by its period."""
    scores = spectral_scores(peaks, len(where.first))
    for span, likeness in alike.items():
        scores[where.span == span] += (WEIGHT * (likeness + octave_gains(candidates_hz()))).astype(np.float32)
    return scores


def _levels_db(sound: Array, count: int) -> Array:
    """Return the level around each moment."""
    energy = np.concatenate([[0.0], np.cumsum(np.pad(sound, (_LEVEL_SAMPLES // 2, _LEVEL_SAMPLES + _HOP)) ** 2)])
    first = np.arange(count) * _HOP
    power = np.maximum(energy[first + _LEVEL_SAMPLES] - energy[first], 0.0) / _LEVEL_SAMPLES
    return np.asarray(10.0 * np.log10(power + 1e-20))
