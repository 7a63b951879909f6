"""One gain a take, so that a listener who goes from take to take need not turn the volume."""

from __future__ import annotations

from collections.abc import Sequence

from sublatch.audition.listen.results import TakeResult

MOST_CUT_DB = 20.0
"""A take softer than the loudest by more than this is left as it is, rather than bring the others down to it."""


def take_gains_db(takes: Sequence[TakeResult]) -> list[float]:
    """Return the gain of each take that makes their bypassed takes equally loud, as heard.

    Parameters
    ----------
    takes
        All takes of an audition, those that could not be used among them.

    Returns
    -------
    list of float
        Gains in dB, none above 0 so that nothing clips, to a tenth. 0 where the loudness cannot be told, and for a take
        that lies more than `MOST_CUT_DB` below the loudest.
    """
    levels = [_loudness_lufs(take) for take in takes]
    loudest = max((level for level in levels if level is not None), default=0.0)
    compared = [level for level in levels if level is not None and level >= loudest - MOST_CUT_DB]
    target = min(compared, default=0.0)
    return [0.0 if level is None or level not in compared else 0.0 - round(level - target, 1) for level in levels]


def _loudness_lufs(take: TakeResult) -> float | None:
    """Return how loud a take is heard without an effect, None where it cannot be told."""
    if not take.candidates:
        return None
    bypassed = take.candidates[0]
    level = (bypassed.heard_levels or bypassed.levels).loudness_lufs
    return None if level is None else level + bypassed.gain_db
