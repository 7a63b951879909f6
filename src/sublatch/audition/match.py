"""Making candidates equally loud before anyone compares them."""

from __future__ import annotations

from collections.abc import Sequence

from sublatch.audition.plan import Match
from sublatch.signal.levels import Levels

SILENT_DBFS = -120.0
"""Peak below which a candidate counts as silent, such as one with its volume at 0: eight steps of a 24-bit file."""


def matching_gains(levels: Sequence[Levels], *, match: Match, headroom_db: float) -> tuple[list[float], str]:
    """Return the gain in dB that each candidate needs, and what was made equal.

    Parameters
    ----------
    levels
        Levels of each candidate of one take.
    match
        What shall be equal. Where loudness cannot be told (a take shorter than 0.4 s, or a candidate below the gate of
        BS.1770 at −70 LUFS), RMS stands in for it.
    headroom_db
        How far the largest peak stays below full scale.

    Returns
    -------
    tuple
        Gains in dB, and ``"loudness"``, ``"rms"``, ``"peak"`` or ``"none"``. A silent candidate gets 0 dB; where all
        are silent, nothing is made equal.

    Notes
    -----
    The common level is the highest at which no peak passes the headroom, and never above the loudest candidate's own:
    nothing is limited, and the loudest is at most turned down.
    """
    sounding = [item for item in levels if _sounds(item)]
    if not sounding:
        return [0.0] * len(levels), "none"
    if match == "loudness" and any(item.loudness_lufs is None for item in sounding):
        match = "rms"
    if match == "none":
        common = min(0.0, -headroom_db - max(_peak(item) for item in sounding))
        return [common if _sounds(item) else 0.0 for item in levels], match
    loudest = max(_quantity(item, match) for item in sounding)
    fitting = min(_quantity(item, match) - _peak(item) - headroom_db for item in sounding)
    target = min(loudest, fitting)
    return [target - _quantity(item, match) if _sounds(item) else 0.0 for item in levels], match


def _sounds(levels: Levels) -> bool:
    """Return whether a candidate is not silent."""
    return levels.peak_dbfs is not None and levels.rms_dbfs is not None and levels.peak_dbfs > SILENT_DBFS


def _quantity(levels: Levels, match: Match) -> float:
    """Return the level that the matching makes equal."""
    value = {"loudness": levels.loudness_lufs, "rms": levels.rms_dbfs, "peak": levels.peak_dbfs}[match]
    assert value is not None
    return value


def _peak(levels: Levels) -> float:
    """Return the true peak of a candidate that is not silent."""
    assert levels.peak_dbfs is not None
    return levels.peak_dbfs if levels.true_peak_dbtp is None else levels.true_peak_dbtp
