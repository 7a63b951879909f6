"""The reference pitch of a take: what was played, moment by moment, whatever a circuit makes of it.

Every 10 ms the partials are read off a spectrum, and every pitch from 28 Hz to 1 kHz is scored by how many of them it
accounts for, allowing for stiff strings. The pitch is the path through the scores that adds up to most, and a jump
costs more than a few moments' evidence can bring in. So the lowest pitch that a whole note agrees on wins over the
octave above, which the note seems to have once its odd partials are gone.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sublatch.arrays import Array, Single, Whole
from sublatch.pitch.excerpts import HOP_S, RATE_HZ, excerpts
from sublatch.pitch.onsets import onsets
from sublatch.pitch.partials import BLOCK, RANGE_DB, Peaks, find_peaks
from sublatch.pitch.slides import slides_through
from sublatch.pitch.periodicity import OCTAVE_GAIN, periodicities
from sublatch.sampling.rates import resampled
from sublatch.takes.take import Take

LOWEST_HZ = 28.0
"""Lowest pitch that is looked for: a little under the low B of a five-string bass."""
HIGHEST_HZ = 1000.0
"""Highest pitch that is looked for: beyond a guitar's highest frets as far as octave circuits go."""
STIFFNESS = 2e-4
"""Inharmonicity B that strings are taken to have; the tolerance covers 0 to about 1e-3."""
QUIET_DB = 60.0
"""How far under the loudest moment of the take a moment counts least, a tenth."""
CLEAR = 0.25
"""Clarity from which a moment is pitched; white noise stays under 0.2 (measured)."""

_HOP = round(HOP_S * RATE_HZ)
_LEVEL_SAMPLES = RATE_HZ // 25
_PEAKS_FROM_HZ = 25.0
_PEAK_CENTS = 5
_PEAK_STEPS = 1490
_TRIED_FROM_HZ = 21.0
_PITCH_CENTS = 20
_PITCH_STEPS = 385
_PARTIALS = 12
_FADE = 0.93
_STRAY = 0.6
_NEAR_CENTS = 22.0
_LOOSER_CENTS = 0.25
_REFINING_PARTIALS = 8
_REFINING_CENTS = 45.0
_GLIDE_COST = 0.1
_JUMP_COST = 30.0
_OCTAVE_COST = 60.0
_OCTAVE_STEPS = (60, 95, 120)
_OCTAVE_NEAR = 3
ONSET_COST = 0.5
W = 2.0
CHANCE = 0.15
_SMOOTH_HOPS = 9
_SILENT_DB = -90.0
_KEPT = 4


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
    """

    time_s: Array
    pitch_hz: Array
    level_db: Array
    clarity: Array
    onset_s: Array


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
    by every peak that is not. The best path through these scores is found by dynamic programming (Viterbi).
    """
    key = take.fingerprint()
    if key not in _tracks:
        if len(_tracks) >= _KEPT:
            _tracks.pop(next(iter(_tracks)), None)
        _tracks[key] = _track(take)
    return _tracks[key]


def _track(take: Take) -> PitchTrack:
    """Return the pitch of a take: once more, where a slide was taken for an onset at first."""
    volts = resampled(take.samples - np.mean(take.samples), take.sample_rate, RATE_HZ)
    sound = volts / take.full_scale_volts
    onset_s = onsets(take)
    track = _tracked(sound, take.seconds, onset_s)
    plucked_s = onset_s[[not slides_through(track.pitch_hz, start_s) for start_s in onset_s]]
    if len(plucked_s) < len(onset_s):
        track = _tracked(sound, take.seconds, plucked_s)
    for curve in (track.time_s, track.pitch_hz, track.level_db, track.clarity, track.onset_s):
        curve.setflags(write=False)
    return track


