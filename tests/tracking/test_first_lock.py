"""When a note first locks, how much of its beginning is in lock, and how much of it alternates: planted, closed forms.

Changes of the drive are counted in cycles of the note from its start, so that every expected figure is a plain sum.
"""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.tracking.lock import lock

PITCHES = [30.8677, 55.0, 195.9977]


def held(cycles, *, pitch=55.0, start_s=3.0, length=100.0):
    """Return the lock on a note of so many cycles, from changes in cycles since its start."""
    drive = start_s + np.asarray(cycles, dtype=float) / pitch
    return lock(drive, start_s=start_s, end_s=start_s + length / pitch, pitch_hz=pitch)


def even(first, last=100.0):
    """Changes once a cycle."""
    return np.arange(first, last)


def in_turn(first, count, short=0.81, long=1.16):
    """Changes whose periods are short and long in turn."""
    periods = np.where(np.arange(count) % 2 == 0, short, long)
    return first + np.concatenate(([0.0], np.cumsum(periods)))


@pytest.mark.parametrize("pitch", PITCHES)
@pytest.mark.parametrize("late", [0.0, 0.3, 0.99, 2.4, 7.7, 40.1])
def test_a_late_drive_locks_at_its_first_change(pitch, late):
    """In milliseconds from the note's start, not of the take; no window before it makes it later or earlier."""
    assert held(even(late), pitch=pitch).first_lock_ms == pytest.approx(1000.0 * late / pitch)


@pytest.mark.parametrize("pitch", PITCHES)
@pytest.mark.parametrize("before", [[0.2, 0.7, 1.2, 1.7], [0.4, 2.9], [0.4, 1.2, 2.95], [1.0, 1.3, 2.2, 2.9]])
def test_what_goes_before_right_periods_counts_for_nothing(pitch, before):
    """Skips, a stall and strays, of which the last change before is too near or too far for a cycle."""
    assert held([*before, *even(3.5)], pitch=pitch).first_lock_ms == pytest.approx(1000.0 * 3.5 / pitch)


def test_skip_and_stall_that_make_up_for_each_other_are_not_right():
    """Two halves and two of one and a half are four cycles together, and none of them is one."""
    assert held([0.5, 1.0, 1.5, 3.0, *even(4.5)]).first_lock_ms == pytest.approx(1000.0 * 4.5 / 55.0)


@pytest.mark.parametrize(("right", "locks"), [(3, False), (4, True)])
def test_four_right_periods_are_needed(right, locks):
    """A row of right periods, then changes twice a cycle to the end."""
    row = 6.3 + np.arange(right + 1)
    after = np.arange(row[-1] + 0.5, 100.0, 0.5)
    assert held([*row, *after]).first_lock_ms == (pytest.approx(1000.0 * 6.3 / 55.0) if locks else None)


@pytest.mark.parametrize(("cents", "locks"), [(45, True), (-45, True), (55, False), (-55, False)])
def test_right_is_within_fifty_cents(cents, locks):
    found = held(np.arange(0.3, 100.0, 2 ** (-cents / 1200)))
    assert found.first_lock_ms == (pytest.approx(1000.0 * 0.3 / 55.0) if locks else None)


@pytest.mark.parametrize(
    ("length", "changes", "locks"), [(4.9, 4, True), (4.9, 3, False), (2.5, 2, True), (5.1, 5, True), (5.1, 4, False)]
)
def test_a_short_note_needs_as_many_periods_as_it_has_room_for(length, changes, locks):
    """Of 4.9 cycles three periods, of 2.5 one, of 5.1 four."""
    found = held(0.3 + np.arange(changes), length=length)
    assert found.first_lock_ms == (pytest.approx(1000.0 * 0.3 / 55.0) if locks else None)


def test_no_drive_never_locks():
    found = held([])
    assert (found.first_lock_ms, found.early_locked_share, found.uneven_share) == (None, 0.0, None)


