"""Noise for invented sounds: coloured hiss, short bursts, and the floor that lies under a recorded take."""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil, log

import numpy as np

from sublatch.arrays import Signal
from sublatch.errors import AudioDataError

RATES_HZ = (8000, 192000)
"""Lowest and highest sample rate that sounds are made at, in hertz."""
HUM_HARMONICS: Mapping[int, float] = {1: 1.0, 2: 0.35, 3: 0.6, 5: 0.3, 7: 0.12}
"""Relative strength of the harmonics of mains hum (invented; odd ones lead, as in real hum)."""


def noise_floor(
    samples: int,
    *,
    sample_rate: int = 48000,
    rms_volts: float = 3.5e-4,
    hum_hz: float = 50.0,
    hum_share: float = 0.2,
    seed: int = 0,
) -> Signal:
    """Return hiss that falls with frequency, with a little mains hum in it.

    Parameters
    ----------
    samples
        How many samples.
    sample_rate
        In hertz, 8000 to 192000.
    rms_volts
        RMS of the whole, in volts. 3.5e-4 V is −75 dB below a full scale of 2 V.
    hum_hz
        The mains frequency in hertz.
    hum_share
        The hum's share of the power, 0 to 1.
    seed
        The same seed gives the same noise.

    Returns
    -------
    ndarray of shape (samples,)
        In volts.

    Raises
    ------
    AudioDataError
        When a value is out of range.
    """
    check_range("samples", samples, 1, 1e9)
    check_range("sample_rate", sample_rate, *RATES_HZ, unit="Hz")
    check_range("rms_volts", rms_volts, 0.0, 10.0, unit="V")
    check_range("hum_hz", hum_hz, 10.0, 100.0, unit="Hz")
    check_range("hum_share", hum_share, 0.0, 1.0)
    rng = np.random.default_rng(seed)
    hiss = coloured(samples, sample_rate=sample_rate, low_hz=30.0, high_hz=6000.0, slope=0.5, rng=rng)
    time_s = np.arange(samples) / sample_rate
    hum = np.zeros(samples)
    for number, strength in HUM_HARMONICS.items():
        hum += strength * np.sin(2 * np.pi * (number * hum_hz * time_s + rng.random()))
    hum /= np.sqrt(sum(strength**2 for strength in HUM_HARMONICS.values()) / 2)
    hiss *= np.sqrt(1 - hum_share)
    hiss += np.sqrt(hum_share) * hum
    return rms_volts * hiss


def coloured(
    samples: int,
    *,
    sample_rate: int,
    low_hz: float,
    high_hz: float,
    rng: np.random.Generator,
    slope: float = 0.0,
) -> Signal:
    """Return noise of RMS 1 between two corners.

    Parameters
    ----------
    samples
        How many samples.
    sample_rate
        In hertz.
    low_hz, high_hz
        Corners in hertz: 12 dB per octave below the first and above the second.
    rng
        Where the numbers come from.
    slope
        Amplitude falls as frequency to the minus this power between the corners; 0.5 is pink.

    Returns
    -------
    ndarray of shape (samples,)
        RMS 1, no unit.
    """
    padded = max(2, 1 << (samples - 1).bit_length())  # a length that is quick to transform
    spectrum = np.fft.rfft(rng.standard_normal(padded))
    frequency_hz = np.fft.rfftfreq(padded, 1 / sample_rate)
    frequency_hz[0] = frequency_hz[1]
    spectrum *= frequency_hz**-slope
    spectrum /= (1 + (low_hz / frequency_hz) ** 2) * (1 + (frequency_hz / high_hz) ** 2)
    noise = np.fft.irfft(spectrum, padded)[:samples]
    return np.asarray(noise / np.sqrt(np.mean(noise**2)))


def burst(
    samples: int,
    *,
    sample_rate: int,
    low_hz: float,
    high_hz: float,
    decay_s: float,
    rng: np.random.Generator,
) -> Signal:
    """Return a burst of noise that rises within a millisecond and dies away.

    Parameters
    ----------
    samples
        How many samples; silence follows where the burst is shorter.
    sample_rate
        In hertz.
    low_hz, high_hz
        Corners in hertz.
    decay_s
        Seconds to fall by 30 dB.
    rng
        Where the numbers come from.

    Returns
    -------
    ndarray of shape (samples,)
        Peak 1, no unit.
    """
    count = min(samples, ceil(4 * decay_s * sample_rate))
    time_s = np.arange(count) / sample_rate
    noise = coloured(count, sample_rate=sample_rate, low_hz=low_hz, high_hz=high_hz, rng=rng)
    noise *= -np.expm1(-time_s / 0.0005) * np.exp(-1.5 * log(10) * time_s / decay_s)
    out = np.zeros(samples)
    out[:count] = noise / np.max(np.abs(noise))
    return out


def check_range(name: str, value: float, low: float, high: float, *, unit: str = "") -> None:
    """Raise AudioDataError unless ``low <= value <= high`` (so NaN is refused too)."""
    if not low <= value <= high:
        suffix = f" {unit}" if unit else ""
        raise AudioDataError(f"{name} must be {low:g} to {high:g}{suffix}, got {name} = {value:g}{suffix}")
