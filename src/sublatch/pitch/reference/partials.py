"""Partials: the peaks of short spectra, one spectrum every 10 ms."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sublatch.arrays import Array, Single, Whole
from sublatch.pitch.reference.excerpts import LENGTHS_S, RATE_HZ, Excerpts

RANGE_DB = 80.0
"""How far under a moment's strongest partial another one may lie; the longest window's side lobes lie lower."""
BLOCK = 1024
"""Moments that are worked on at a time, to save memory."""

SHORT_RANGE_DB = 10.0
BETA_DB = 5.3
"""Likewise in a Kaiser window: so far under the strongest, and so much more for each step of its β."""
BETAS = (4.0, 7.0)
"""β of the shortest and of the longest but one: a short window must tell partials apart before it hides lobes."""

_FFT = 2048
_FIRST_BIN = 13
_STOP_BIN = 920
_ABOVE_FLOOR_DB = 9.0


@dataclass(frozen=True)
class Peaks:
    """Peaks of the spectra: the moment, the frequency, and the height in shares of `RANGE_DB` of each."""

    frame: Whole
    hz: Array
    height: Array


def find_peaks(sound: Array, where: Excerpts) -> Peaks:
    """Return the peaks of the spectrum of each excerpt of a sound (n,) at 4 kHz, by moments."""
    ahead = max(-int(np.min(where.first)), 0)
    longest = round(LENGTHS_S[-1] * RATE_HZ)
    behind = max(int(np.max(where.first)) + longest - len(sound), 0)
    padded = np.pad(sound, (ahead, behind)).astype(np.float32)
    found = []
    for length in range(len(LENGTHS_S)):
        moments = np.flatnonzero(where.length == length)
        window = _window(length)
        frames = np.lib.stride_tricks.sliding_window_view(padded, len(window))
        for some in np.array_split(moments, 1 + len(moments) // BLOCK):
            if len(some):
                found.append(_peaks_of(frames[where.first[some] + ahead] * window, some, _range_db(length)))
    frame = np.concatenate([part.frame for part in found])
    order = np.argsort(frame, kind="stable")
    hz, height = (np.concatenate([getattr(part, name) for part in found])[order] for name in ("hz", "height"))
    return Peaks(frame[order], hz, height)


def _beta(length: int) -> float:
    """Return the β of a short window."""
    return float(np.interp(length, (0, len(LENGTHS_S) - 2), BETAS))


def _range_db(length: int) -> float:
    """Return how far under the strongest partial another one counts."""
    return RANGE_DB if length == len(LENGTHS_S) - 1 else SHORT_RANGE_DB + BETA_DB * _beta(length)


@lru_cache(maxsize=len(LENGTHS_S))
def _window(length: int) -> Single:
    """Return the window of a length: the longest of four terms, the others Kaiser's.

    Four-term Blackman-Harris (Harris, Proc. IEEE 66:51, 1978, from memory): lobes at −92 dB.
    """
    count = round(LENGTHS_S[length] * RATE_HZ)
    if length < len(LENGTHS_S) - 1:
        return np.kaiser(count, _beta(length)).astype(np.float32)
    turn = 2 * np.pi * np.arange(count) / count
    terms = (0.35875, -0.48829, 0.14128, -0.01168)
    return np.asarray(sum(a * np.cos(k * turn) for k, a in enumerate(terms)), dtype=np.float32)


def _peaks_of(frames: Single, moments: Whole, range_db: float) -> Peaks:
    """Return the peaks of some moments, those that stand out of the noise and are within range of the highest."""
    spectrum = np.fft.rfft(frames, _FFT, axis=1)[:, :_STOP_BIN]
    level = 10 * np.log10(spectrum.real**2 + spectrum.imag**2 + np.float32(1e-16))
    sample = level[:, _FIRST_BIN::4]
    quarter = sample.shape[1] // 4
    floor = np.partition(sample, quarter, axis=1)[:, quarter] + _ABOVE_FLOOR_DB
    base = np.maximum(level.max(axis=1) - range_db, floor)
    inner = level[:, _FIRST_BIN:-2]
    higher = inner > base[:, None]
    for step in (-2, -1):
        higher &= inner > level[:, _FIRST_BIN + step : step - 2]
    higher &= (inner >= level[:, _FIRST_BIN + 1 : -1]) & (inner >= level[:, _FIRST_BIN + 2 :])
    row, column = np.nonzero(higher)
    left, here, right = (level[row, column + _FIRST_BIN + step].astype(float) for step in (-1, 0, 1))
    shift = 0.5 * (left - right) / (left - 2 * here + right)
    return Peaks(moments[row], (column + _FIRST_BIN + shift) * RATE_HZ / _FFT, (here - base[row]) / range_db)
