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
    block = max(1, int(LARGEST_EXPONENT * hold))
    rise = np.exp(np.arange(min(block, len(samples))) / hold)
    fall = 1.0 / rise
    out = np.empty(len(samples))
    held = 0.0
    for start in range(0, len(samples), block):
        part = out[start : start + block]
        np.maximum(samples[start : start + block], 0.0, out=part)
        part[0] = max(part[0], held)
        part *= rise[: len(part)]
        np.maximum.accumulate(part, out=part)
        part *= fall[: len(part)]
        held = part[-1] * np.exp(-1.0 / hold)
    return out


def fixed_threshold_edges(samples: Signal, *, hysteresis: float) -> Signal:
    """Return the times in samples (m,) at which a comparator with fixed hysteresis changes, in turn set and reset.

    Parameters
    ----------
    samples
        What the comparator sees (n,). It starts reset.
    hysteresis
        It sets above +this and resets below −this.
    """
    where = _changes(samples > hysteresis, samples < -hysteresis)
    level = _alternating(len(where)) * hysteresis
    return refine(samples, _before(where), level, level)


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
    decay = np.exp(-1.0 / hold)
    stores = [peak_store(side, hold=hold) for side in (samples, -samples)]
    past = [
        _past(side, store, fraction * decay, floor) for side, store in zip((samples, -samples), stores, strict=True)
    ]
    where = _changes(*past)
    sides, before = _alternating(len(where)), _before(where)
    stored = fraction * np.where(where > 0, np.where(sides > 0.0, stores[0][before], stores[1][before]), 0.0)
    there, later = np.maximum(stored, floor), np.maximum(stored * decay, floor)
    return refine(samples, before, sides * there, sides * later)


def _past(samples: Signal, store: Signal, share: float, floor: float) -> Flags:
    """Return where samples (n,) pass the threshold that the store of one sample earlier sets."""
    past = samples > floor
    past[1:] &= samples[1:] > share * store[:-1]
    return past


def _changes(above: Flags, below: Flags) -> Whole:
    """Return the samples (m,) at which a latch changes that `above` sets and `below` resets; it starts reset."""
    asked = np.flatnonzero(above | below)
    wants_set = above[asked]
    changes: Whole = asked[wants_set != np.concatenate(([False], wants_set[:-1]))]
    return changes


def _before(where: Whole) -> Whole:
    """Return the last sample ahead of each change."""
    return np.maximum(where - 1, 0)


def _alternating(count: int) -> Signal:
    """Return +1, −1, +1, … (count,): which way each change goes."""
    return np.where(np.arange(count) % 2 == 0, 1.0, -1.0)
