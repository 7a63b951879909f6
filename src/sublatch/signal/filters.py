"""Analogue networks applied to sampled signals, exactly, block by block.

A band-limited signal that passes a linear network is its spectrum times the network's response, so nothing
has to be designed and nothing is warped. Overlapping blocks keep memory and time proportional to the take;
the overlap covers the slowest pole's decay.
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
"""Samples at a block's ends given up to what rings at the Nyquist frequency."""
BLOCK = 1 << 17
"""Least block length in samples."""


def apply(sources: Sequence[tuple[Signal, Transfer]], *, sample_rate: float) -> Signal:
    """Return the sum of several signals, each through its own transfer function.

    Parameters
    ----------
    sources
        Signals (n,) of one length and rate, and the transfer function that each goes through.
    sample_rate
        Samples per second.

    Returns
    -------
    NDArray
        Samples (n,); what rings on after the signals' end is cut off.
    """
    count = len(sources[0][0])
    before = GUARD + ceil(DECAYED * max(t.settling_s for _, t in sources) * sample_rate)
    size = _block_size(count, before)
    step = size - before - GUARD
    frequency = np.fft.rfftfreq(size, 1.0 / sample_rate)
    gains = [t.response(frequency) for _, t in sources]
    out = np.empty(count)
    for start in range(0, count, step):
        spectrum = np.zeros(len(frequency), complex)
        for (samples, _), gain in zip(sources, gains, strict=True):
            spectrum += gain * np.fft.rfft(_excerpt(samples, start - before, size))
        last = min(start + step, count)
        out[start:last] = np.fft.irfft(spectrum, size)[before : before + last - start]
    return out


def _block_size(count: int, before: int) -> int:
    """Return an even length that transforms fast and keeps the overlap under a quarter of the work."""
    wanted = min(max(BLOCK, 4 * before), count + before + GUARD)
    power = 1 << max(1, ceil(log2(wanted)) - 3)
    return power * ceil(wanted / power)


def _excerpt(samples: Signal, start: int, size: int) -> Signal:
    """Return `size` samples from `start` on, zeros where there are none."""
    low, high = max(start, 0), min(start + size, len(samples))
    if low == start and high == start + size:
        return samples[low:high]
    part = np.zeros(size)
    part[low - start : high - start] = samples[low:high]
    return part
