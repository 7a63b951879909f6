"""The loops that cannot be vectorised, written as plain Python and compiled in a second statement.

Every function here takes float64 arrays and floats, and knows neither units nor names of settings.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

Signal = NDArray[np.float64]
F = TypeVar("F", bound=Callable[..., Any])


def _compiled(function: F) -> F:
    """Return `function` compiled, its result kept on disk where the disk lets it."""
    try:
        return cast(F, numba.njit(cache=True, nogil=True)(function))
    except RuntimeError:  # no folder to keep it in
        return cast(F, numba.njit(nogil=True)(function))


def latch_loop(
    samples: Signal, fraction: float, decay: float, floor: float
) -> tuple[NDArray[np.int64], Signal, Signal]:
    """Find where a peak latch sets and resets.

    Parameters
    ----------
    samples
        What the comparator sees (n,).
    fraction
        Share of each peak store that is its threshold; 0 leaves the floor alone.
    decay
        What is left of a peak store after one sample.
    floor
        Least threshold.

    Returns
    -------
    tuple
        For each change, in turn set and reset: the sample before it, and the threshold there and one sample later.
    """
    where = np.empty(len(samples), np.int64)
    here = np.empty(len(samples))
    later = np.empty(len(samples))
    count = 0
    high = low = 0.0
    is_set = False
    for n in range(len(samples)):
        x = samples[n]
        if is_set:
            now, then = -max(fraction * low * decay, floor), -max(fraction * low, floor)
            crossed = x < now
        else:
            now, then = max(fraction * high * decay, floor), max(fraction * high, floor)
            crossed = x > now
        if crossed:
            where[count], here[count], later[count] = max(n - 1, 0), then, now
            count += 1
            is_set = not is_set
        high = max(x, high * decay)
        low = max(-x, low * decay)
    return where[:count].copy(), here[:count].copy(), later[:count].copy()


def level_loop(samples: Signal, target: float, rise: float, fall: float, most_gain: float) -> Signal:
    """Even out the level of a signal.

    Parameters
    ----------
    samples
        The signal (n,).
    target
        Peak level aimed at.
    rise, fall
        Share of the way to a higher and to a lower level that one sample covers.
    most_gain
        Largest gain.
    """
    out = np.empty(len(samples))
    level = 0.0
    for n in range(len(samples)):
        size = abs(samples[n])
        level += (size - level) * (rise if size > level else fall)
        out[n] = samples[n] * min(target / max(level, 1e-12), most_gain)
    return out


find_latches = _compiled(latch_loop)
even_level = _compiled(level_loop)
