"""The lowest and the highest pitch of a take's notes."""

from __future__ import annotations

import numpy as np

from sublatch.pitch.notes import find_notes
from sublatch.pitch.reference.track import reference_pitch
from sublatch.pitch.segments import hops
from sublatch.takes.take import Take

ABOVE_HUM_DB = 10.0
"""How far above the hum of a take's rests a note must rise, in decibels."""


def pitch_range(take: Take, *, hum_rms: float = 0.0) -> tuple[float, float] | None:
    """Return the lowest and the highest pitch of a take's notes.

    Parameters
    ----------
    take
        Of any length.
    hum_rms
        RMS of the mains hum in its rests, full scale being 1: what is not 10 dB louder is that hum.

    Returns
    -------
    tuple of float, or None
        Both in hertz; None when no note is found.

    Notes
    -----
    Of each note the 5th and the 95th percentile count, so that a slide's ends do.
    """
    notes = find_notes(take).notes
    if hum_rms > 0.0 and notes:
        level_db = reference_pitch(take).level_db
        least_db = 20.0 * np.log10(hum_rms) + ABOVE_HUM_DB
        notes = tuple(n for n in notes if np.max(level_db[hops(n.start_s) : hops(n.end_s)]) > least_db)
    return (min(n.lowest_hz for n in notes), max(n.highest_hz for n in notes)) if notes else None
