"""Notes gathered by string."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sublatch.pitch.notes import Note
from sublatch.pitch.reference.track import PitchTrack
from sublatch.tracking.lock import Dropout, Lock
from sublatch.tracking.lock_sums import LockSums
from sublatch.tracking.margins import NoteMargin
from sublatch.tracking.phase import Switching
from sublatch.tracking.strings import by_string
from sublatch.tracking.track import TrackedNote, Tracking

NOWHERE = Switching()


def played(
    start_s: float, pitch_hz: float, *, open_string: bool = False, locked: float = 1.0, kinds=(), first_ms: float = 0.0
) -> TrackedNote:
    """Return a note of one second, a stretch of it lost for each kind."""
    note = Note(start_s, start_s + 1.0, pitch_hz, "", open_string, True, pitch_hz, pitch_hz)
    lost = tuple(Dropout(start_s, start_s + 0.1, kind) for kind in kinds)
    return TrackedNote(note, Lock(locked, None, None, lost, first_ms, 0.5 * locked, 0.0), NOWHERE)


def tracked(*notes: TrackedNote) -> Tracking:
    """Return a take of these notes."""
    return Tracking("t", "c", notes, (), np.array([]), PitchTrack(*[np.array([])] * 6))


def test_notes_are_gathered_by_open_string_and_by_what_lies_between() -> None:
    """Pitches by equal temperament: E1 41.2, F1 43.7, A1 55.0, C2 65.4, G2 98.0, C3 130.8, D1 36.7 Hz."""
    take = tracked(
        played(0, 98.0, open_string=True),
        played(1, 43.65, locked=0.5, kinds=("skip", "stall", "skip"), first_ms=80.0),
        played(2, 41.2, open_string=True),
        played(3, 51.91, locked=0.9, kinds=("stall",), first_ms=20.0),
        played(4, 65.41),
        played(5, 130.8),
        played(6, 36.71),
        played(7, 55.3, open_string=True),
    )
    rows = by_string(take, tuning="bass-4")
    assert [(row.name, len(row.notes)) for row in rows] == [
        ("below E1", 1),
        ("E1 open", 1),
        ("E1 to A1", 2),
        ("A1 open", 1),
        ("A1 to D2", 1),
        ("G2 open", 1),
        ("above G2", 1),
    ]
    fretted = rows[2]
    assert fretted.locked_share == pytest.approx(0.7)
    assert fretted.least_locked_share == 0.5
    assert fretted.sums == LockSums(20.0, 80.0, pytest.approx(0.35), 0.0)
    assert fretted.json_fields()["p90_first_lock_ms"] == 80.0
    assert fretted.dropouts == {"skip": 2, "stall": 2}
    assert sum(len(row.notes) for row in rows) == len(take.notes)


def test_a_tuning_that_does_not_rise_is_gathered_by_pitch() -> None:
    rows = by_string(tracked(played(0, 300.0), played(1, 392.0, open_string=True)), tuning="G4 C4 E4 A4")
    assert [row.name for row in rows] == ["C4 to E4", "G4 open"]


def test_no_notes_are_no_rows() -> None:
    assert by_string(tracked(), tuning="bass-4") == []


def test_a_row_has_the_least_margin_of_its_notes() -> None:
    notes = [replace(played(k, 41.2, open_string=True), margin=NoteMargin(mv)) for k, mv in enumerate((7.0, None, 3.5))]
    take = tracked(*notes, played(4, 98.0, open_string=True))
    lowest, highest = by_string(take, tuning="bass-4")
    assert lowest.least_margin_mv == lowest.json_fields()["least_margin_mv"] == take.least_margin_mv == 3.5
    assert highest.least_margin_mv is None