def test_a_slide_locks_at_its_own_cycles():
    """Pitch rising from 40 to 80 Hz in 2 s, 40 t + 10 t² cycles: the drive is right from the seventh cycle on."""
    times = np.linspace(0, 2, 400)
    drive = (-40 + np.sqrt(1600 + 40 * np.arange(7, 120))) / 20
    found = lock(5.0 + drive, start_s=5.0, end_s=7.0, track=(5.0 + times, 40 + 20 * times))
    assert found.first_lock_ms == pytest.approx(1000.0 * drive[0], abs=0.1)
    assert found.uneven_share == 0.0


@pytest.mark.parametrize("pitch", [100.0, 400.0])
@pytest.mark.parametrize("lost_s", [0.03, 0.075, 0.12])
def test_the_beginning_is_150_ms(pitch, lost_s):
    """Nothing at first, then lock: of the beginning what is left of 150 ms, told to two cycles; the rest as well."""
    found = held(even(lost_s * pitch, pitch), pitch=pitch, length=pitch)
    assert found.early_locked_share == pytest.approx(1.0 - lost_s / 0.15, abs=2.0 / (0.15 * pitch))
    assert found.locked_share == pytest.approx(1.0 - lost_s, abs=2.0 / pitch)


def test_what_is_lost_after_the_beginning_is_not_early():
    """Lock for 0.15 s and four cycles of a note of 1 s, then none."""
    found = held(even(0.3, 19.0), pitch=100.0)
    assert found.early_locked_share == 1.0
    assert found.locked_share == pytest.approx(0.19, abs=0.02)


def test_a_shorter_note_is_all_beginning():
    """125 ms, of which 75 ms are in lock, told to two cycles of fifty."""
    found = held([*even(0.0, 30.0), *np.arange(30.0, 50.0, 0.5)], pitch=400.0, length=50.0)
    assert found.early_locked_share == found.locked_share == pytest.approx(0.6, abs=2 / 50)


@pytest.mark.parametrize("pitch", PITCHES)
def test_a_note_that_alternates_throughout_is_all_uneven_and_all_in_lock(pitch):
    """The pattern of 0.81 and 1.16 cycles: a mean of 0.985, so 26 cents sharp, and locked from the first change."""
    found = held(in_turn(0.2, 100), pitch=pitch, length=98.0)
    assert (found.locked_share, found.uneven_share) == (1.0, 1.0)
    assert found.first_lock_ms == pytest.approx(1000.0 * 0.2 / pitch)


@pytest.mark.parametrize("count", [3, 4, 7, 20])
def test_so_many_periods_of_all_are_uneven(count):
    """Even before and after; 0.89 and 1.11 cycles in turn are one on average, so that every period is in lock."""
    row = in_turn(30.0, count, 0.89, 1.11)
    changes = np.concatenate((even(0.0, 30.0), row, np.arange(row[-1] + 1.0, 100.0)))
    found = held(changes)
    assert found.locked_share == 1.0
    assert found.uneven_share == pytest.approx(count / (len(changes) - 1))


def test_one_change_out_of_place_is_not_uneven():
    changes = even(0.0)
    changes[50] += 0.15
    assert held(changes).uneven_share == 0.0
    changes[52] += 0.15
    assert held(changes).uneven_share == pytest.approx(4 / 99)


@pytest.mark.parametrize(("half_step", "share"), [(0.045, 0.0), (0.055, 1.0)])
def test_a_tenth_of_a_cycle_from_one_period_to_the_next_decides(half_step, share):
    assert held(in_turn(0.2, 98, 1.0 - half_step, 1.0 + half_step), length=98.5).uneven_share == share


def test_periods_that_grow_and_then_shrink_are_not_uneven():
    """Every step is large, but two go up and two go down."""
    periods = np.tile([0.8, 0.95, 1.1, 0.95], 25)
    assert held(np.cumsum(periods)).uneven_share == 0.0


def test_only_periods_in_lock_count():
    """Half of the note skips, 0.3 and 0.7 in turn, which is uneven and not in lock; the other half is even."""
    skipped = in_turn(50.0, 100, 0.3, 0.7)
    found = held(np.concatenate((even(0.0, 50.0), skipped)))
    assert found.locked_share == pytest.approx(0.5, abs=0.03)
    assert found.uneven_share == pytest.approx(0.0, abs=0.02)
