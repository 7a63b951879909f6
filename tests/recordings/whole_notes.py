"""Recorded notes whole: a take of one note, and from where to where it counts."""

from __future__ import annotations

import numpy as np

from recordings.soundfont import RealNote
from sublatch.takes.take import take_from_samples
from sublatch.tracking.tune.fast_lock import TuneNote

PEAK_VOLTS = 0.5
BEGUN = 0.05
"""Share of its peak from which a note counts."""
DOWN = 10 ** (-40 / 20)
"""Share of its peak below which it no longer does."""
WINDOW_S = 0.05
"""For how long it has to stay below, in seconds."""
FIRST_POSITION = 5
"""Frets below this one are within reach of the open strings."""


def as_take(note: RealNote):
    """Return a recording as a take with a peak of half a volt."""
    return take_from_samples(note.samples / np.abs(note.samples).max() * PEAK_VOLTS, note.sample_rate, name=note.name)


def whole_note(note: RealNote, *, seconds: float = np.inf) -> TuneNote:
    """Return a recording as a note, from its pluck until it is 40 dB down or for some seconds."""
    take, rate = as_take(note), note.sample_rate
    start = np.flatnonzero(np.abs(take.samples) > BEGUN * PEAK_VOLTS)[0]
    window = round(WINDOW_S * rate)
    count = len(take.samples) // window
    peaks = np.abs(take.samples[: count * window]).reshape(count, window).max(axis=1)
    end = (np.flatnonzero(peaks > DOWN * PEAK_VOLTS)[-1] + 1) * window
    end_s = min(end / rate, start / rate + seconds)
    return TuneNote(take, start / rate, end_s, note.pitch_hz, open_string=note.fret == 0)


def is_hard(note: RealNote) -> bool:
    """Return whether a note is one that is hard to track: an open string, or on the D or G string in first position."""
    return note.fret == 0 or (note.string in "DG" and note.fret < FIRST_POSITION)


def hand_of(note: RealNote) -> str:
    """Return how a note was played, slapped and popped ones told apart: Finger, Picked, Slap or Pop."""
    return note.name.split()[0]
