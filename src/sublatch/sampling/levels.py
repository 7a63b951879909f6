"""How loud a signal is: loudness, RMS, low band and peak.

Every level is relative to a full scale in volts. RMS levels follow AES17: a sine whose peak reaches full scale
reads 0 dBFS. Loudness follows ITU-R BS.1770; it hardly hears the lowest octave (−12.9 dB at 20.6 Hz), so
the level of the low band stands beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import inf, isfinite, log10, sqrt

import numpy as np

from sublatch.arrays import Complex, Signal
from sublatch.sampling.rates import resampled

LOUDNESS_RATE = 48000
"""The rate in hertz that BS.1770 gives its filters for."""
SHORTEST_S = 0.4
"""One gating block of BS.1770."""
LOW_BAND_HZ = (20.0, 200.0)
LOW_BAND_RATE = 1000
K_WEIGHTING = (
    ((1.53512485958697, -2.69169618940638, 1.19839281085285), (1.0, -1.69065929318241, 0.73248077421585)),
    ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621)),
)
"""Numerators and denominators of BS.1770-4's two filters at that rate (annex 1, tables 1 and 2)."""
FOR_LEVELS = "HQ"
"""soxr's 20-bit setting, ample for a level."""
TRUE_PEAK_OVERSAMPLING = 4
"""BS.1770-4, annex 2; it under-reads by at most 0.69 dB, at the Nyquist frequency."""
BLOCK, FADE, AT_ONCE = 8192, 512, 4
"""Samples transformed for the values between them, those at either end that lead in and out, and blocks at once."""
FADE_BETA = 8.0
"""Kaiser window that fades are integrals of: what lies below 0.495 of the rate stays below the Nyquist frequency."""
SINE_DB = 20 * log10(sqrt(2.0))
"""AES17: how far the numeric RMS of a full-scale sine lies below its peak."""


@dataclass(frozen=True)
class Levels:
    """Levels in dB relative to full scale; None where a level cannot be told (silence, too short a signal).

    Attributes
    ----------
    loudness_lufs
        Integrated loudness, LUFS.
    rms_dbfs
        RMS level, dB relative to a full-scale sine.
    low_band_dbfs
        RMS level of what lies from 20 Hz to 200 Hz, dB relative to a full-scale sine.
    peak_dbfs
        Largest sample, dB relative to full scale.
    true_peak_dbtp
        Largest value of the continuous signal, dB relative to full scale: for whatever lies below 0.49 of the sample
        rate never too high, and too low by at most 0.69 dB (0.17 dB up to a quarter of the rate).
    """

    loudness_lufs: float | None
    rms_dbfs: float | None
    low_band_dbfs: float | None
    peak_dbfs: float | None
    true_peak_dbtp: float | None = None


def levels(samples: Signal, *, sample_rate: int, full_scale_volts: float = 1.0) -> Levels:
    """Return the levels of a signal.

    Parameters
    ----------
    samples
        Volts (n,).
    sample_rate
        Samples per second.
    full_scale_volts
        What 0 dBFS stands for.

    Notes
    -----
    Sources: ITU-R BS.1770-4 (gated loudness, one channel; annex 2, true peak), AES17 (0 dBFS of RMS levels).
    """
    scaled = samples / full_scale_volts
    power = float(np.mean(np.square(scaled))) if len(scaled) else 0.0
    peak = float(np.max(np.abs(scaled), initial=0.0))
    return Levels(
        loudness_lufs=loudness(scaled, sample_rate=sample_rate),
        rms_dbfs=_finite(_db_power(power) + SINE_DB),
        low_band_dbfs=_finite(_db_power(_low_band_power(scaled, sample_rate)) + SINE_DB),
        peak_dbfs=_finite(2 * _db_power(peak)),
        true_peak_dbtp=_finite(2 * _db_power(_true_peak(scaled, peak))),
    )


