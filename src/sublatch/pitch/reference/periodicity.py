"""Periodicity: how alike a short stretch of sound is to itself a period later, for every pitch that is tried.

Between two onsets less than a quarter of a second apart a spectrum blurs the partials of low notes; the sound itself
still repeats.
"""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Array
from sublatch.pitch.reference.excerpts import RATE_HZ, Excerpts

SHORT_S = 0.25
"""Stretches between onsets that are shorter are looked at."""
WEIGHT = 2.0
"""What a sound that repeats itself brings its pitch, 1 being what the first partial brings."""
OCTAVE_GAIN = 0.3
"""What the octave above has ahead, since two periods repeat as one does."""
CHANCE = 0.15
"""How much noise repeats itself by chance: so short a stretch of it stays under 0.36 (measured)."""
LONGEST = 0.8
"""The longest period that a stretch can tell, as a share of it."""
FEWEST = 8
"""Samples that a stretch must have."""
FINER = 4
"""By how many times finer than the samples a period is told."""


def periodicities(sound: Array, where: Excerpts, pitch_hz: Array) -> dict[int, Array]:
    """Return how periodic each short stretch is at each pitch, by its number.

    Parameters
    ----------
    sound
        At 4 kHz (n,).
    where
        Its stretches between onsets.
    pitch_hz
        Pitches (p,) that are tried.

    Returns
    -------
    dict of int to ndarray
        2 Σ x(t) x(t + T) / Σ (x(t)² + x(t + T)²) of each pitch (p,), 1 for a sound that repeats itself.
    """
    bounds = np.clip(np.round(where.bounds_s * RATE_HZ), 0, len(sound)).astype(int)
    short = np.flatnonzero(where.bounds_s[:, 1] - where.bounds_s[:, 0] < SHORT_S)
    return {int(span): _likeness(sound[slice(*bounds[span])], RATE_HZ / pitch_hz) for span in short}


def octave_gains(pitch_hz: Array) -> Array:
    """Return what each of the pitches that are tried (p,) has ahead of the lowest, by octaves."""
    return np.asarray(OCTAVE_GAIN * np.log2(pitch_hz / pitch_hz[0]))


def _likeness(part: Array, lags: Array) -> Array:
    """Return how alike a part is to itself so many samples later; 0 where it is too short to tell."""
    count = len(part)
    if count < FEWEST:
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
    product = np.interp(at * FINER, np.arange(len(products)), products)
    alike = 2 * product / np.maximum(np.interp(at, whole, both), 1e-20)
    return np.where(lags < LONGEST * count, alike, 0.0)
