"""The quietest moments of a take: whether they are mains hum, noise, or notes that still sound."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sublatch.arrays import Signal

HUM_S = 1.0
"""Length in seconds of the stretch in which hum is looked for: a second tells 49 Hz from 50 Hz, and steady from not."""
NOISE_S = 0.3
"""Length in seconds of the stretch that is noise or not: short rests count."""
MAINS_HZ = (50, 60)
"""Mains frequencies whose hum is looked for, in hertz."""
MAINS_WITHIN = 0.005
"""How far from its nominal value mains may be, as a share: grids keep within 0.4 % (common practice, no source).
A note is farther: G1 is 2 % under 50 Hz, B1 3 % over 60 Hz."""

_HOP_S = 0.05
_WIDTH = 0.02
"""How far around the mains frequency lines are sought, as a share of it."""
_HIGHEST_LINE_HZ = 1000
_BAND_HZ = (20.0, 1000.0)
_HUM_SHARE = 0.5
"""Share of the power from 20 Hz to 1 kHz from which a rest is mostly hum."""
_ODD_SHARE = 0.05
"""Share of hum's own power that lies at odd multiples at least; a held note an octave above mains has none there."""
_STEADY_DB = 1.0
"""Difference between both halves of the second within which it is steady; a note dies away faster than 2 dB/s."""
_TONAL_BAND_HZ = (30.0, 2000.0)
_TONAL_BINS = 0.1
_TONAL_SHARE = 0.85
"""Share of the power in the strongest tenth of the bins from which a stretch is notes; white noise has 0.33 there."""
_PADDED = 8
_ENERGY_BINS = 1.5 * _PADDED
"""Bins that a line would fill at the height of its summit: a Hann window's noise bandwidth is 1.5 unpadded bins."""


@dataclass(frozen=True)
class Rest:
    """What the quietest moments of a take are.

    Attributes
    ----------
    mains_hz
        50 or 60 where they are mostly mains hum, otherwise 0.
    hum_rms
        RMS of that hum and its multiples up to 1 kHz, in the unit of the samples.
    is_noise
        Whether they are noise, not notes that still sound.
    """

    mains_hz: int
    hum_rms: float
    is_noise: bool


def quietest_moments(samples: Signal, sample_rate: int) -> Rest | None:
    """Return what the quietest moments of a take are made of.

    Parameters
    ----------
    samples
        The take, of shape (n,).
    sample_rate
        In hertz.

    Returns
    -------
    Rest or None
        None where the take is shorter than 0.3 s, or they are all zeros.

    Notes
    -----
    Hum is what lies within 0.5 % of mains and its multiples, steady over the quietest second, odd multiples among it,
    and at least half of the power there from 20 Hz to 1 kHz. Levels are read from the bins of a Hann window, padded so
    that the nearest is 1/16 Hz away at most.
    """
    quietest = _quietest(samples, sample_rate, seconds=NOISE_S)
    if quietest is None:
        return None
    quietest_second = _quietest(samples, sample_rate, seconds=HUM_S)
    for mains_hz in MAINS_HZ:
        if quietest_second is not None and (hum_rms := _hum(quietest_second, mains_hz, sample_rate)):
            return Rest(mains_hz, hum_rms, True)
    return Rest(0, 0.0, _is_noise(quietest, sample_rate))


def _hum(stretch: Signal, mains_hz: int, sample_rate: int) -> float:
    """Return the RMS of mains hum where a stretch is mostly that, otherwise 0."""
    spectrum = _powers(stretch)
    hz = np.arange(len(spectrum)) * sample_rate / (_PADDED * len(stretch))
    band = float(np.sum(spectrum[(hz >= _BAND_HZ[0]) & (hz <= _BAND_HZ[1])])) / _ENERGY_BINS
    line_hz, line_powers = _lines(spectrum, mains_hz, len(stretch) / sample_rate)
    power = float(np.sum(line_powers))
    is_mains = abs(line_hz / mains_hz - 1.0) <= MAINS_WITHIN and np.sum(line_powers[::2]) > _ODD_SHARE * power
    is_hum = power > _HUM_SHARE * band and is_mains and _is_steady(stretch, line_hz, sample_rate)
    return float(np.sqrt(power)) if is_hum else 0.0


def _quietest(samples: Signal, sample_rate: int, *, seconds: float) -> Signal | None:
    """Return the stretch with the least power, each 50 ms without their mean; None where there is none."""
    hop = round(_HOP_S * sample_rate)
    count, needed = len(samples) // hop, round(seconds / _HOP_S)
    if count < needed:
        return None
    power = np.var(samples[: count * hop].reshape(count, hop), axis=1)
    start = int(np.argmin(np.convolve(power, np.ones(needed), "valid")))
    stretch = samples[start * hop : (start + needed) * hop]
    return stretch - np.mean(stretch) if np.any(power[start : start + needed]) else None


def _powers(stretch: Signal) -> Signal:
    """Return the power of a sine at each padded bin, in the squared unit of the samples."""
    window = np.hanning(len(stretch))
    return np.asarray(2.0 * np.abs(np.fft.rfft(stretch * window, _PADDED * len(stretch))) ** 2 / np.sum(window) ** 2)


def _lines(spectrum: Signal, mains_hz: int, seconds: float) -> tuple[float, Signal]:
    """Return the frequency near mains whose multiples hold the most power, and the power of each of them."""
    tried_hz = mains_hz * np.linspace(1.0 - _WIDTH, 1.0 + _WIDTH, 81)
    multiples = np.arange(1, _HIGHEST_LINE_HZ // mains_hz + 1)
    powers = spectrum[np.rint(np.outer(tried_hz, multiples) * _PADDED * seconds).astype(int)]
    best = int(np.argmax(np.sum(powers, axis=1)))
    return float(tried_hz[best]), powers[best]


def _is_steady(stretch: Signal, hz: float, sample_rate: int) -> bool:
    """Return whether hum is equally strong in both halves."""
    multiples = np.arange(1, int(_HIGHEST_LINE_HZ / hz) + 1)
    halves = np.array_split(stretch, 2)
    bins = [np.rint(hz * multiples * _PADDED * len(half) / sample_rate).astype(int) for half in halves]
    first, second = (float(np.sum(_powers(half)[line_bins])) for half, line_bins in zip(halves, bins, strict=True))
    return bool(abs(10.0 * np.log10(first / second)) < _STEADY_DB)


def _is_noise(stretch: Signal, sample_rate: int) -> bool:
    """Return whether the power is spread, not gathered in few lines."""
    spectrum = _powers(stretch)
    hz = np.arange(len(spectrum)) * sample_rate / (_PADDED * len(stretch))
    band = np.sort(spectrum[(hz >= _TONAL_BAND_HZ[0]) & (hz <= _TONAL_BAND_HZ[1])])
    return bool(np.sum(band[-round(_TONAL_BINS * len(band)) :]) < _TONAL_SHARE * np.sum(band))
