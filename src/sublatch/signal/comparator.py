"""The comparator: peak stores, thresholds, and the instants at which it changes state."""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Flags, Signal, Whole
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


def fixed_threshold_edges(samples: Signal, *, hysteresis: float) -> Signal:
    """Return the times in samples (m,) at which a comparator with fixed hysteresis changes, in turn set and reset.

    Parameters
    ----------
    samples
        What the comparator sees (n,). It starts reset.
    hysteresis
        It sets above +this and resets below −this.
    """
    changes = state_changes(samples > hysteresis, samples < -hysteresis)
    thresholds = _alternating(len(changes)) * hysteresis
    return refine(samples, _before(changes), thresholds, thresholds)


def latch_edges(samples: Signal, *, fraction: float, hold: float, floor: float) -> Signal:
    """Return the times in samples (m,) at which a peak latch changes, in turn set and reset.

    Parameters
    ----------
    samples
        What the comparator sees (n,). It starts reset, with empty stores.
    fraction
        Share of the positive store above which it sets, and of the negative one below which it resets.
    hold
        Time constant of the stores in samples.
    floor
        Least threshold.
    """
    decay, stores, passed = past_stores(samples, fraction=fraction, hold=hold, floor=floor)
    changes = state_changes(*passed)
    directions, before = _alternating(len(changes)), _before(changes)
    stored = fraction * np.where(changes > 0, np.where(directions > 0.0, stores[0][before], stores[1][before]), 0.0)
    thresholds, later_thresholds = np.maximum(stored, floor), np.maximum(stored * decay, floor)
    return refine(samples, before, directions * thresholds, directions * later_thresholds)


def past_stores(
    samples: Signal, *, fraction: float, hold: float, floor: float
) -> tuple[float, tuple[Signal, Signal], tuple[Flags, Flags]]:
    """Return how both peak stores decay in a sample, what they hold, and where the signal passes its share of them.

    Parameters
    ----------
    samples, fraction, hold, floor
        As for `latch_edges`.

    Returns
    -------
    decay
        exp(−1/hold).
    stores
        The positive and the negative one (n,), of the samples turned round.
    passed
        Where the signal (n,) is beyond the floor and the share of what the store of either side held one sample
        earlier, decayed since.
    """
    decay = float(np.exp(-1.0 / hold))
    positive, negative = peak_store(samples, hold=hold), peak_store(-samples, hold=hold)
    above = _past(samples, positive, fraction * decay, floor)
    return decay, (positive, negative), (above, _past(-samples, negative, fraction * decay, floor))


def _past(samples: Signal, store: Signal, share: float, floor: float) -> Flags:
    """Return where samples (n,) pass the threshold that the store of one sample earlier sets."""
    passed = samples > floor
    passed[1:] &= samples[1:] > share * store[:-1]
    return passed


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
