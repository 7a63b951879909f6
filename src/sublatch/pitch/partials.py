"""Partials: the peaks of short spectra, one spectrum every 10 ms."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sublatch.arrays import Array, Single, Whole

HOP_S = 0.01
"""Time from one pitch to the next, in seconds."""
RATE_HZ = 4000
"""Sample rate at which partials are looked for."""
RANGE_DB = 80.0
"""How far under a moment's strongest partial another one still counts; the window's side lobes lie lower."""
BLOCK = 1024
"""Moments that are worked on at a time, to save memory."""

_HOP = round(HOP_S * RATE_HZ)
_WINDOW = 704
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


def find_peaks(sound: Array, count: int) -> Peaks:
    """Return the peaks of the spectra around each moment, about 10 s at a time to save memory."""
    padded = np.pad(sound, (_WINDOW // 2, _WINDOW + _HOP)).astype(np.float32)
    frames = np.lib.stride_tricks.sliding_window_view(padded, _WINDOW)[::_HOP][:count]
    found = [_peaks_of(frames[first : first + BLOCK], first) for first in range(0, count, BLOCK)]
    return Peaks(
        np.concatenate([part.frame for part in found]),
        np.concatenate([part.hz for part in found]),
        np.concatenate([part.height for part in found]),
    )


@lru_cache(maxsize=1)
def _window() -> Single:
    """Return a four-term Blackman-Harris window (Harris, Proc. IEEE 66:51, 1978, from memory): lobes at −92 dB."""
    turn = 2 * np.pi * np.arange(_WINDOW) / _WINDOW
    terms = (0.35875, -0.48829, 0.14128, -0.01168)
    return np.asarray(sum(a * np.cos(k * turn) for k, a in enumerate(terms)), dtype=np.float32)


def _peaks_of(frames: Single, first: int) -> Peaks:
    """Return the peaks of some moments, those that stand out of the noise and are within range of the highest."""
    spectrum = np.fft.rfft(frames * _window(), _FFT, axis=1)[:, :_STOP_BIN]
    level = 10 * np.log10(spectrum.real**2 + spectrum.imag**2 + np.float32(1e-16))
    sample = level[:, _FIRST_BIN::4]
    quarter = sample.shape[1] // 4
    floor = np.partition(sample, quarter, axis=1)[:, quarter] + _ABOVE_FLOOR_DB
    base = np.maximum(level.max(axis=1) - RANGE_DB, floor)
    inner = level[:, _FIRST_BIN:-2]
    higher = inner > base[:, None]
    for step in (-2, -1):
        higher &= inner > level[:, _FIRST_BIN + step : step - 2]
    higher &= (inner >= level[:, _FIRST_BIN + 1 : -1]) & (inner >= level[:, _FIRST_BIN + 2 :])
    row, column = np.nonzero(higher)
    left, here, right = (level[row, column + _FIRST_BIN + step].astype(float) for step in (-1, 0, 1))
    shift = 0.5 * (left - right) / (left - 2 * here + right)
    return Peaks(row + first, (column + _FIRST_BIN + shift) * RATE_HZ / _FFT, (here - base[row]) / RANGE_DB)
