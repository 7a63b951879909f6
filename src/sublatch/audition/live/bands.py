"""What a bare sound's loudness is told from, for any setting of all that follows it: its powers by bands.

A block's power behind a linear network is the sum over bands of the band's power times the squared gain. Octave stage
and direct signal reach the output by gains of their own, so that with H and K it is
Σ |H|² Soo + |K|² Sdd + 2 Re(H K* Sod). The gains are taken at the band's centroid: below 400 Hz a third of an octave
holds at most a few partials of a note.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from sublatch.arrays import Array, Signal
from sublatch.sampling.levels import SHORTEST_S, loudness_weights

STEP_S = SHORTEST_S / 4
"""From one gating block to the next: BS.1770-4 has them overlap by 75 %."""
LOWEST_HZ, HIGHEST_HZ = 10.0, 20e3
BANDS = 33
"""Thirds of an octave in that span."""
FIGURES = 5
"""Of each band: centroid in hertz, power of the octave, of the direct signal, and of both together (complex)."""


def loudness_bands(octave: Signal, direct: Signal, *, sample_rate: int, full_scale_volts: float) -> Array:
    """Return the powers of a bare sound in each gating block, weighted as loudness hears them.

    Parameters
    ----------
    octave, direct
        The octave stage's output and the direct signal, in volts (n,).
    sample_rate
        Samples per second.
    full_scale_volts
        What 0 dBFS stands for.

    Returns
    -------
    ndarray
        Figures (blocks, BANDS, FIGURES): the centroid in hertz, and mean squares of full scale squared; no blocks of a
        sound that is shorter than one.

    Notes
    -----
    ITU-R BS.1770-4: blocks of 0.4 s, a new one every 0.1 s, weighted by two filters (annex 1). The weights are put on
    each block's spectrum, without a window, so that what lies in the block is all of its power (Parseval).
    """
    length = round(SHORTEST_S * sample_rate)
    starts = [round(number * STEP_S * sample_rate) for number in range(_blocks(len(octave), sample_rate))]
    frequency = np.asarray(np.arange(length // 2 + 1) * (sample_rate / length), dtype=np.float64)
    weights = 2.0 * loudness_weights(frequency) / length**2
    edges = np.searchsorted(frequency, np.geomspace(LOWEST_HZ, HIGHEST_HZ, BANDS + 1))
    found = np.zeros((len(starts), BANDS, FIGURES))
    for figures, start in zip(found, starts, strict=True):
        one, two = (np.fft.rfft(signal[start : start + length] / full_scale_volts) for signal in (octave, direct))
        powers = (np.abs(one) ** 2, np.abs(two) ** 2, one * two.conj())
        lines = [weights * power for power in (powers[0], powers[1], powers[2].real, powers[2].imag)]
        for band, (low, high) in enumerate(pairwise(edges)):
            figures[band, 1:] = [np.sum(line[low:high]) for line in lines]
            both = lines[0][low:high] + lines[1][low:high]
            figures[band, 0] = np.sum(frequency[low:high] * both) / max(np.sum(both), 1e-300)
    return found


def _blocks(count: int, sample_rate: int) -> int:
    """Return how many whole gating blocks so many samples have."""
    return max(0, int((count / sample_rate - SHORTEST_S) / STEP_S + 1e-9) + 1)
