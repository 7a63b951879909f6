"""How soon and how evenly a drive locks, over several notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sublatch.tracking.lock import EARLY_S, Lock


@dataclass(frozen=True)
class LockSums:
    """How soon and how evenly a drive locks, over several notes; None where there is nothing to tell it from.

    Attributes
    ----------
    median_first_lock_ms, p90_first_lock_ms
        Milliseconds from a note's start within which half of the notes and nine in ten of them have locked. A note that
        never locks is later than any other; None where it takes such a one to reach that many.
    early_locked_share
        Share of time with lock in the notes' first 150 ms, 0 to 1, every second counting alike.
    uneven_share
        Share of the drive's periods in lock that alternate, 0 to 1, every second in lock counting alike.
    """

    median_first_lock_ms: float | None = None
    p90_first_lock_ms: float | None = None
    early_locked_share: float | None = None
    uneven_share: float | None = None


def lock_sums(locks: Sequence[tuple[float, Lock]]) -> LockSums:
    """Return how soon and how evenly a drive locks, over several notes.

    Parameters
    ----------
    locks
        The length in seconds and the lock of each note.
    """
    first_ms = [np.inf if lock.first_lock_ms is None else lock.first_lock_ms for _, lock in locks]
    return LockSums(
        median_first_lock_ms=_within(first_ms, 50.0),
        p90_first_lock_ms=_within(first_ms, 90.0),
        early_locked_share=_mean([(min(seconds, EARLY_S), lock.early_locked_share) for seconds, lock in locks]),
        uneven_share=_mean([(seconds * lock.locked_share, lock.uneven_share) for seconds, lock in locks]),
    )


def _within(first_ms: list[float], percent: float) -> float | None:
    """Return the least of some times within which so many of them lie; None without an end."""
    found = float(np.percentile(first_ms, percent, method="inverted_cdf")) if first_ms else np.inf
    return found if np.isfinite(found) else None


def _mean(weighed: list[tuple[float, float | None]]) -> float | None:
    """Return the mean of the shares that are known, each with its weight; None without any."""
    known = [(weight, share) for weight, share in weighed if share is not None]
    total = sum(weight for weight, _ in known)
    return sum(weight * share for weight, share in known) / total if total else None
