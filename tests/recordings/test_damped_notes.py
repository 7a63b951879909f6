"""Recorded notes that are damped, slowly or at once, stay one note: what fades is no softer stroke."""

import numpy as np
import pytest

from recordings.soundfont import bass_notes, requires_soundfont
from sublatch.pitch.notes import find_notes
from sublatch.takes.take import take_from_samples
from sublatch.units.scales import hz_to_note

pytestmark = [pytest.mark.recordings, requires_soundfont]


@pytest.mark.long
@pytest.mark.parametrize("held_s", [0.4, 1.2])
@pytest.mark.parametrize("damping_db_per_s", [30, 60, 100, 200, 600])
def test_a_damped_note_is_one_note(damping_db_per_s, held_s, rng):
    """Over noise 70 dB under the note's peak."""
    for note in bass_notes():
        rate = note.sample_rate
        sound = note.samples[: round(rate * (held_s + 0.6))] / np.max(np.abs(note.samples))
        time_s = np.arange(len(sound)) / rate
        sound = sound * 10 ** (-damping_db_per_s * np.maximum(0, time_s - held_s) / 20)
        sound = np.concatenate([np.zeros(rate // 4), sound])
        sound += 10 ** (-70 / 20) * rng.standard_normal(len(sound))
        found = find_notes(take_from_samples(0.5 * sound, rate)).notes
        assert [one.name for one in found] == [hz_to_note(note.pitch_hz)], note.name
