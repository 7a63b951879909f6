"""Analogue networks with fixed controls applied to sampled signals, exactly, block by block.

A band-limited signal that passes a linear network is its spectrum times the network's response, so nothing
has to be designed and nothing is warped. Overlapping blocks keep memory and time proportional to the take;
the overlap covers the slowest pole's decay, but for poles so slow that recursion is better (see `slow_poles`).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, log, log2
from typing import Protocol

import numpy as np

from sublatch.arrays import Complex, Signal
from sublatch.circuit.networks.transfer import Transfer
from sublatch.signal.filtering import slow_poles

DECAYED = log(10 ** (140 / 20))
"""Time constants until a pole's ringing is 140 dB down."""
GUARD = 2048
"""Samples at a block's ends given up to what rings at the Nyquist frequency."""
BLOCK = 1 << 16
"""Least block length in samples."""
TOGETHER = 2
"""Blocks that are transformed at once: two take little longer than one (measured), as a processor adds in pairs."""


def apply(sources: Sequence[Signal], paths: Sequence[Sequence[Transfer]], *, sample_rate: float) -> list[Signal]:
    """Return outputs that are each the sum of all sources, each source through its own transfer function.

    Parameters
    ----------
    sources
        Signals (n,) of one length and rate.
    paths
        For each output, the transfer function from each source.
    sample_rate
        Samples per second.

    Returns
    -------
    list of NDArray
        Samples (n,) of each output; what rings on after the sources' end is cut off.
    """
    if any(slow_poles.split(transfer)[1] for path in paths for transfer in path):
        return [_slowly(sources, path, sample_rate) for path in paths]
    return _in_blocks(sources, paths, sample_rate, max(transfer.settling_s for path in paths for transfer in path))


class _Linear(Protocol):
    """Whatever has a response."""

    def response(self, frequency_hz: Signal, /) -> Complex:
        """Return the complex gain at each frequency in hertz."""


def _slowly(sources: Sequence[Signal], path: Sequence[Transfer], sample_rate: float) -> Signal:
    """Return one output where poles are slow: all else by the spectrum, and they by recursion."""
    silence = np.zeros(GUARD)  # what rings at the Nyquist frequency ahead of a take's start counts for slow poles
    output = np.zeros(len(sources[0]))
    for source, transfer in zip(sources, path, strict=True):
        rest, sections = slow_poles.split(transfer)
        padded = np.concatenate((silence, source, silence))
        (filtered,) = _in_blocks([padded], [[rest]], sample_rate, rest.settling_s)
        for section in sections:
            ways_in = [[way_in] for way_in in slow_poles.brought(section, sample_rate=sample_rate)]
            brought = _in_blocks([filtered], ways_in, sample_rate, 0.0)
            filtered = slow_poles.rung(section, filtered, brought, sample_rate=sample_rate)
        output += filtered[GUARD:-GUARD]
    return output


def _in_blocks(
    sources: Sequence[Signal], paths: Sequence[Sequence[_Linear]], sample_rate: float, slowest_s: float
) -> list[Signal]:
    """Return outputs as `apply` does, from blocks that overlap by the decay of that time constant."""
    count = len(sources[0])
    before = GUARD + ceil(DECAYED * slowest_s * sample_rate)
    size = _block_size(count, before)
    advance = size - before - GUARD
    frequency = np.fft.rfftfreq(size, 1.0 / sample_rate).astype(np.float64, copy=False)
    responses = [[transfer.response(frequency) for transfer in path] for path in paths]
    outputs = [np.empty(count) for _ in paths]
    for start in range(0, count, TOGETHER * advance):
        starts = range(start, min(start + TOGETHER * advance, count), advance)
        spectra = [np.fft.rfft([excerpt(samples, first - before, size) for first in starts]) for samples in sources]
        for output, path in zip(outputs, responses, strict=True):
            summed = path[0] * spectra[0]
            for response, spectrum in zip(path[1:], spectra[1:], strict=True):
                summed += response * spectrum
            blocks = np.fft.irfft(summed, size)[:, before : before + advance]
            output[start : start + blocks.size] = blocks.ravel()[: count - start]
    return outputs


def _block_size(count: int, before: int) -> int:
    """Return an even length that transforms fast and keeps the overlap under a quarter of the work."""
    least = min(max(BLOCK, 4 * before), count + before + GUARD)
    power = 1 << max(1, ceil(log2(least)) - 3)
    return power * ceil(least / power)


def excerpt(samples: Signal, start: int, size: int) -> Signal:
    """Return `size` samples from `start` on, zeros where there are none."""
    low, high = max(start, 0), min(start + size, len(samples))
    if low == start and high == start + size:
        return samples[low:high]
    padded = np.zeros(size)
    padded[low - start : high - start] = samples[low:high]
    return padded
