"""The bass that stands in for a take where a sound is compared: eight notes of the textbook's plucked string."""

from __future__ import annotations

import numpy as np

from sublatch.demo.strings import pluck
from sublatch.takes.take import Take, take_from_samples
from sublatch.units.scales import note_to_hz

NOTES = ("E1", "G1", "A1", "C2", "D2", "E2", "G2", "B2")
"""The open strings of a bass and what lies between and above them, as in a walking line."""
NOTE_SECONDS, NOTE_VOLTS, RATE = 0.6, 0.3, 24000


def standard_bass() -> Take:
    """Return eight plucked notes as a take."""
    notes = [
        pluck(note_to_hz(name), seconds=NOTE_SECONDS, sample_rate=RATE, level_volts=NOTE_VOLTS, seed=seed)
        for seed, name in enumerate(NOTES)
    ]
    return take_from_samples(np.concatenate(notes), RATE, name="a standard bass of eight plucked notes")
