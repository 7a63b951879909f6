"""Where a file's zero lies in a take: told by the onsets, and by the pitches where the onsets could be either's."""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Array, Whole
from sublatch.pitch.given.notes import GivenNote
from sublatch.pitch.reference.excerpts import HOP_S
from sublatch.pitch.reference.track import PitchTrack
from sublatch.units import CONCERT_A_HZ

MEET_S = 0.05
"""How far apart a given start and the onset that it meets are at most, in seconds."""


def meeting(start_s: Array, onset_s: Array) -> tuple[Whole, Whole]:
    """Return which starts (n,) meet which onsets (m,), both in order: those nearest to each other, within 50 ms.

    Returns
    -------
    starts, onsets : ndarray
        Numbers of the starts and of their onsets, both (k,).
    """
    if not len(start_s) or not len(onset_s):
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    onset, starts = _nearest(start_s, onset_s), np.arange(len(start_s))
    mutual = (_nearest(onset_s, start_s)[onset] == starts) & (np.abs(start_s - onset_s[onset]) <= MEET_S)
    return starts[mutual], onset[mutual]


def _nearest(time_s: Array, among_s: Array) -> Whole:
    """Return which of some times (m,), in order, is nearest to each of others (n,)."""
    later = np.minimum(np.searchsorted(among_s, time_s), len(among_s) - 1)
    before = np.maximum(later - 1, 0)
    return np.where(time_s - among_s[before] <= among_s[later] - time_s, before, later)


def best_offset_s(notes: tuple[GivenNote, ...], track: PitchTrack) -> float:
    """Return where the zero of given notes lies in a take, in seconds.

    Notes
    -----
    Two shares are added up for each place, 10 ms apart, by correlation: that of the starts that meet an onset, those
    that meet it exactly counting for most, and that of the notes' time at which the take has the same pitch in some
    octave. So a line of even notes is not moved by one of them, and a file that is an octave off finds its place. The
    median distance of the onsets that are met then sets it to less than 10 ms.
    """
    from scipy.signal import correlate

    if not len(track.onset_s):
        return 0.0
    heard, given = _heard(track), _given(notes)
    score = np.sum([correlate(a, b, mode="full", method="fft") for a, b in zip(heard, given, strict=True)], axis=0)
    near_s = float((np.argmax(score) - given.shape[1] + 1) * HOP_S)
    start_s = np.array([note.start_s for note in notes]) + near_s
    starts, onsets = meeting(start_s, track.onset_s)
    return near_s + float(np.median(track.onset_s[onsets] - start_s[starts])) if len(starts) else near_s


def _heard(track: PitchTrack) -> Array:
    """Return how near each moment of a take is to an onset, and in twelve further rows whether it has that pitch."""
    apart_s = np.abs(track.time_s - track.onset_s[_nearest(track.time_s, track.onset_s)])
    rows = [np.maximum(1.0 - apart_s / MEET_S, 0.0)]
    rows += [_class(track.pitch_hz) == number for number in range(12)]
    return np.array(rows, dtype=np.float64)


def _given(notes: tuple[GivenNote, ...]) -> Array:
    """Return where notes start, and in twelve further rows where each pitch lasts; either adds up to 1."""
    spans = [(round(note.start_s / HOP_S), max(round(note.end_s / HOP_S), 1)) for note in notes]
    rows = np.zeros((13, max(stop for _, stop in spans) + 1))
    for note, (first, stop) in zip(notes, spans, strict=True):
        rows[0, first] += 1.0 / len(notes)
        rows[1 + int(_class(np.array([note.pitch_hz]))[0]), first:stop] = 1.0
    rows[1:] /= max(np.sum(rows[1:]), 1.0)
    return rows


def _class(pitch_hz: Array) -> Array:
    """Return pitches in semitones above an A, 0 to 11; NaN where there is none."""
    return np.asarray(np.round(12 * np.log2(pitch_hz / CONCERT_A_HZ)) % 12)
