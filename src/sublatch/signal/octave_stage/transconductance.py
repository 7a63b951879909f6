"""A transconductance pair ahead of the switching, at a rate high enough for what tanh makes of the note.

tanh makes overtones that reach far beyond any audio rate, so the note is worked on in blocks, each at a multiple of its
rate that its own slope asks for. There it is bent and switched; then all that lies above the note's own band is taken
away, and with it what would fold.

How far the overtones reach follows from where tanh(x(t)/r) stops being smooth. A signal without anything above f whose
slope is at most S r moves, at the complex time t + iτ, at most S r sinh(2πfτ)/(2πf) off its real course (S. N.
Bernstein's inequality, for complex arguments; from memory). tanh has its nearest pole at iπ/2, so the bent note is
smooth up to τ = asinh(π² f/S)/(2πf), and at a frequency F its spectrum is down by a factor e^(−2πFτ).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import asinh, ceil, log, log2, pi, tanh

import numpy as np

from sublatch.arrays import Complex, Signal
from sublatch.signal.filtering.fixed import excerpt

Switching = Callable[[Signal, int, int], Signal]
"""Given a bent stretch of a note, its first sample and its multiple of the rate: the stretch, switched."""

BLOCK, MARGIN = 4096, 192
"""Samples transformed at once, and how many at either end are given up to the taper and to the filter's ringing."""
TAPER = 96
"""Samples over which a block fades in and out, so that its spectrum is the note's."""
WINDOW_BETA = 14.0
"""Kaiser window that fades are integrals of: about 135 dB of stopband."""
FOLDED = log(10 ** (100 / 20))
"""Nepers by which what folds lies below the bent note."""
HIGHEST_RATE = 8e6
"""Samples per second that no block goes beyond: 0.9 V at 20 kHz into 26 mV need 5 million."""
LEAST_MOVE = 1e-3
"""Least difference of two samples that log cosh is divided by; below it the middle serves."""


def bent_and_switched(
    note: Signal, switched: Switching, *, sample_rate: float, linear_range: float, idle_v: float = 0.0
) -> Signal:
    """Return r tanh((x + x0)/r) − r tanh(x0/r) of a note, switched, without what lies above its band.

    Parameters
    ----------
    note
        Volts (n,), sampled at twice the rate that it needs.
    switched
        What is done to each bent stretch at its own, higher rate.
    sample_rate
        Samples per second of `note`.
    linear_range
        r in volts.
    idle_v
        x0 in volts, where the pair's input rests.

    Returns
    -------
    NDArray
        Volts (n,); exact up to a quarter of the sample rate, gone at half of it.

    Notes
    -----
    A note so steep that its block would go beyond `HIGHEST_RATE` is bent there as means between samples, with x
    straight in between: first-order antiderivative antialiasing (J. D. Parker, V. Zavalishin, E. Le Bivic, "Reducing
    the aliasing of nonlinear waveshaping using continuous-time convolution", DAFx-16, 2016; from memory).
    """
    out = np.empty(len(note))
    step = BLOCK - 2 * MARGIN
    most_multiple = 1 << max(0, round(log2(HIGHEST_RATE / sample_rate)))
    for start in range(0, len(note), step):
        first, count = start - MARGIN, min(step, len(note) - start)
        spectrum = np.fft.rfft(_tapered(note, first))
        slope = float(np.abs(np.fft.irfft(_slope() * spectrum)).max()) * sample_rate / linear_range
        multiple = _rate_multiple(slope, sample_rate)
        bend = _tanh
        if multiple > most_multiple:
            multiple, bend = most_multiple, _mean_tanh
            spectrum *= np.exp(-0.5 / multiple * _slope())  # read half a sample earlier, so that means lie in place
        within = np.fft.irfft(multiple / linear_range * spectrum, multiple * BLOCK)
        if idle_v:
            within += idle_v / linear_range
        bent = linear_range * bend(within)
        if idle_v:
            bent -= linear_range * tanh(idle_v / linear_range)
        spectrum_out = np.fft.rfft(switched(bent, first, multiple))[: BLOCK // 2 + 1]
        out[start : start + count] = np.fft.irfft(spectrum_out * (_low_pass() / multiple))[MARGIN : MARGIN + count]
    return out


def _rate_multiple(slope: float, sample_rate: float) -> int:
    """Return the multiple of the rate at which a note, steepest at `slope` linear ranges a second, is bent."""
    if slope == 0.0:
        return 1
    band = sample_rate / 4.0
    reach = FOLDED * band / asinh(pi**2 * band / slope)
    return 1 << max(0, ceil(log2((reach + band) / sample_rate)))


def _tanh(x: Signal) -> Signal:
    """Return tanh x to within rounding of 1, in half the time of NumPy's."""
    np.clip(2.0 * x, -80.0, 80.0, out=x)
    return 1.0 - 2.0 / (1.0 + np.exp(x, out=x))


def _mean_tanh(x: Signal) -> Signal:
    """Return the mean of tanh from each sample to the next, straight in between: log cosh moves so much over x.

    What folds is thereby weighted by f/R, R the rate that it folds at and f where it falls.
    """
    size = np.abs(x)
    integral = size + np.log1p(np.exp(-2.0 * size))
    following = np.roll(x, -1)
    difference = following - x
    is_divisible = np.abs(difference) > LEAST_MOVE
    mean = (np.roll(integral, -1) - integral) / np.where(is_divisible, difference, 1.0)
    return np.where(is_divisible, mean, np.tanh(0.5 * (x + following)))


def _tapered(note: Signal, first: int) -> Signal:
    """Return a block of a note from a sample on, zeros where there is none, fading in and out."""
    return excerpt(note, first, BLOCK) * _taper()


@lru_cache(maxsize=1)
def _taper() -> Signal:
    """Return a fade from 0 to 1 and back over a block."""
    rise = _smooth_step(TAPER)
    return np.concatenate((rise, np.ones(BLOCK - 2 * TAPER), rise[::-1]))


@lru_cache(maxsize=1)
def _low_pass() -> Signal:
    """Return gains (BLOCK / 2 + 1,) of 1 up to a quarter of the sample rate, falling to 0 at half of it."""
    quarter = BLOCK // 4
    return np.concatenate((np.ones(quarter + 1), _smooth_step(quarter)[::-1]))


@lru_cache(maxsize=1)
def _slope() -> Complex:
    """Return the response (BLOCK / 2 + 1,) of the slope per sample; the highest line, which has none, left out."""
    angular = 2j * pi * np.arange(BLOCK // 2 + 1) / BLOCK
    angular[-1] = 0.0
    return np.asarray(angular, dtype=np.complex128)


def _smooth_step(count: int) -> Signal:
    """Return a rise (count,) from 0 to 1 without the ends: the running integral of a Kaiser window."""
    rise = np.cumsum(np.kaiser(count + 1, WINDOW_BETA))
    return np.asarray(rise[:-1] / rise[-1])
