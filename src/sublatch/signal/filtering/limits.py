"""The output buffer between its supply limits.

Clipping is switching: where the signal is past a limit, the output is that limit. The instants of the change
are found to a fraction of a sample and the switching is band-limited (see `switching`), so clipping does not alias.
"""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Flags, Signal
from sublatch.sampling.blocks import blocks
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
    held, share = np.empty(len(signal)), 0.0
    for place, stretch, within in blocks(len(signal)):
        made, times = _held(signal[stretch], limits)
        held[place] = made[within]
        share += sum(_time_within(bounds, within) for bounds in times) / len(signal)
    return (held, share) if share > 0.0 else (signal, 0.0)


def _held(signal: Signal, limits: tuple[float, float]) -> tuple[Signal, list[Signal]]:
    """Return a signal held between its limits, and when it comes to each and goes, in samples (2 m,)."""
    doubled_signal = doubled(signal)
    held = np.clip(doubled_signal, *limits)
    pasts = (doubled_signal < limits[0], doubled_signal > limits[1])
    times = [_soften(held, doubled_signal, limit, past) for limit, past in zip(limits, pasts, strict=True)]
    return halved(held), times


def _soften(held: Signal, signal: Signal, limit: float, past: Flags) -> Signal:
    """Band-limit where a signal comes to a limit that it is held at, and goes; return when, at half the rate."""
    before = np.flatnonzero(past[1:] != past[:-1])
    level = np.full(len(before), limit)
    edges = refine(signal, before, level, level)
    for places, changes in softened(edges, len(signal), start=1.0 if past[0] else -1.0):
        np.add.at(held, places, 0.5 * changes * (limit - signal[places]))
    return np.concatenate(([0.0] if past[0] else [], edges, [len(signal) - 1.0] if past[-1] else [])) / 2.0


def _time_within(bounds: Signal, place: slice) -> float:
    """Return for how many samples of a place a signal is at a limit that it comes to and goes from at these times."""
    inside = np.clip(bounds, place.start, place.stop)
    return float(np.sum(inside[1::2] - inside[::2]))
