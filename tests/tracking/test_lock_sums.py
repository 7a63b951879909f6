"""How soon and how evenly a drive locks, over notes whose figures are given."""

from __future__ import annotations

import pytest

from sublatch.tracking.lock import Lock
from sublatch.tracking.lock_sums import LockSums, lock_sums


def note(first_ms, *, seconds=1.0, locked=1.0, early=1.0, uneven=0.0):
    """Return a note's length and its lock."""
    return seconds, Lock(locked, None, None, (), first_ms, early, uneven)


@pytest.mark.parametrize(
    ("first_ms", "half", "nine_in_ten"),
    [
        ([30.0], 30.0, 30.0),
        ([float(ms) for ms in range(10, 110, 10)], 50.0, 90.0),
        ([90.0, 10.0, 50.0], 50.0, 90.0),
        ([*range(10, 100, 10), None], 50.0, 90.0),
        ([*range(10, 90, 10), None, None], 50.0, None),
        ([20.0, None, None], None, None),
        ([None], None, None),
    ],
)
def test_half_and_nine_in_ten_lock_within(first_ms, half, nine_in_ten):
    """Counted by hand; those that never lock come last."""
    sums = lock_sums([note(ms) for ms in first_ms])
    assert (sums.median_first_lock_ms, sums.p90_first_lock_ms) == (half, nine_in_ten)


def test_every_second_of_a_beginning_counts_alike():
    """150 ms of a long note, and the whole 50 ms of a short one: (0.15 × 0.4 + 0.05 × 0.8) / 0.2 = 0.5."""
    assert lock_sums([note(0, seconds=3.0, early=0.4), note(0, seconds=0.05, early=0.8)]).early_locked_share == (
        pytest.approx(0.5)
    )


def test_every_second_in_lock_counts_alike():
    """2 s of which half is in lock, and 3 s in lock: (1 × 0.8 + 3 × 0) / 4 = 0.2; one that never locks has none."""
    notes = [note(0, seconds=2.0, locked=0.5, uneven=0.8), note(0, seconds=3.0), note(None, locked=0.0, uneven=None)]
    assert lock_sums(notes).uneven_share == pytest.approx(0.2)


def test_nothing_is_told_of_no_notes():
    assert lock_sums([]) == LockSums(None, None, None, None)
