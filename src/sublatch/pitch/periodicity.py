"""Periodicity: how alike a short stretch of sound is to itself a period later, for every pitch that is tried.

Between two onsets less than a quarter of a second apart a spectrum blurs the partials of low notes; the sound itself
still repeats.
"""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Array
from sublatch.pitch.excerpts import RATE_HZ, Excerpts

SHORT_S = 0.25
"""Stretches between onsets that are shorter are looked at."""
OCTAVE_GAIN = 0.3
"""What the octave above has ahead, since two periods repeat as one does."""
FINER = 4
"""By how many times finer than the samples a period is told."""


def periodicities(sound: Array, where: Excerpts, pitch_hz: Array, lowest_hz: float) -> dict[int, Array]:
    """Return how periodic each short stretch is at each pitch, by its number.

    Parameters
    ----------
    sound
        At 4 kHz (n,).
    where
        Its stretches between onsets.
    pitch_hz
        Pitches (p,) that are tried.
    lowest_hz
        The pitch from which octaves are counted.

    Returns
    -------
    dict of int to ndarray
        2 Σ x(t) x(t + T) / Σ (x(t)² + x(t + T)²) of each pitch (p,), 1 for a sound that repeats itself, and 0.3 more
        for each octave.
    """
    more = OCTAVE_GAIN * np.log2(pitch_hz / lowest_hz)
    lags = RATE_HZ / pitch_hz
    bounds = np.clip(np.round(where.bounds_s * RATE_HZ), 0, len(sound))
    short = (where.bounds_s[:, 1] - where.bounds_s[:, 0]) < SHORT_S
    return {
        int(span): _likeness(sound[int(bounds[span, 0]) : int(bounds[span, 1])], lags) + more
        for span in np.flatnonzero(short)
    }


def _likeness(part: Array, lags: Array) -> Array:
    """Return how alike a part is to itself so many samples later; 0 where it is too short to tell."""
    count = len(part)
    if count < 8:
        return np.zeros(len(lags))
    part = part - np.mean(part)
    size = 1 << int(2 * count - 1).bit_length()
    spectrum = np.fft.rfft(part, size)
    power = np.zeros(FINER * size // 2 + 1)
    power[: len(spectrum)] = spectrum.real**2 + spectrum.imag**2
    products = FINER * np.fft.irfft(power)[: FINER * count]
    energy = np.concatenate(([0.0], np.cumsum(part**2)))
    whole = np.arange(count)
    both = energy[count - whole] + energy[count] - energy[whole]
    at = np.minimum(lags, count - 1.0)
    alike = 2 * np.interp(at * FINER, np.arange(len(products)), products) / np.maximum(np.interp(at, whole, both), 1e-20)
    return np.where(lags < 0.8 * count, alike, 0.0)