def _tracked(sound: Array, seconds: float, onset_s: Array) -> PitchTrack:
    """Return the pitch of a sound at 4 kHz with such onsets."""
    count = int(seconds / HOP_S) + 1
    level_db = _levels_db(sound, count)
    where = excerpts(count, onset_s)
    peaks = find_peaks(sound, where)
    loudness = np.clip(1.0 + (level_db - np.max(level_db)) / QUIET_DB, 0.1, 1.0).astype(np.float32)
    scores = _scores(peaks, count)
    repeats = periodicities(sound, where, _candidates_hz(), _TRIED_FROM_HZ)
    for span, alike in repeats.items():
        scores[where.span == span] += W * alike.astype(np.float32)
    scores *= loudness[:, None]
    path = _path(scores, _jump_costs(where.span))
    path_hz = _candidates_hz()[path]
    clarity = _clarity(peaks, path_hz)
    for span, alike in repeats.items():
        inside = where.span == span
        only = alike - OCTAVE_GAIN * np.log2(_candidates_hz() / _TRIED_FROM_HZ)
        clarity[inside] = np.maximum(clarity[inside], only[path[inside]] - CHANCE)
    clarity[level_db <= _SILENT_DB] = 0.0
    fine_hz = _refined(peaks, path_hz)
    within = (fine_hz >= LOWEST_HZ) & (fine_hz <= HIGHEST_HZ)
    return PitchTrack(
        time_s=np.arange(count, dtype=np.float64) * HOP_S,
        pitch_hz=np.where((clarity >= CLEAR) & within, fine_hz, np.nan),
        level_db=level_db,
        clarity=clarity,
        onset_s=onset_s,
    )


def _candidates_hz() -> Array:
    """Return the pitches that are tried, some beyond the range, lest what lies there be taken for something else."""
    return np.asarray(_TRIED_FROM_HZ * 2.0 ** (np.arange(_PITCH_STEPS) * _PITCH_CENTS / 1200))


