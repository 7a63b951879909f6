"""Making candidates equally loud before anyone compares them, as they are heard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log10

from sublatch.audition.plan.records import Match
from sublatch.sampling.levels import Levels

SILENT_DBFS = -120.0
"""Peak below which a candidate counts as silent, such as one with its volume at 0: eight steps of a 24-bit file."""


@dataclass(frozen=True)
class Gains:
    """What makes a take's candidates equal.

    Attributes
    ----------
    files_db
        Gain of each candidate's file: equal as they are heard, through the voicing where there is one.
    plain_db
        Gain of each that makes them equal, and as loud as that, without the voicing.
    bed_db
        Gain of the bed; None without one.
    matched_by
        What was made equal.
    """

    files_db: tuple[float, ...]
    plain_db: tuple[float, ...]
    bed_db: float | None
    matched_by: str


def heard_gains(
    plain: Sequence[Levels],
    *,
    heard: Sequence[Levels] | None = None,
    bed: Levels | None = None,
    bed_level_db: float = 0.0,
    match: Match,
    headroom_db: float,
) -> Gains:
    """Return the gains that make candidates equal as they are heard, and the bed's.

    Parameters
    ----------
    plain
        Levels of each candidate of one take as its circuit gives it, the bypassed take first.
    heard
        Levels of the same through the voicing; the plain ones without a voicing.
    bed
        Levels of what of the bed sounds with the take, if there is one.
    bed_level_db
        How loud the bed is against the bypassed take, both as heard; by RMS where a loudness cannot be told.
    match, headroom_db
        As in `matching_gains`.

    Notes
    -----
    All are brought to one level, through the voicing and without it, so that switching it off leaves them as loud as
    they were. It is the highest at which no peak passes the headroom: of the files, of what is heard, and of either
    with the bed, whose peaks may fall together.
    """
    if heard is None:
        gains_db, matched_by = matching_gains(plain, match=match, headroom_db=headroom_db)
        gains_db += gains_db
    else:
        gains_db, matched_by = matching_gains(
            [*heard, *plain], match=match, headroom_db=headroom_db, fitting=[*plain, *plain]
        )
    if bed is None:
        return Gains(tuple(gains_db[: len(plain)]), tuple(gains_db[len(plain) :]), None, matched_by)
    all_sounds = [*(heard or plain), *plain]
    bed_db = _bed_gain_db(bed, all_sounds[0], gains_db[0], bed_level_db)
    levelled = zip(all_sounds, gains_db, strict=True)
    peak = max((_ratio(_peak(sound) + gain_db) for sound, gain_db in levelled if is_audible(sound)), default=0.0)
    bed_peak = _ratio(_peak(bed) + bed_db) if bed.peak_dbfs is not None else 0.0
    excess_db = max(0.0, 20 * log10(peak + bed_peak) + headroom_db) if peak + bed_peak else 0.0
    lowered_db = [gain_db - excess_db for gain_db in gains_db]
    return Gains(tuple(lowered_db[: len(plain)]), tuple(lowered_db[len(plain) :]), bed_db - excess_db, matched_by)


def _bed_gain_db(bed: Levels, bypassed: Levels, gain_db: float, bed_level_db: float) -> float:
    """Return the gain that makes a bed so loud against the bypassed take; 0 dB where neither level can be told."""
    for own_db, bypassed_db in ((bed.loudness_lufs, bypassed.loudness_lufs), (bed.rms_dbfs, bypassed.rms_dbfs)):
        if own_db is not None and bypassed_db is not None:
            return bypassed_db + gain_db + bed_level_db - own_db
    return 0.0


def _ratio(level_db: float) -> float:
    """Return a level as a ratio to full scale."""
    return float(10 ** (level_db / 20))


def matching_gains(
    levels: Sequence[Levels], *, match: Match, headroom_db: float, fitting: Sequence[Levels] | None = None
) -> tuple[list[float], str]:
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
    fitting
        Levels of sounds, one for each candidate, that get the same gain and must fit too.

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
    pairs = list(zip(levels, fitting or levels, strict=True))
    audible = [sound for sound in levels if is_audible(sound)]
    peaks_db = [max(_peak(sound) for sound in pair if is_audible(sound)) for pair in pairs if is_audible(pair[0])]
    silent_gains_db = [_silent_gain(fitted, headroom_db) for _, fitted in pairs]
    if not audible:
        return silent_gains_db, "none"
    if match == "loudness" and any(sound.loudness_lufs is None for sound in audible):
        match = "rms"
    levels_db = [matched_level_db(sound, match) for sound in audible]
    fitting_db = min(level_db - peak_db - headroom_db for level_db, peak_db in zip(levels_db, peaks_db, strict=True))
    target_db = min(max(levels_db), fitting_db)
    gains_db = [
        target_db - matched_level_db(sound, match) if is_audible(sound) else silent_gain_db
        for sound, silent_gain_db in zip(levels, silent_gains_db, strict=True)
    ]
    return gains_db, match


def _silent_gain(fitting: Levels, headroom_db: float) -> float:
    """Return the gain of what is not heard: 0 dB, unless the sound that gets the same gain would not fit."""
    return min(0.0, -headroom_db - _peak(fitting)) if is_audible(fitting) else 0.0


def is_audible(levels: Levels) -> bool:
    """Return whether a candidate is not silent."""
    return levels.peak_dbfs is not None and levels.rms_dbfs is not None and levels.peak_dbfs > SILENT_DBFS


def matched_level_db(levels: Levels, match: Match) -> float:
    """Return the level that the matching makes equal: where nothing is, 0 dB for every candidate."""
    levels_db = {"loudness": levels.loudness_lufs, "rms": levels.rms_dbfs, "peak": levels.peak_dbfs, "none": 0.0}
    level_db = levels_db[match]
    assert level_db is not None
    return level_db


def _peak(levels: Levels) -> float:
    """Return the true peak of a candidate that is not silent."""
    assert levels.peak_dbfs is not None
    return levels.peak_dbfs if levels.true_peak_dbtp is None else levels.true_peak_dbtp
