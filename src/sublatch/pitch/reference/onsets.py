"""Onsets: when something is plucked, told from a rise in many bands of the spectrum at once."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.ndimage import percentile_filter

from sublatch.arrays import Array, Single, Whole
from sublatch.pitch.reference.excerpts import sound_of
from sublatch.takes.take import Take

RATE_HZ = 8000
"""Sample rate at which onsets are looked for: a pluck's own noise reaches beyond the partials."""
HOP_SAMPLES = 40
"""Samples from one spectrum to the next: 5 ms."""
WINDOW_SAMPLES = 256
"""Samples of one spectrum: 32 ms, a period of a low B."""
HELD_HOPS = 5
"""Spectra before, among which each band's loudest counts: with the window, a period of a low B and more."""
RISING_HOPS = 3
"""Spectra over which a band may take its time to rise."""
BANDS_PER_OCTAVE = 6
RANGE_DB = 60.0
"""How far under the loudest band of the take a rise still counts, in decibels."""
MOST_DB = 3.0
"""The most that one band's rise counts, in decibels."""
LEAST_DB = 0.8
"""Mean rise of the bands, in decibels, from which there is an onset."""
FAINT_DB = 0.55
"""Likewise, from which there may be one, if the pitch changes there."""
NOISE_TIMES = 1.5
NOISE_PERCENT = 25
NOISE_HOPS = 101
"""And so many times the lower quartile of the half second around more, since noise rises all the time."""
APART_S = 0.085
"""Onsets closer than this are one: finger, string and fret seldom sound at once."""
AFTER_S = 0.16
ECHO = 0.35
"""For as long after an onset, in seconds, another must rise at least by this share of it."""
CLEARER = 1.5
"""Of two that close the first counts, unless the second one's rise is so many times as large."""

_NEAR_HOPS = 6


def onsets(take: Take) -> tuple[Array, Array]:
    """Return when something is plucked, and when something may be.

    Parameters
    ----------
    take
        Of any length.

    Returns
    -------
    clear_s, faint_s : ndarray
        In seconds (m,), where the bands rise above all that they had in the 45 ms before, clearly, or clearly or
        faintly.
    """
    rise_db = _rises_db(sound_of(take, rate_hz=RATE_HZ))
    padded = np.pad(rise_db, _NEAR_HOPS)
    highest = np.lib.stride_tricks.sliding_window_view(padded, 2 * _NEAR_HOPS + 1).max(axis=1)
    noise_db = np.where(rise_db == highest, NOISE_TIMES * _usual(rise_db), np.inf)
    return _chosen_s(rise_db, LEAST_DB + noise_db), _chosen_s(rise_db, FAINT_DB + noise_db)


def _chosen_s(rise_db: Array, least_db: Array) -> Array:
    """Return when the mean rise (k,) is so high at least (k,), those left out that are an echo of the one before."""
    chosen: list[int] = []
    for hop in np.flatnonzero(rise_db >= least_db):
        since_s = (hop - chosen[-1]) * HOP_SAMPLES / RATE_HZ if chosen else np.inf
        ratio = rise_db[hop] / rise_db[chosen[-1]] if chosen else 1.0
        if since_s > AFTER_S or (since_s > APART_S and ratio > ECHO):
            chosen.append(int(hop))
        elif ratio > CLEARER:
            chosen[-1] = int(hop)
    return np.maximum((np.array(chosen, dtype=np.float64) * HOP_SAMPLES - 0.25 * WINDOW_SAMPLES) / RATE_HZ, 0.0)


def _usual(rise_db: Array) -> Array:
    """Return the lower quartile of the rises around each moment; ahead of the take there are none."""
    half = NOISE_HOPS // 2
    padded = np.concatenate((np.zeros(half), rise_db, rise_db[::-1][:half]))
    return np.asarray(percentile_filter(padded, NOISE_PERCENT, NOISE_HOPS)[half : half + len(rise_db)])


@lru_cache(maxsize=1)
def _bands() -> Whole:
    """Return the edges of the bands, in steps of the spectrum: a sixth of an octave each, and at least a step."""
    edges = [1]
    while edges[-1] < 0.98 * WINDOW_SAMPLES / 2:
        edges.append(max(edges[-1] + 1, round(edges[-1] * 2 ** (1 / BANDS_PER_OCTAVE))))
    return np.array(edges[:-1])


def _rises_db(sound: Array) -> Array:
    """Return by how much the bands rise, every 5 ms, in decibels and on average; a fall counts as nothing."""
    padded = np.pad(sound, (WINDOW_SAMPLES, RISING_HOPS * HOP_SAMPLES)).astype(np.float32)
    frames = np.lib.stride_tricks.sliding_window_view(padded, WINDOW_SAMPLES)[::HOP_SAMPLES]
    level_db = np.concatenate([_band_levels_db(some) for some in np.array_split(frames, 1 + len(frames) // 4096)])
    level_db = np.maximum(level_db, np.max(level_db) - RANGE_DB)
    before = np.concatenate([np.full((1, level_db.shape[1]), np.min(level_db)), _highest(level_db, HELD_HOPS)])
    rise = _highest(level_db, RISING_HOPS)[RISING_HOPS:] - before[: len(level_db) - RISING_HOPS]
    return np.asarray(np.mean(np.clip(rise, 0.0, MOST_DB), axis=1))


def _band_levels_db(frames: Single) -> Array:
    """Return the level of each band in each frame, in decibels."""
    spectrum = np.fft.rfft(frames * np.hanning(WINDOW_SAMPLES).astype(np.float32), axis=1)
    power = np.add.reduceat(spectrum.real**2 + spectrum.imag**2, _bands(), axis=1)[:, :-1]
    return np.asarray(10 * np.log10(power.astype(float) + 1e-20))


def _highest(level_db: Array, back: int) -> Array:
    """Return each band's highest level, its own and those of some moments before."""
    padded = np.pad(level_db, ((back, 0), (0, 0)), constant_values=np.min(level_db))
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, back + 1, axis=0).max(axis=-1))
