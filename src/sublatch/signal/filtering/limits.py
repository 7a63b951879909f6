"""The output buffer between its supply limits.

Clipping is switching: where the signal is past a limit, the output is that limit. The instants of the change
are found to a fraction of a sample and the switching is band-limited (see `switching`), so clipping does not alias.
"""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Signal
from sublatch.sampling.crossings import refine
from sublatch.sampling.rates import doubled, halved
from sublatch.sampling.switching import indicator

NEAR = 0.37
"""Share of a limit below which no sample lets the signal between the samples reach it.

Up to 0.45 of the rate: a sinc under a Kaiser window (48 samples, β = 8) then reads half way between samples, and the
sizes of its values add up to 2.68.
"""


def limited(signal: Signal, *, limits: tuple[float, float]) -> tuple[Signal, float]:
    """Return a signal held between two limits, and the share of time it spends at them.

    Parameters
    ----------
    signal
        Volts (n,).
    limits
        Lowest and highest output in volts.

    Returns
    -------
    tuple
        Volts (n,), and a share from 0 to 1.
    """
    low, high = limits
    if len(signal) == 0 or (signal.min() > NEAR * low and signal.max() < NEAR * high):
        return signal, 0.0
    doubled_signal = doubled(signal)
    above, above_share = _past(doubled_signal, high)
    below, below_share = _past(-doubled_signal, -low)
    if above_share == below_share == 0.0:
        return signal, 0.0
    doubled_signal += above * (high - doubled_signal) + below * (low - doubled_signal)
    return halved(doubled_signal), above_share + below_share


def _past(signal: Signal, limit: float) -> tuple[Signal | float, float]:
    """Return a band-limited 1 where `signal` is above `limit`, and the share of time that it is."""
    is_over = signal > limit
    before = np.flatnonzero(is_over[1:] != is_over[:-1])
    if len(before) == 0 and not is_over[0]:
        return 0.0, 0.0
    level = np.full(len(before), limit)
    edges = refine(signal, before, level, level)
    bounds = np.concatenate(([0.0] if is_over[0] else [], edges, [len(signal) - 1.0] if is_over[-1] else []))
    share = float(np.sum(bounds[1::2] - bounds[::2]) / len(signal))
    return indicator(edges, len(signal), inside_first=bool(is_over[0])), share
