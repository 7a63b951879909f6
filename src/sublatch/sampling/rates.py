"""Other sample rates: twice as high where a signal is bent or switched, and what a standard asks for."""

from __future__ import annotations

import numpy as np
import soxr

from sublatch.arrays import Signal

QUALITY = "VHQ"
"""soxr's 28-bit setting: passband to 0.456 of the lower rate within 1e-9, what would fold 170 dB down (measured)."""


def doubled(samples: Signal) -> Signal:
    """Return a signal (n,) at twice its rate (2n,), aligned with it."""
    return _resized(resampled(samples, 1, 2), 2 * len(samples))


def halved(samples: Signal) -> Signal:
    """Return a signal (n,) at half its rate, every second sample kept in its place ((n + 1) // 2,)."""
    return _resized(resampled(samples, 2, 1), (len(samples) + 1) // 2)


def resampled(samples: Signal, rate: float, new_rate: float, *, quality: str = QUALITY) -> Signal:
    """Return a signal (n,) at another rate, aligned with it."""
    if rate == new_rate or len(samples) == 0:
        return samples
    return np.asarray(soxr.resample(samples, rate, new_rate, quality=quality), dtype=np.float64)


def _resized(samples: Signal, count: int) -> Signal:
    """Return a signal cut or filled with silence to a length that resampling missed by a sample."""
    if len(samples) >= count:
        return samples[:count]
    return np.concatenate((samples, np.zeros(count - len(samples))))
