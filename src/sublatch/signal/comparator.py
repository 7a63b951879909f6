"""The comparator: peak stores, thresholds, and the instants at which it changes state."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sublatch.arrays import Flags, Signal, Whole
from sublatch.circuit.detectors.thresholds import Side, Thresholds
from sublatch.sampling.crossings import refine

LARGEST_EXPONENT = 600.0
"""A running maximum is taken under a rising exponential, which must not overflow."""


def peak_store(samples: Signal, *, hold: float) -> Signal:
    """Return what a peak store holds: charged through a diode, emptied through a resistor.

    Parameters
    ----------
    samples
        The signal (n,). The store starts empty.
    hold
        Time constant in samples, above 0.

    Returns
    -------
    NDArray
        p(n) = max(x(n), p(n − 1) · exp(−1/hold)), never below 0.

    Notes
    -----
    p(n) · exp(n/hold) is the running maximum of x(n) · exp(n/hold), so nothing has to be looped over but blocks short
    enough for the exponential.
    """
    block_length = max(1, int(LARGEST_EXPONENT * hold))
    rise = np.exp(np.arange(min(block_length, len(samples))) / hold)
    fall = 1.0 / rise
    held = np.empty(len(samples))
    last_held = 0.0
    for start in range(0, len(samples), block_length):
        block_held = held[start : start + block_length]
        np.maximum(samples[start : start + block_length], 0.0, out=block_held)
        block_held[0] = max(block_held[0], last_held)
        block_held *= rise[: len(block_held)]
        np.maximum.accumulate(block_held, out=block_held)
        block_held *= fall[: len(block_held)]
        last_held = block_held[-1] * np.exp(-1.0 / hold)
    return held


def comparator_edges(samples: Signal, *, sample_rate: float, thresholds: Thresholds) -> Signal:
    """Return the times in samples (m,) at which a comparator changes, in turn set and reset.

    Parameters
    ----------
    samples
        What the comparator sees, in volts (n,). It starts reset, with its stores at rest.
    sample_rate
        Samples per second.
    thresholds
        When it sets and resets.
    """
    held = stores(samples, sample_rate=sample_rate, thresholds=thresholds)
    changes = state_changes(*(store.passed for store in held))
    directions, before = _alternating(len(changes)), _before(changes)
    there, later = (
        np.where(directions > 0.0, *(store.thresholds(before, changes, later=later) for store in held))
        for later in (False, True)
    )
    return refine(samples, before, directions * there, directions * later)


@dataclass(frozen=True, eq=False)
class Store:
    """One side of a comparator: what it hears, and what its peak store holds.

    Attributes
    ----------
    samples
        The signal (n,), turned round for the negative side.
    side
        Its threshold's law.
    decay
        What is left of the store's distance from its rest after a sample.
    above_rest
        How far above its rest the store is (n,); None without a store.
    """

    samples: Signal
    side: Side
    decay: float
    above_rest: Signal | None

    @property
    def passed(self) -> Flags:
        """Where the signal (n,) is beyond the threshold that the store of one sample earlier brings, decayed since."""
        side = self.side
        if self.above_rest is None:
            return self.samples > max(side.added_v, side.least_v)
        fixed_v = side.share * side.rest_v + side.added_v
        passed = self.samples > max(fixed_v, side.least_v)
        heard = self.samples[1:] if fixed_v == 0.0 else self.samples[1:] - fixed_v
        passed[1:] &= heard > side.share * self.decay * self.above_rest[:-1]
        return passed

    @property
    def threshold_v(self) -> Signal:
        """The threshold at each sample (n,), by the store of one sample earlier, decayed since."""
        side = self.side
        if self.above_rest is None:
            return np.broadcast_to(max(side.added_v, side.least_v), self.samples.shape)
        held = side.share * self.decay * np.concatenate(([0.0], self.above_rest[:-1]))
        return np.maximum(self._of(held), side.least_v)

    def thresholds(self, before: Whole, changes: Whole, *, later: bool) -> Signal:
        """Return the threshold (m,) at the sample before each change or, later, at the change's own."""
        held = np.zeros(len(changes))
        if self.above_rest is not None:
            held = self.side.share * np.where(changes > 0, self.above_rest[before], 0.0)
        return np.maximum(self._of(held * self.decay if later else held), self.side.least_v)

    def _of(self, held: Signal) -> Signal:
        """Return the threshold that a share of what is above the rest brings."""
        fixed_v = self.side.share * self.side.rest_v + self.side.added_v
        return held if fixed_v == 0.0 else held + fixed_v


def stores(samples: Signal, *, sample_rate: float, thresholds: Thresholds) -> tuple[Store, Store]:
    """Return the positive and the negative side of a comparator on a signal.

    Parameters
    ----------
    samples, sample_rate, thresholds
        As for `comparator_edges`.
    """
    hold = thresholds.hold_s * sample_rate
    decay = float(np.exp(-1.0 / hold)) if hold > 0.0 else 0.0
    made = []
    for heard, side in zip((samples, -samples), thresholds.sides, strict=True):
        shift_v = side.charge_shift_v - side.rest_v
        shifted = heard if shift_v == 0.0 else heard + shift_v
        made.append(Store(heard, side, decay, peak_store(shifted, hold=hold) if side.share > 0.0 else None))
    return made[0], made[1]


def state_changes(above: Flags, below: Flags) -> Whole:
    """Return the samples (m,) at which a latch changes that `above` sets and `below` resets; it starts reset."""
    past_either = np.flatnonzero(above | below)
    is_above = above[past_either]
    changes: Whole = past_either[is_above != np.concatenate(([False], is_above[:-1]))]
    return changes


def _before(changes: Whole) -> Whole:
    """Return the last sample ahead of each change."""
    return np.maximum(changes - 1, 0)


def _alternating(count: int) -> Signal:
    """Return +1, −1, +1, … (count,): which way each change goes."""
    return np.where(np.arange(count) % 2 == 0, 1.0, -1.0)
