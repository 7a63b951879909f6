"""Where a sampled signal crosses a threshold, to a small fraction of a sample."""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Signal, Whole

NODES = np.arange(-2, 4)
"""The six samples around a crossing between samples 0 and 1."""
COEFFICIENTS = np.linalg.inv(np.vander(NODES.astype(float), increasing=True))
"""Turns six samples into the quintic through them."""
NEWTON_STEPS = 6


def refine(samples: Signal, before: Whole, threshold: Signal, threshold_after: Signal) -> Signal:
    """Return the times in samples at which a signal crosses its threshold.

    Parameters
    ----------
    samples
        The signal (n,).
    before
        Index (m,) of the last sample ahead of each crossing.
    threshold, threshold_after
        The threshold (m,) at that sample and at the next; straight in between.

    Returns
    -------
    NDArray
        Times (m,) in samples, each from `before` to `before + 1`.
    """
    last = len(samples) - 1
    around = samples[np.clip(before[:, np.newaxis] + NODES, 0, last)]
    curve = np.einsum("mk,pk->mp", around, COEFFICIENTS)  # not BLAS: its threads cost more than so small a product
    curve[:, 0] -= threshold
    curve[:, 1] -= threshold_after - threshold
    low = around[:, 2] - threshold
    high = around[:, 3] - threshold_after
    span = low - high
    u = np.clip(np.divide(low, span, out=np.full_like(low, 0.5), where=span != 0.0), 0.0, 1.0)
    for _ in range(NEWTON_STEPS):
        value, slope = _horner(curve, u)
        move = np.divide(value, slope, out=np.zeros_like(value), where=slope * -span > 0.0)
        u = np.clip(u - move, 0.0, 1.0)
    times: Signal = before + u
    return times


def _horner(curve: Signal, u: Signal) -> tuple[Signal, Signal]:
    """Return the value and the slope of each polynomial."""
    value, slope = np.zeros_like(u), np.zeros_like(u)
    for power in range(curve.shape[1] - 1, -1, -1):
        slope = slope * u + value
        value = value * u + curve[:, power]
    return value, slope