def loudness(samples: Signal, *, sample_rate: int) -> float | None:
    """Return the integrated loudness of a signal of ±1 full scale (n,) in LUFS; None where it cannot be told."""
    if len(samples) < SHORTEST_S * sample_rate or not np.any(samples):
        return None
    import pyloudnorm

    samples = resampled(samples, sample_rate, LOUDNESS_RATE, quality=FOR_LEVELS)
    if len(samples) < SHORTEST_S * LOUDNESS_RATE:
        return None
    meter = pyloudnorm.Meter(LOUDNESS_RATE, filter_class="DeMan", block_size=SHORTEST_S)
    with np.errstate(divide="ignore"):
        return _finite(float(meter.integrated_loudness(samples)))


def loudness_weights(frequency_hz: Signal) -> Signal:
    """Return by how much loudness counts the power at each frequency (n,) in hertz, 1 for as it is.

    Notes
    -----
    ITU-R BS.1770-4, annex 1: the squared gain of its two filters, up to 24 kHz.
    """
    delay = np.exp(-2j * np.pi * frequency_hz / LOUDNESS_RATE)
    gain = np.ones(len(delay), dtype=complex)
    for above, below in K_WEIGHTING:
        gain *= np.polyval(above[::-1], delay) / np.polyval(below[::-1], delay)
    return np.asarray(np.abs(gain) ** 2)


def _true_peak(samples: Signal, peak: float) -> float:
    """Return the largest value at four times the rate, between all samples: no sample tells where it cannot be."""
    step = BLOCK - 2 * FADE
    padded = np.pad(samples, (FADE, BLOCK + FADE))
    blocks = np.lib.stride_tricks.sliding_window_view(padded, BLOCK)[: len(samples) + FADE : step]
    largest = peak
    for first in range(0, len(blocks), AT_ONCE):
        spectra = np.fft.rfft(blocks[first : first + AT_ONCE] * _fades())
        between = np.fft.irfft(spectra[:, np.newaxis] * _moves_ahead(), BLOCK)[..., FADE:-FADE]
        largest = max(largest, float(between.max()), float(-between.min()))
    return largest


@lru_cache(maxsize=1)
def _moves_ahead() -> Complex:
    """Return the responses (3, BLOCK / 2 + 1) of ¼, ½ and ¾ of a sample ahead; the highest line has no place."""
    ahead = np.arange(1, TRUE_PEAK_OVERSAMPLING)[:, np.newaxis] / TRUE_PEAK_OVERSAMPLING
    turned = np.exp(2j * np.pi * ahead * np.fft.rfftfreq(BLOCK))
    turned[:, -1] = 0.0
    return np.asarray(turned, dtype=np.complex128)


@lru_cache(maxsize=1)
def _fades() -> Signal:
    """Return a fade in and out over a block, so smooth that the block's spectrum is the signal's."""
    rise = np.cumsum(np.kaiser(FADE + 1, FADE_BETA))
    rise = rise[:-1] / rise[-1]
    return np.concatenate((rise, np.ones(BLOCK - 2 * FADE), rise[::-1]))


def _low_band_power(samples: Signal, sample_rate: int) -> float:
    """Return the mean square of what lies in the low band."""
    slow = resampled(samples, sample_rate, LOW_BAND_RATE, quality=FOR_LEVELS)
    if len(slow) < 2:
        return 0.0
    spectrum = np.fft.rfft(slow)
    frequency = np.fft.rfftfreq(len(slow), 1.0 / LOW_BAND_RATE)
    inside = (frequency >= LOW_BAND_HZ[0]) & (frequency <= LOW_BAND_HZ[1])
    return float(2.0 * np.sum(np.abs(spectrum[inside]) ** 2) / len(slow) ** 2)


def _db_power(power: float) -> float:
    """Return a ratio of powers in dB, minus infinity for none."""
    return 10.0 * log10(power) if power > 0.0 else -inf


def _finite(level: float) -> float | None:
    """Return a level, or None when there is none."""
    return level if isfinite(level) else None
