"""Switching between two values at exact instants, without aliasing.

A square wave whose harmonics stop short of the Nyquist frequency is built from band-limited steps: the
integral of a windowed sinc, read from a table at each edge's own fraction of a sample. A signal that is
itself band-limited, sampled at twice the rate it needs, times that wave is the ideal product up to the lower
rate's band edge: what the missing harmonics would have brought lies above it, and so does what folds.

Source of the window: J. F. Kaiser, "Nonrecursive digital filter design using the I0-sinh window function",
1974 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from sublatch.arrays import Signal, Whole

TAPS = 64
"""Length of a step's transition in samples."""
CUTOFF = 0.48
"""Half-gain frequency of the step's harmonics, in parts of the sample rate."""
WINDOW_BETA = 12.0
"""Kaiser window: about 118 dB of stopband."""
DENSITY = 256
"""Table points a sample; read with a cubic, the error is below −160 dB."""
MARGIN = 4
"""Table points ahead of a step and behind it."""
TOGETHER = 1 << 15
"""Samples that edges change at once: what is computed on the way then stays near the processor."""


def square_wave(edges: Signal, count: int, *, start: float = 1.0, transition: float = 0.0) -> Signal:
    """Return a band-limited wave of ±1 that changes sign at every edge.

    Parameters
    ----------
    edges
        Times of the sign changes in samples (m,), rising; any outside the wave count for its start.
    count
        Samples to return.
    start
        Value before the first edge, +1 or −1.
    transition
        Time in samples that a change takes, as a straight ramp from its edge on.

    Returns
    -------
    NDArray
        Samples (count,).
    """
    wave = _ideal(np.floor(edges).astype(np.int64), count, start)
    for places, changes in softened(edges, count, start=start, transition=transition):
        np.add.at(wave, places, changes)
    return wave


def softened(
    edges: Signal, count: int, *, start: float = 1.0, transition: float = 0.0
) -> Iterator[tuple[Whole, Signal]]:
    """Yield what a band-limited wave has beside one that jumps at the first sample after each edge.

    Parameters
    ----------
    edges, count, start, transition
        As for `square_wave`.

    Yields
    ------
    tuple
        Samples (k,), some of them more than once, and what is added there (k,).
    """
    whole = np.floor(edges).astype(np.int64)
    after = start * (-1.0) ** np.arange(1, len(edges) + 1)
    offsets, rows = _step_rows(transition)
    near = np.flatnonzero((whole + offsets[-1] >= 0) & (whole + offsets[0] < count))
    for part in np.array_split(near, max(1, len(near) * len(offsets) // TOGETHER)):
        phase = (1.0 - (edges[part] - whole[part])) * DENSITY
        row = phase.astype(np.int64)
        between = (phase - row)[:, np.newaxis]
        value, linear, square, cubic = (table[row] for table in rows)
        changes = value + between * (linear + between * (square + between * cubic))
        changes *= 2.0 * after[part, np.newaxis]
        places = whole[part, np.newaxis] + offsets
        inside = (places >= 0) & (places < count)
        yield places[inside], changes[inside]


def _ideal(whole: Whole, count: int, start: float) -> Signal:
    """Return the ±1 wave that changes at the first sample after each edge."""
    bounds = np.clip(np.concatenate(([0], whole + 1, [count])), 0, count)
    values = start * (-1.0) ** np.arange(len(whole) + 1)
    return np.repeat(values, np.diff(bounds))


@lru_cache(maxsize=4)
def _step_rows(transition: float) -> tuple[Whole, tuple[Signal, ...]]:
    """Return the samples about an edge that it changes (k,), and what it adds to a step there, phase by phase.

    Between two phases lies the cubic through the four nearest, by its coefficients (`DENSITY` + 1, k) from the constant
    on. Phase 0 is an edge at the end of its sample.
    """
    table = _step_table(transition)
    offsets = np.arange(-TAPS // 2 + 1, TAPS // 2 + 1 + int(np.ceil(transition)))
    phases = np.arange(DENSITY + 1)[:, np.newaxis]
    base = np.clip((offsets + TAPS // 2 - 1) * DENSITY + MARGIN + phases, 1, len(table) - 3)
    a, b, c, d = (table[base + shift] for shift in (-1, 0, 1, 2))
    linear = -a / 3 - b / 2 + c - d / 6
    return offsets, (b - (offsets > 0), linear, (a + c) / 2 - b, (d - a) / 6 + (b - c) / 2)


def _step_table(transition: float) -> Signal:
    """Return the step from 0 to 1 at `DENSITY` points a sample, with a margin of points at each end."""
    half = TAPS // 2
    time = np.arange(-half * DENSITY, half * DENSITY + 1) / DENSITY
    window = np.i0(WINDOW_BETA * np.sqrt(1.0 - (time / half) ** 2)) / np.i0(WINDOW_BETA)
    step = _running_integral(2.0 * CUTOFF * np.sinc(2.0 * CUTOFF * time) * window)
    step /= step[-1]
    if transition > 0.0:
        step = _averaged(step, transition)
    return np.pad(step, MARGIN, constant_values=(0.0, 1.0))


def _running_integral(values: Signal) -> Signal:
    """Return the integral from the first point up to each, by the cubic through the four nearest points."""
    padded = np.pad(values, 1, mode="edge")
    pieces = (13.0 * (padded[1:-2] + padded[2:-1]) - padded[:-3] - padded[3:]) / 24.0
    return np.concatenate(([0.0], np.cumsum(pieces))) / DENSITY


def _averaged(step: Signal, transition: float) -> Signal:
    """Return the mean of `step` over the last `transition` samples at each point."""
    long = np.concatenate((step, np.ones(int(np.ceil(transition * DENSITY)) + 1)))
    integral = _running_integral(long)
    points = np.arange(len(long), dtype=float)
    earlier = np.interp(points - transition * DENSITY, points, integral, left=0.0)
    return (integral - earlier) / transition
