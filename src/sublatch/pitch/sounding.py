"""How much of what sounds in a take is in no counted note."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from sublatch.pitch.notes import END_DB, Note
from sublatch.pitch.reference.track import SILENT_DB, PitchTrack

REACH_S = 0.02
"""How far a note reaches beyond its ends in the level, in seconds, which takes in the 40 ms around a moment."""


def uncounted_share(track: PitchTrack, notes: Iterable[Note]) -> float | None:
    """Return the share of a take's sounding time that is in no counted note, 0 to 1; None where nothing sounds.

    Parameters
    ----------
    track
        The take's pitch and level. It sounds where the level is less than 40 dB under its highest, the same fall at
        which a note ends.
    notes
        The notes that are counted. What else sounds are notes of unsure octave, chords, dead notes and noise.
    """
    level_db, time_s = track.level_db, track.time_s
    loudest_db = float(np.max(level_db, initial=-np.inf))
    if loudest_db <= SILENT_DB:
        return None
    counted = np.zeros(len(time_s), dtype=np.bool_)
    for note in notes:
        counted |= (time_s > note.start_s - REACH_S) & (time_s < note.end_s + REACH_S)
    return float(np.mean(~counted[level_db > max(loudest_db - END_DB, SILENT_DB)]))
