"""Third-octave band levels of a signal, its power shared out exactly.

The whole signal's spectrum is summed. Each of its lines stands for the frequencies half way to its neighbours, and a
line that a band's edge cuts gives each side its share; so the bands' powers, with those below and above them, add up to
the signal's mean square (Parseval).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

import numpy as np

from sublatch.arrays import Complex, Signal
from sublatch.sampling.levels import SINE_DB

BAND_NUMBERS = np.arange(13, 38)
"""Bands of IEC 61260-1: exact mid-band frequency 10^(k/10) Hz."""
NOMINAL_HZ = (
    *(20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0),
    *(400.0, 500.0, 630.0, 800.0, 1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3150.0, 4000.0, 5000.0),
)
"""The names that the bands go by (ISO 266)."""


def band_centres_hz() -> Signal:
    """Return the exact mid-band frequencies in hertz (25,), 20 Hz to 5 kHz.

    Notes
    -----
    IEC 61260-1: f = 1000 · G^(x/3) with the octave ratio G = 10^0.3, which is 10^(k/10).
    """
    return np.asarray(10.0 ** (BAND_NUMBERS / 10.0))


def band_edges_hz() -> Signal:
    """Return the band edges in hertz (26,), each band's upper one the next band's lower one.

    Notes
    -----
    IEC 61260-1: f · G^(±1/6), which is ×/÷ 10^(1/20).
    """
    return np.asarray(10.0 ** ((np.append(BAND_NUMBERS, BAND_NUMBERS[-1] + 1) - 0.5) / 10.0))


def powers_between(samples: Signal, *, sample_rate: float, edges_hz: Sequence[float] | Signal) -> Signal:
    """Return the mean square of a signal between each edge and the next.

    Parameters
    ----------
    samples
        Volts (n,).
    sample_rate
        Samples per second.
    edges_hz
        Rising frequencies (m,) in hertz. From 0 to half the sample rate they take in everything.

    Returns
    -------
    NDArray
        Volts squared (m − 1,).
    """
    return np.asarray(cross_powers_between(samples, samples, sample_rate=sample_rate, edges_hz=edges_hz).real)


def cross_powers_between(
    first: Signal, second: Signal, *, sample_rate: float, edges_hz: Sequence[float] | Signal
) -> Complex:
    """Return the mean product of two signals between each edge and the next, phase and all.

    Parameters
    ----------
    first, second
        Volts (n,), one as long as the other.
    sample_rate
        Samples per second.
    edges_hz
        As for `powers_between`.

    Returns
    -------
    NDArray
        Volts squared (m − 1,): the real part is the mean product of the two, and where g and h are gains that change
        little between two edges, the mean square of g · first + h · second there is |g|² P₁₁ + |h|² P₂₂ +
        2 Re(g h* P₁₂).
    """
    count = len(first)
    edges = np.asarray(edges_hz, dtype=float)
    if count == 0:
        return np.zeros(len(edges) - 1, dtype=complex)
    spacing_hz = sample_rate / count
    lines = min(count // 2, ceil(max(np.max(edges), 0.0) / spacing_hz)) + 1  # above the last edge nothing is asked for
    spectra = [np.fft.rfft(samples)[:lines] / count for samples in ((first,) if second is first else (first, second))]
    power = spectra[0] * spectra[-1].conj()
    power[1 : (count + 1) // 2] *= 2.0
    bounds = np.concatenate(([0.0], np.minimum((np.arange(lines) + 0.5) * spacing_hz, sample_rate / 2)))
    below = np.concatenate(([0.0], np.cumsum(power)))
    return np.diff(np.interp(edges, bounds, below))


def band_powers(samples: Signal, *, sample_rate: float) -> Signal:
    """Return the mean square of a signal in each third-octave band.

    Parameters
    ----------
    samples
        Volts (n,).
    sample_rate
        Samples per second.

    Returns
    -------
    NDArray
        Volts squared (25,), 20 Hz to 5 kHz; 0 in bands above half the sample rate.
    """
    return powers_between(samples, sample_rate=sample_rate, edges_hz=band_edges_hz())


def band_levels(samples: Signal, *, sample_rate: float, full_scale_volts: float = 1.0) -> tuple[float | None, ...]:
    """Return the level of a signal in each third-octave band.

    Parameters
    ----------
    samples
        Volts (n,).
    sample_rate
        Samples per second.
    full_scale_volts
        What 0 dBFS stands for: a sine whose peak reaches it (AES17).

    Returns
    -------
    tuple
        Levels in dBFS (25), 20 Hz to 5 kHz; None in a band without anything.
    """
    powers = band_powers(samples, sample_rate=sample_rate) / full_scale_volts**2
    return tuple(float(10.0 * np.log10(power)) + SINE_DB if power > 0.0 else None for power in powers)
