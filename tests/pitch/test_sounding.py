"""How much of what sounds is in no counted note, from levels and notes that are given."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.pitch.notes import Note
from sublatch.pitch.reference.track import PitchTrack
from sublatch.pitch.sounding import uncounted_share


def track(level_db):
    """Return a take with a level every 10 ms."""
    level = np.asarray(level_db, dtype=float)
    none = np.zeros(len(level))
    return PitchTrack(0.01 * np.arange(len(level)), none, level, none, np.zeros(0), none)


def note(start_s, end_s):
    return Note(start_s, end_s, 55.0, "A1", True, True, 55.0, 55.0)


def levels(*stretches):
    """Return a level in decibels for as many moments as each stretch says."""
    return np.concatenate([np.full(count, level_db) for level_db, count in stretches])


def test_half_of_what_sounds_is_a_note():
    """1 s of a note, 1 s of rest, 1 s of something else; the note reaches 20 ms, two moments, into the rest."""
    take = track(levels((-10.0, 100), (-95.0, 100), (-20.0, 100)))
    assert uncounted_share(take, [note(0.0, 1.0)]) == pytest.approx(0.5)
    assert uncounted_share(take, [note(0.0, 1.0), note(2.0, 3.0)]) == 0.0
    assert uncounted_share(take, []) == 1.0


def test_forty_decibels_under_the_loudest_it_no_longer_sounds():
    for level_db, share in ((-49.0, 0.5), (-51.0, 0.0)):
        assert uncounted_share(track(levels((-10.0, 100), (level_db, 100))), [note(0.0, 0.99)]) == pytest.approx(
            share, abs=0.01
        )


def test_what_the_level_smears_over_a_note_s_ends_is_the_note_s():
    """A note from 0.5 s to 1.0 s, whose level stands from 0.48 s to 1.02 s since it takes in 40 ms."""
    take = track(levels((-95.0, 49), (-10.0, 53), (-95.0, 100)))
    assert uncounted_share(take, [note(0.5, 1.0)]) == 0.0
    assert uncounted_share(take, [note(0.55, 1.0)]) == pytest.approx(5 / 53)


@pytest.mark.parametrize("level_db", [np.zeros(0), np.full(50, -200.0)])
def test_where_nothing_sounds_there_is_no_share(level_db):
    assert uncounted_share(track(level_db), []) is None
