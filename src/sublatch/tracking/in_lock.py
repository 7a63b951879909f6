"""At which instants of a note a drive is in lock, told from the times at which it changes, in cycles of the note.

A pitch needs a stretch of time: here four cycles, two periods of the octave. An instant is in lock where it is within
some such stretch of the note over which the drive's pitch is within 50 cents of half the note's. So what is odd costs
its own time, and the right cycles next to it count to their ends.
"""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Flags, Signal

WINDOW_CYCLES = 4.0
TOLERANCE_CENTS = 50.0
GRID_PER_CYCLE = 8
MOST_OFF = 0.5
"""How many changes the first half of a window may have too many or too few; its second half makes up for them."""


def in_lock(changes: Signal, places: Signal, *, length: float) -> Flags:
    """Return at which places of a note a drive is in lock.

    Parameters
    ----------
    changes
        Where the drive changes, in cycles (m,).
    places
        Where to tell, in cycles (n,).
    length
        The note's length in cycles; a shorter one than the window is told as a whole.
    """
    half = min(WINDOW_CYCLES, length) / 2
    middles = np.append(np.arange(half, length - half, 1.0 / GRID_PER_CYCLE), length - half)
    right = middles[_right(changes, middles, half, length)]
    around = np.concatenate(([-np.inf], right, [np.inf]))
    after = np.clip(np.searchsorted(around, places), 1, len(around) - 1)
    return np.asarray(np.minimum(places - around[after - 1], around[after] - places) <= half + 1e-9, dtype=np.bool_)


def _right(changes: Signal, middles: Signal, half: float, length: float) -> Flags:
    """Return which windows the drive is right in: as a whole, and no change too few made up for by one too many."""
    near = np.abs(cents_of(rates(changes, middles, length=length))) < TOLERANCE_CENTS
    first = _count(changes, middles) - _count(changes, middles - half)
    return np.asarray(near & (np.abs(first - half) < MOST_OFF), dtype=np.bool_)


def rates(changes: Signal, grid: Signal, *, length: float) -> Signal:
    """Return the drive's changes a cycle, over the window around each place.

    Parameters
    ----------
    changes
        Where the drive changes, in cycles (m,).
    grid
        Where to tell, in cycles (n,).
    length
        The note's length in cycles; the window stays inside the note.
    """
    half = min(WINDOW_CYCLES, length) / 2
    middle = np.clip(grid, half, length - half)
    return (_count(changes, middle + half) - _count(changes, middle - half)) / (2 * half)


def cents_of(rate: Signal) -> Signal:
    """Return how far a rate is from one change a cycle, in cents; far below for no change at all."""
    return np.asarray(1200.0 * np.log2(np.maximum(rate, 1e-6)), dtype=np.float64)


def _count(changes: Signal, place: Signal) -> Signal:
    """Return the number of changes up to each place, straight between one and the next.

    A cycle before the first and after the last it goes on as if there were one more; beyond that it stands still.
    """
    if len(changes) < 2:
        return np.zeros(len(place))
    points = np.concatenate(([changes[0] - 1.0], changes, [changes[-1] + 1.0]))
    return np.asarray(np.interp(place, points, np.arange(-1.0, len(changes) + 1.0)), dtype=np.float64)
