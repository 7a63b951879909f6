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
    times = np.empty(len(changes))
    for first, store in enumerate(held):
        times[first::2] = store.passing_times(changes[first::2])
    return times


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
        """Where the signal (n,) is beyond the threshold that the store brings, which the signal may charge by then."""
        side = self.side
        fixed_v = side.share * side.rest_v + side.added_v
        passed = self.samples > max(fixed_v, side.least_v)
        if self.above_rest is None:
            return passed
        heard = self.samples if fixed_v == 0.0 else self.samples - fixed_v
        passed &= heard > side.share * self.above_rest
        return passed

    @property
    def threshold_v(self) -> Signal:
        """The threshold at each sample (n,)."""
        side = self.side
        if self.above_rest is None:
            return np.broadcast_to(side.idle_v, self.samples.shape)
        return np.maximum(self._of(side.share * self.above_rest), side.least_v)

    def passing_times(self, changes: Whole) -> Signal:
        """Return the times in samples (m,) at which the signal passes its threshold, in the sample up to each change.

        What the store has kept is one threshold, what the signal charges it to meanwhile is another; both have to be
        passed.
        """
        before = _before(changes)
        kept = (self.thresholds(before, changes, later=later) for later in (False, True))
        times = _passed_from(self.samples, before, *kept)
        if self.above_rest is None or self.side.share == 1.0:
            return times  # of all that it holds, a step below or above it passes always or never
        charged = self.above_rest[changes] > self.decay * self.above_rest[before]
        own = np.full(np.count_nonzero(charged), self._charging_v)
        times[charged] = np.maximum(times[charged], _passed_from(self.samples, before[charged], own, own))
        return times

    @property
    def _charging_v(self) -> float:
        """What a signal that charges the store has to be above to pass its own threshold."""
        side = self.side
        return (side.share * side.charge_shift_v + side.added_v) / (1.0 - side.share)

    def thresholds(self, before: Whole, changes: Whole, *, later: bool) -> Signal:
        """Return the threshold (m,) that what the store has kept brings: at the sample before each change, or later."""
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


def _passed_from(samples: Signal, before: Whole, there: Signal, later: Signal) -> Signal:
    """Return the times in samples (m,) at which a rising signal is past a threshold, at the earliest those given."""
    return np.where(samples[before] > there, before, refine(samples, before, there, later))
