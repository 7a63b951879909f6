"""The pitches that are tried, and what a partial brings each of them."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from sublatch.arrays import Array, Single, Whole
from sublatch.pitch.reference.partials import BLOCK, RANGE_DB, Peaks

LOWEST_TRIED_HZ = 21.0
STEP_CENTS = 20
COUNT = 385
"""Some lie beyond the range of pitches, lest what sounds there be taken for something else."""
OCTAVE = 1200 // STEP_CENTS
"""Candidates in an octave."""
STIFFNESS = 2e-4
"""Inharmonicity B that strings are taken to have; the tolerance covers 0 to about 1e-3."""
PARTIALS = 12
FADE = 0.93
"""What each further partial brings less, as a factor."""
STRAY = 0.6
"""What a peak that is no partial costs, 1 being what the first partial brings."""
NEAR_CENTS = 22.0
LOOSER_CENTS = 0.25
"""How far a peak may be from a partial, in cents, and by how much further times the partial's number squared."""
REFINING_PARTIALS = 8
REFINING_CENTS = 45.0
"""The partials, and how far off, in cents, from which the pitch is told to a fraction of a step."""
AROUND = 9
"""Moments over which clarity is told."""

_PEAKS_FROM_HZ = 25.0
_PEAK_CENTS = 5
_PEAK_STEPS = 1490


def candidates_hz() -> Array:
    """Return the pitches that are tried (385,), in hertz."""
    return np.asarray(LOWEST_TRIED_HZ * 2.0 ** (np.arange(COUNT) * STEP_CENTS / 1200))


def spectral_scores(peaks: Peaks, count: int) -> Single:
    """Return how well each pitch accounts for each moment (count, 385): the peaks, spread out, times the gains."""
    steps = np.round(1200 * np.log2(peaks.hz / _PEAKS_FROM_HZ) / _PEAK_CENTS).astype(np.intp)
    step = np.clip(steps, 0, _PEAK_STEPS - 1)
    scores = []
    for first in range(0, count, BLOCK):
        rows = min(BLOCK, count - first)
        block = slice(*np.searchsorted(peaks.frame, (first, first + rows)))
        cell = (peaks.frame[block] - first) * _PEAK_STEPS + step[block]
        spread = np.bincount(cell, peaks.height[block], rows * _PEAK_STEPS).reshape(rows, _PEAK_STEPS)
        scores.append(spread.astype(np.float32) @ _gains())
    return np.concatenate(scores)


def spectral_clarity(peaks: Peaks, pitch_hz: Array) -> Array:
    """Return how much of the peaks' amplitude a pitch (k,) accounts for, over 90 ms around each moment (k,)."""
    amplitude = 10.0 ** ((peaks.height - 1.0) * RANGE_DB / 20)
    gain = _gain(peaks.hz, pitch_hz[peaks.frame])
    accounted, whole = (_around(peaks.frame, part, len(pitch_hz)) for part in (amplitude * gain, amplitude))
    return accounted / np.maximum(whole, 1e-12)


def refined(peaks: Peaks, pitch_hz: Array) -> Array:
    """Return a pitch (k,) as the low partials near it have it, the stronger the more."""
    number, off_cents, near_cents = _nearest_partial(peaks.hz, pitch_hz[peaks.frame])
    counts = (np.abs(off_cents) < np.minimum(2 * near_cents, REFINING_CENTS)) & (number <= REFINING_PARTIALS)
    weight = np.where(counts, peaks.height, 0.0) ** 2
    total = np.bincount(peaks.frame, weight, len(pitch_hz))
    mean_cents = np.bincount(peaks.frame, weight * off_cents, len(pitch_hz)) / np.maximum(total, 1e-12)
    return np.asarray(pitch_hz * 2.0 ** (mean_cents / 1200))


@lru_cache(maxsize=1)
def _gains() -> Single:
    """Return what a peak at each frequency brings each pitch (peaks, pitches)."""
    hz = _PEAKS_FROM_HZ * 2.0 ** (np.arange(_PEAK_STEPS) * _PEAK_CENTS / 1200)
    return _gain(hz[:, None], candidates_hz()[None, :], fade=FADE).astype(np.float32)


def _gain(hz: Array, pitch_hz: Array, *, fade: float = 1.0) -> Array:
    """Return what a peak brings a pitch: nothing far above its partials, where anything would be near one."""
    number, off_cents, near_cents = _nearest_partial(hz, pitch_hz)
    near = np.exp(-0.5 * (off_cents / near_cents) ** 4)
    telling = np.clip(1.5 - number / PARTIALS, 0.0, 1.0)
    return np.asarray(telling * (fade**number * near - STRAY * (1.0 - near)))


def _nearest_partial(hz: Array, pitch_hz: Array) -> tuple[Array, Array, Array]:
    """Return the partial that is nearest to a peak, by how many cents it misses it, and how near would be near."""
    ratio = hz / pitch_hz
    rough = np.maximum(np.round(ratio), 1.0)
    number = np.maximum(np.round(ratio / np.sqrt(1.0 + STIFFNESS * rough**2)), 1.0)
    off_cents = 1200 * np.log2(ratio / (number * np.sqrt(1.0 + STIFFNESS * number**2)))
    return number, off_cents, NEAR_CENTS + LOOSER_CENTS * number**2


def _around(frame: Whole, values: Array, count: int) -> Array:
    """Return the sum of what the peaks of the moments around each have."""
    sums = np.convolve(np.bincount(frame, values, count), np.ones(AROUND))
    return np.asarray(sums[AROUND // 2 :][:count])
