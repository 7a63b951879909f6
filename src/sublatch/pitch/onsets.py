"""Onsets: when something is plucked, told from a rise in many bands of the spectrum at once."""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Array
from sublatch.pitch.partials import RATE_HZ

HOP_SAMPLES = 20
"""Samples from one look to the next: 5 ms."""
WINDOW_SAMPLES = 64
"""Samples a look takes in: 16 ms."""
HOLD_HOPS = 5
"""Looks before among which the loudest counts: with the window, a period of a low B and more."""
BANDS = (1, 2, 3, 4, 5, 7, 9, 12, 16, 21, 29)
"""Edges of the bands, in steps of 62.5 Hz."""
RANGE_DB = 60.0
"""How far under the loudest band of the take a rise still counts, in decibels."""
MOST_DB = 3.0
"""The most that one band's rise counts, in decibels."""
LEAST_DB = 1.0
"""Mean rise of the bands, in decibels, from which there is an onset."""
APART_S = 0.09
"""Onsets closer than this are one: finger, string and fret seldom sound at once."""
AFTER_S = 0.16
ECHO = 0.5
"""For as long after an onset, in seconds, another must rise at least by this share of it."""
CLEARER = 1.5
"""Of two that close the first counts, unless the second one's rise is so many times as large."""

_NEAR_HOPS = 6


def onsets(sound: Array) -> Array:
    """Return when something is plucked.

    Parameters
    ----------
    sound
        At 4 kHz, of shape (n,).

    Returns
    -------
    ndarray of shape (m,)
        In seconds, where the bands rise above all that they had in the 40 ms before.
    """
    rise_db = _rises_db(sound)
    padded = np.pad(rise_db, _NEAR_HOPS)
    near = np.lib.stride_tricks.sliding_window_view(padded, 2 * _NEAR_HOPS + 1).max(axis=1)
    found: list[int] = []
    for place in np.flatnonzero((rise_db >= LEAST_DB) & (rise_db == near)):
        since_s = (place - found[-1]) * HOP_SAMPLES / RATE_HZ if found else np.inf
        ratio = rise_db[place] / rise_db[found[-1]] if found else 1.0
        if since_s > AFTER_S or (since_s > APART_S and ratio > ECHO):
            found.append(int(place))
        elif ratio > CLEARER:
            found[-1] = int(place)
    return np.maximum((np.array(found, dtype=np.float64) * HOP_SAMPLES - 0.25 * WINDOW_SAMPLES) / RATE_HZ, 0.0)


def _rises_db(sound: Array) -> Array:
    """Return by how much the bands rise, every 5 ms, in decibels and on average; a fall counts as nothing."""
    padded = np.pad(sound, (WINDOW_SAMPLES, 0)).astype(np.float32)
    frames = np.lib.stride_tricks.sliding_window_view(padded, WINDOW_SAMPLES)[::HOP_SAMPLES]
    spectrum = np.fft.rfft(frames * np.hanning(WINDOW_SAMPLES).astype(np.float32), axis=1)
    power = np.add.reduceat(spectrum.real**2 + spectrum.imag**2, BANDS, axis=1)[:, :-1]
    level_db = 10 * np.log10(power.astype(float) + 1e-20)
    level_db = np.maximum(level_db, np.max(level_db) - RANGE_DB)
    before = np.concatenate([np.full((1, level_db.shape[1]), np.min(level_db)), _highest(level_db, HOLD_HOPS)])
    rise = np.clip(_highest(level_db, 2)[2:] - before[: len(level_db) - 2], 0.0, MOST_DB)
    return np.asarray(np.mean(rise, axis=1))


def _highest(level_db: Array, back: int) -> Array:
    """Return each band's highest level, its own and those of some moments before."""
    padded = np.pad(level_db, ((back, 0), (0, 0)), constant_values=np.min(level_db))
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, back + 1, axis=0).max(axis=-1))
