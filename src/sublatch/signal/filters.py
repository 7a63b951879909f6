"""Analogue networks applied to sampled signals, exactly, block by block.

A band-limited signal that passes a linear network is its spectrum times the network's response, so nothing
has to be designed and nothing is warped. Overlapping blocks keep memory and time proportional to the take;
the overlap covers the slowest pole's decay. The same step doubles or halves the sample rate.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, log, log2

import numpy as np
from numpy.typing import NDArray

from sublatch.circuit.network import Transfer

Signal = NDArray[np.float64]

DECAYED = log(10 ** (140 / 20))
"""Time constants until a pole's ringing is 140 dB down."""
GUARD = 2048
"""Samples at a block's ends given up to the band edge's own ringing."""
BLOCK = 1 << 17
"""Least block length in samples at the input's rate."""
BAND = 0.45
"""Where the rate changes: the passband in parts of the lower rate. From there to 0.5 it falls smoothly to nothing."""


def apply(sources: Sequence[tuple[Signal, Transfer]], *, sample_rate: float, rate_factor: float = 1.0) -> Signal:
    """Return the sum of several signals, each through its own transfer function.

    Parameters
    ----------
    sources
        Signals (n,) of one length and rate, and the transfer function that each goes through.
    sample_rate
        Samples per second of the signals.
    rate_factor
        Output rate over input rate: 0.5, 1 or 2.

    Returns
    -------
    NDArray
        Samples (n · rate_factor,), rounded up.
    """
    count = len(sources[0][0])
    before = GUARD + ceil(DECAYED * max(t.settling_s for _, t in sources) * sample_rate)
    size = _block_size(count, before)
    step = size - before - GUARD
    gains = _gains([t for _, t in sources], size, sample_rate, rate_factor)
    out = np.empty(ceil(count * rate_factor))
    for start in range(0, count, step):
        spectrum = sum(
            gain * np.fft.rfft(_excerpt(samples, start - before, size))[: len(gain)]
            for (samples, _), gain in zip(sources, gains, strict=True)
        )
        block = np.fft.irfft(spectrum, int(size * rate_factor))
        first, last = round(start * rate_factor), min(ceil((start + step) * rate_factor), len(out))
        offset = round(before * rate_factor)
        out[first:last] = block[offset : offset + last - first]
    return out


def _block_size(count: int, before: int) -> int:
    """Return a length that transforms fast, a multiple of four, that keeps the overlap under a quarter of the work."""
    wanted = min(max(BLOCK, 4 * before), count + before + GUARD)
    power = 1 << max(2, ceil(log2(wanted)) - 3)
    return power * ceil(wanted / power)


def _gains(
    transfers: Sequence[Transfer], size: int, sample_rate: float, rate_factor: float
) -> list[NDArray[np.complex128]]:
    """Return each response at the transform's bins, with the band edge where the rate changes."""
    bins = min(size, int(size * rate_factor)) // 2 + 1
    frequency = np.arange(bins, dtype=float) * (sample_rate / size)
    scale = rate_factor * band_edge(frequency / float(sample_rate * min(rate_factor, 1.0)), flat=rate_factor == 1.0)
    return [t.response(frequency) * scale for t in transfers]


def band_edge(relative_frequency: Signal, *, flat: bool = False) -> Signal:
    """Return 1 up to `BAND` and a smooth fall to 0 at one half, in parts of the sample rate.

    Notes
    -----
    I. Daubechies, *Ten Lectures on Wavelets*, section 4.2, the polynomial of Meyer's example (from memory): smooth
    enough that the band edge has rung out after a few hundred samples.
    """
    if flat:
        return np.ones_like(relative_frequency)
    x = np.clip((relative_frequency - BAND) / (0.5 - BAND), 0.0, 1.0)
    edge: Signal = np.cos(0.5 * np.pi * x**4 * (35.0 - 84.0 * x + 70.0 * x**2 - 20.0 * x**3)) ** 2
    return edge


def _excerpt(samples: Signal, start: int, size: int) -> Signal:
    """Return `size` samples from `start` on, zeros where there are none."""
    low, high = max(start, 0), min(start + size, len(samples))
    if low == start and high == start + size:
        return samples[low:high]
    part = np.zeros(size)
    part[low - start : high - start] = samples[low:high]
    return part