def _levels_db(sound: Array, count: int) -> Array:
    """Return the level around each moment."""
    energy = np.concatenate([[0.0], np.cumsum(np.pad(sound, (_LEVEL_SAMPLES // 2, _LEVEL_SAMPLES + _HOP)) ** 2)])
    first = np.arange(count) * round(HOP_S * RATE_HZ)
    power = np.maximum(energy[first + _LEVEL_SAMPLES] - energy[first], 0.0) / _LEVEL_SAMPLES
    return np.asarray(10.0 * np.log10(power + 1e-20))


def _scores(peaks: Peaks, count: int) -> Single:
    """Return how well each pitch accounts for each moment (count, pitches): the peaks, spread out, times the gains."""
    steps = np.round(1200 * np.log2(peaks.hz / _PEAKS_FROM_HZ) / _PEAK_CENTS).astype(np.intp)
    place = np.clip(steps, 0, _PEAK_STEPS - 1)
    out = []
    for first in range(0, count, BLOCK):
        rows = min(BLOCK, count - first)
        some = slice(*np.searchsorted(peaks.frame, (first, first + rows)))
        cell = (peaks.frame[some] - first) * _PEAK_STEPS + place[some]
        spread = np.bincount(cell, peaks.height[some], rows * _PEAK_STEPS).reshape(rows, _PEAK_STEPS)
        out.append(spread.astype(np.float32) @ _gains())
    return np.concatenate(out)


@lru_cache(maxsize=1)
def _gains() -> Single:
    """Return what a peak at each frequency brings each pitch (peaks, pitches)."""
    hz = _PEAKS_FROM_HZ * 2.0 ** (np.arange(_PEAK_STEPS) * _PEAK_CENTS / 1200)
    return _gain(hz[:, None], _candidates_hz()[None, :], fade=_FADE).astype(np.float32)


def _gain(hz: Array, pitch_hz: Array, *, fade: float = 1.0) -> Array:
    """Return what a peak brings a pitch: nothing far above its partials, where anything would be near one."""
    number, off_cents, near_cents = _nearest_partial(hz, pitch_hz)
    near = np.exp(-0.5 * (off_cents / near_cents) ** 4)
    telling = np.clip(1.5 - number / _PARTIALS, 0.0, 1.0)
    return np.asarray(telling * (fade**number * near - _STRAY * (1.0 - near)))


def _nearest_partial(hz: Array, pitch_hz: Array) -> tuple[Array, Array, Array]:
    """Return the partial that is nearest to a peak, by how many cents it misses it, and how near would be near."""
    ratio = hz / pitch_hz
    rough = np.maximum(np.round(ratio), 1.0)
    number = np.maximum(np.round(ratio / np.sqrt(1.0 + STIFFNESS * rough**2)), 1.0)
    off_cents = 1200 * np.log2(ratio / (number * np.sqrt(1.0 + STIFFNESS * number**2)))
    return number, off_cents, _NEAR_CENTS + _LOOSER_CENTS * number**2


def _jump_costs(span: Whole) -> Array:
    """Return what a jump costs at each moment: little at an onset, where a new note may begin."""
    return np.where(np.diff(span, prepend=span[0]) != 0, ONSET_COST, _JUMP_COST)


def _costs_by_step(pitches: int) -> Single:
    """Return how many times as much each jump costs, from all the way down to all the way up.

    Jumps by one or two octaves, or an octave and a fifth, cost most: those are how a note only seems to change.
    """
    steps = np.abs(np.arange(-pitches, pitches))
    near = np.min(np.abs(steps[:, None] - np.array(_OCTAVE_STEPS)), axis=1) <= _OCTAVE_NEAR
    return np.where(near, _OCTAVE_COST / _JUMP_COST, 1.0).astype(np.float32)


def _path(scores: Single, jump_costs: Array) -> Whole:
    """Return the pitches, by number, whose scores add up to most, glides and jumps being paid for.

    Only sums are kept on the way there; where each came from is asked again on the way back, for one pitch a moment.
    """
    count, pitches = scores.shape
    by_step = _costs_by_step(pitches)
    totals = np.empty_like(scores)
    totals[0] = total = scores[0]
    costs = jump_costs.astype(np.float32)
    for moment in range(1, count):
        top = int(total.argmax())
        best = np.maximum(total, total[top] - costs[moment] * by_step[pitches - top : 2 * pitches - top])
        for step in (1, 2):
            lower = total - np.float32(_GLIDE_COST * step)
            np.maximum(best[step:], lower[:-step], out=best[step:])
            np.maximum(best[:-step], lower[step:], out=best[:-step])
        best -= total[top]
        total = np.add(best, scores[moment], out=totals[moment])
    path = np.empty(count, np.intp)
    path[-1] = totals[-1].argmax()
    for moment in range(count - 1, 0, -1):
        path[moment - 1] = _before(totals[moment - 1], int(path[moment]), costs[moment], by_step)
    return path


def _before(total: Single, pitch: int, jump_cost: np.float32, by_step: Single) -> int:
    """Return the pitch that the best sum came from: the same, the best of all by a jump, or a near one by a glide."""
    top = int(total.argmax())
    came, best = pitch, total[pitch]
    jumped = total[top] - jump_cost * by_step[len(total) - top + pitch]
    if jumped > best:
        came, best = top, jumped
    for source in (pitch + 2, pitch + 1, pitch - 1, pitch - 2):
        if 0 <= source < len(total):
            glided = total[source] - np.float32(_GLIDE_COST * abs(source - pitch))
            if glided > best:
                came, best = source, glided
    return came


def _clarity(peaks: Peaks, pitch_hz: Array) -> Array:
    """Return how much of the peaks' amplitude the pitch accounts for, over 90 ms around each moment."""
    amplitude = 10.0 ** ((peaks.height - 1.0) * RANGE_DB / 20)
    gain = _gain(peaks.hz, pitch_hz[peaks.frame])
    got, most = (_around(peaks.frame, part, len(pitch_hz)) for part in (amplitude * gain, amplitude))
    return got / np.maximum(most, 1e-12)


def _around(frame: Whole, values: Array, count: int) -> Array:
    """Return the sum of what the peaks of the moments around each have."""
    sums = np.convolve(np.bincount(frame, values, count), np.ones(_SMOOTH_HOPS))
    return np.asarray(sums[_SMOOTH_HOPS // 2 :][:count])


def _refined(peaks: Peaks, pitch_hz: Array) -> Array:
    """Return the pitch as the low partials near it have it, the stronger the more."""
    number, off_cents, near_cents = _nearest_partial(peaks.hz, pitch_hz[peaks.frame])
    counts = (np.abs(off_cents) < np.minimum(2 * near_cents, _REFINING_CENTS)) & (number <= _REFINING_PARTIALS)
    weight = np.where(counts, peaks.height, 0.0) ** 2
    total = np.bincount(peaks.frame, weight, len(pitch_hz))
    mean_cents = np.bincount(peaks.frame, weight * off_cents, len(pitch_hz)) / np.maximum(total, 1e-12)
    return np.asarray(pitch_hz * 2.0 ** (mean_cents / 1200))
