"""Where a candidate's weight lies, against the bypassed take and against the bed it is heard with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sublatch.arrays import Signal
from sublatch.sampling.bands import NOMINAL_HZ

REGIONS_HZ = (10.0, 80.0, 300.0, 1500.0)
"""Edges of weight, body and bite; from 10 Hz on, so that an offset weighs nothing."""
FAINTEST_DB = 60.0
"""How far below all three a region may lie and still be told: what is fainter is leaked or rounded."""
HEARD_DB = 40.0
"""How far under its strongest band the bass still counts as standing above a bed."""


@dataclass(frozen=True)
class Balance:
    """A candidate's levels in three regions, in dB relative to the bypassed take; None where either has nothing there.

    Attributes
    ----------
    weight_db
        Below 80 Hz.
    body_db
        From 80 Hz to 300 Hz.
    bite_db
        From 300 Hz to 1.5 kHz.
    """

    weight_db: float | None
    body_db: float | None
    bite_db: float | None


@dataclass(frozen=True)
class Standing:
    """Third-octave levels of a bass and of the bed it is heard with.

    Attributes
    ----------
    bands_hz
        The bands' nominal mid-band frequencies.
    bass_db, bed_db
        Levels in dB relative to a full-scale sine; None in a band without anything.
    above_hz
        The bands in which the bass stands above the bed, of those that are within 40 dB of its strongest.
    """

    bands_hz: tuple[float, ...]
    bass_db: tuple[float | None, ...]
    bed_db: tuple[float | None, ...]
    above_hz: tuple[float, ...]


def balance(candidate_powers: Sequence[float], bypassed_powers: Sequence[float], *, gain_db: float) -> Balance:
    """Return where a candidate is fuller or thinner than the bypassed take.

    Parameters
    ----------
    candidate_powers, bypassed_powers
        Mean squares (3,) of the candidate and the bypassed take in the regions, from `Measurements`.
    gain_db
        How much more the matching gives the candidate.

    Notes
    -----
    The mean square of each region's spectrum over the whole take (see `powers_between`). The regions' names and edges
    are common practice, no source.
    """
    return Balance(
        *(
            float(10 * np.log10(candidate / bypassed)) + gain_db if candidate and bypassed else None
            for candidate, bypassed in zip(candidate_powers, bypassed_powers, strict=True)
        )
    )


def standing(bass_db: Sequence[float | None], bed_db: Sequence[float | None]) -> Standing:
    """Return how a bass stands to the bed it is heard with, band by band.

    Parameters
    ----------
    bass_db, bed_db
        Third-octave levels (25,) as heard, gains and voicing included, from `Measurements`; the bed's while the bass
        plays.
    """
    faintest_db = max((level_db for level_db in bass_db if level_db is not None), default=0.0) - HEARD_DB
    above = tuple(
        hertz
        for hertz, level_db, bed_level_db in zip(NOMINAL_HZ, bass_db, bed_db, strict=True)
        if level_db is not None and level_db >= faintest_db and (bed_level_db is None or level_db > bed_level_db)
    )
    return Standing(NOMINAL_HZ, tuple(bass_db), tuple(bed_db), above)


def audible_powers(powers: Signal) -> Signal:
    """Return mean squares in weight, body and bite (3,), 0 in place of what is too faint to be told."""
    faintest = 10 ** (-FAINTEST_DB / 10) * float(np.sum(powers))
    return np.where(powers > faintest, powers, 0.0)
