"""Slow, obvious versions and closed forms that the fast code is held against."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from scipy.signal import freqz, resample

from sublatch.arrays import Flags, Signal, Whole


def switched_sine_phasor(n: int, *, phase: float, harmonic: int = 1, alpha: float = 0.0) -> complex:
    """Phasor of cos nθ, θ = πft, in sin(2pθ + α) · s, where s = ±1 changes sign at input phase `phase`.

    By integrating sin(2pθ + α) · Σ (4/πk) sin k(θ − φ/2), k odd, term by term.
    """
    p = harmonic
    up = np.exp(-1j * (alpha + (n + 2 * p) * phase / 2)) / (n + 2 * p)
    down = np.exp(1j * (alpha - (n - 2 * p) * phase / 2)) / (n - 2 * p)
    return complex(2 / np.pi * (up - down))


def switched_sine_amplitude(n: int, *, phase: float) -> float:
    """Amplitude of the n-th harmonic of f/2 (n odd) in a polarity-switched sine of frequency f."""
    return float(4 / np.pi * np.hypot(2 * np.cos(phase), n * np.sin(phase)) / abs(n * n - 4))


def amplitude(samples: Signal, cycles: float) -> float:
    """Amplitude of the sinusoid that makes `cycles` whole cycles in `samples`."""
    n = np.arange(len(samples))
    return float(2 * abs(np.mean(samples * np.exp(-2j * np.pi * cycles * n / len(samples)))))


def db(ratio: float) -> float:
    """Ratio of amplitudes in decibels."""
    return float(20 * np.log10(ratio))


def peak_store_loop(samples: Signal, hold: float) -> Signal:
    """A peak store as its recursion, sample by sample."""
    held, out = 0.0, np.empty(len(samples))
    for n, x in enumerate(samples):
        held = max(x, held * np.exp(-1.0 / hold), 0.0)
        out[n] = held
    return out


def real_latch_loop(
    samples: Signal, laws: list[tuple[float, float, float, float, float]], decay: float
) -> tuple[Whole, float]:
    """Samples at which a latch of real parts has changed, and how near it was to another decision, by bookkeeping.

    Of either side: what its store empties towards, the share of it, what is added, how far above peaks it is charged,
    the least threshold.
    """
    held = [law[0] for law in laws]
    is_set, changes, least = False, [], float("inf")
    for n, x in enumerate(samples):
        over = []
        for side, (rest, share, added, shift, floor) in enumerate(laws):
            size = (x, -x)[side]
            held[side] = rest + (held[side] - rest) * (decay if n else 1.0)
            over.append(size - max(share * held[side] + added, floor))
            held[side] = max(held[side], size + shift)
        least = min(least, *map(abs, over))
        wanted = over[0] > 0 or not over[1] > 0 if over[0] > 0 or over[1] > 0 else is_set
        if wanted != is_set:
            is_set = wanted
            changes.append(n)
    return np.array(changes, dtype=np.int64), least


def latch_loop(samples: Signal, fraction: float, decay: float, floor: float) -> Whole:
    """Samples at which a peak latch has changed, in turn set and reset, by plain bookkeeping."""
    high = low = 0.0
    is_set, changes = False, []
    for n, x in enumerate(samples):
        high, low = high * decay, low * decay
        if (-x > max(fraction * low, floor)) if is_set else (x > max(fraction * high, floor)):
            is_set = not is_set
            changes.append(n)
        high, low = max(high, x), max(low, -x)
    return np.array(changes, dtype=np.int64)


def offset_latch(
    samples: Signal,
    offsets: Signal,
    fraction: float,
    decay: float,
    floor: float,
    *,
    rest: float = 0.0,
    added: float = 0.0,
) -> Flags:
    """Whether a peak latch is set after each sample (n, k), run with each of k offsets at its comparator's input.

    The stores see the signal without the offset. They empty towards a rest; something may be added to a share of them.
    """
    high = low = rest
    is_set = np.zeros(len(offsets), dtype=bool)
    states = np.empty((len(samples), len(offsets)), dtype=bool)
    for n, x in enumerate(samples):
        high, low = (rest + (store - rest) * decay for store in (high, low))
        upper, lower = (max(fraction * store + added, floor) for store in (high, low))
        turned = np.where(is_set, -(x + offsets) > lower, x + offsets > upper)
        is_set = is_set ^ turned
        states[n] = is_set
        high, low = max(high, x), max(low, -x)
    return states


K_STAGES = (
    ((1.53512485958697, -2.69169618940638, 1.19839281085285), (1.0, -1.69065929318241, 0.73248077421585)),
    ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621)),
)
"""ITU-R BS.1770-4, annex 1, tables 1 and 2, for 48 kHz."""


def third_octaves(samples: Signal, rate: float, *, weighted: bool = False) -> Signal:
    """Mean square in the bands of 20 Hz to 5 kHz (IEC 61260-1), each line of the spectrum counted in its one band.

    Weighted, each line counts as BS.1770 has it, by `scipy.signal.freqz`.
    """
    hertz = np.fft.rfftfreq(len(samples), 1.0 / rate)
    power = 2.0 * np.abs(np.fft.rfft(samples) / len(samples)) ** 2
    if weighted:
        for above, below in K_STAGES:
            power = power * np.abs(freqz(above, below, worN=hertz, fs=48000.0)[1]) ** 2
    edges = [10 ** ((number - 0.5) / 10) for number in range(13, 39)]
    return np.array([np.sum(power[(hertz >= a) & (hertz < b)]) for a, b in pairwise(edges)])


def heard_difference_db(samples: Signal, wanted: Signal, rate: float) -> float:
    """How far one sound is from another in thirds of an octave, at matched level, in dB.

    Weights: the fourth root of the weighted power of the sound that is wanted, band by band.
    """
    weights = third_octaves(wanted, rate, weighted=True) ** 0.25
    apart = 10 * np.log10(third_octaves(samples, rate) / third_octaves(wanted, rate))
    mean = np.average(apart, weights=weights)
    return float(np.sqrt(np.average((apart - mean) ** 2, weights=weights)))


def clipped_finely(samples: Signal, limits: tuple[float, float]) -> Signal:
    """Return samples clipped at 32 times their rate, by the spectrum of the whole: what lies near either end is off."""
    fine = np.clip(resample(samples, 32 * len(samples)), *limits)
    return np.asarray(resample(fine, len(samples)))
