"""The output buffer between its supply limits.

Clipping is switching: where the signal is past a limit, the output is that limit. The instants of the change
are found to a fraction of a sample and the switching is band-limited (see `switching`), so clipping does not alias.
"""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Flags, Signal
from sublatch.sampling.crossings import refine
from sublatch.sampling.rates import doubled, halved
from sublatch.sampling.switching import softened

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
    held = np.clip(doubled_signal, low, high)
    share = _soften(held, doubled_signal, high, doubled_signal > high)
    share += _soften(held, doubled_signal, low, doubled_signal < low)
    return (halved(held), share) if share > 0.0 else (signal, 0.0)


def _soften(held: Signal, signal: Signal, limit: float, past: Flags) -> float:
    """Band-limit where a signal comes to a limit that it is held at, and goes; return the share of time in between."""
    before = np.flatnonzero(past[1:] != past[:-1])
    if len(before) == 0 and not past[0]:
        return 0.0
    level = np.full(len(before), limit)
    edges = refine(signal, before, level, level)
    for places, changes in softened(edges, len(signal), start=1.0 if past[0] else -1.0):
        np.add.at(held, places, 0.5 * changes * (limit - signal[places]))
    bounds = np.concatenate(([0.0] if past[0] else [], edges, [len(signal) - 1.0] if past[-1] else []))
    return float(np.sum(bounds[1::2] - bounds[::2]) / len(signal))
