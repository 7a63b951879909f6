"""The reference pitch and the notes on recorded electric-bass notes, whose pitch their string and fret name."""

from __future__ import annotations

import mir_eval
import numpy as np
import pytest

from recordings.soundfont import OPEN_STRING_KEYS, bass_notes, pitch_of_key_hz, requires_soundfont
from sublatch.pitch.notes import find_notes
from sublatch.pitch.reference.track import reference_pitch
from sublatch.takes.take import take_from_samples
from sublatch.units.scales import cents, hz_to_note

pytestmark = [pytest.mark.recordings, requires_soundfont]

OPEN_HZ = [pitch_of_key_hz(key) for key in OPEN_STRING_KEYS.values()]


def until_40_db_down(track):
    """Whether each moment is within 40 dB of the loudest."""
    return track.level_db > np.max(track.level_db) - 40


def test_every_moment_is_right_until_the_note_is_40_db_down():
    """Frame by frame, attack included; an octave error anywhere fails."""
    accuracy = {}
    for note in bass_notes():
        track = reference_pitch(take_from_samples(note.samples, note.sample_rate))
        loud = until_40_db_down(track)
        time_s, found_hz = track.time_s[loud], np.nan_to_num(track.pitch_hz[loud])
        true_hz = np.full(len(time_s), note.pitch_hz)
        scores = mir_eval.melody.evaluate(time_s, true_hz, time_s, found_hz)
        accuracy[note.name] = scores["Raw Pitch Accuracy"]
        assert scores["Raw Chroma Accuracy"] == scores["Raw Pitch Accuracy"], note.name
    assert len(accuracy) == 35
    assert min(accuracy.values()) > 0.98, accuracy
    assert np.mean(list(accuracy.values())) > 0.99


def test_every_recording_is_one_note_named_right():
    for note in bass_notes():
        found = find_notes(take_from_samples(note.samples, note.sample_rate))
        assert len(found.notes) == 1, (note.name, found)
        one = found.notes[0]
        assert abs(cents(note.pitch_hz, one.pitch_hz)) < 50, note.name
        assert one.name == hz_to_note(note.pitch_hz), note.name
        assert one.open_string == any(abs(cents(note.pitch_hz, open_hz)) < 1 for open_hz in OPEN_HZ), note.name
        assert one.steady, note.name
        assert one.start_s < 0.06, note.name
        assert one.end_s > len(note.samples) / note.sample_rate - 0.2, note.name


@pytest.mark.parametrize("seed", range(4))
def test_a_line_of_recorded_notes_is_read_note_by_note(seed):
    """Notes of half a second one after another, at levels 12 dB apart, over noise 60 dB under full scale."""
    rng = np.random.default_rng(seed)
    notes = [note for note in bass_notes() if note.style != "slapped" or note.name.startswith("Slap")]
    picked = [notes[i] for i in rng.permutation(len(notes))[:12]]
    rate = picked[0].sample_rate
    parts, fade = [np.zeros(rate // 2)], np.minimum(1, np.arange(rate // 2)[::-1] / (0.02 * rate))
    for note in picked:
        part = note.samples[: rate // 2]
        parts.append(part / np.max(np.abs(part)) * rng.uniform(0.15, 0.6) * fade)
    line = np.concatenate(parts) + 1e-3 * rng.standard_normal(sum(map(len, parts)))
    found = find_notes(take_from_samples(line, rate)).notes
    assert [note.name for note in found] == [hz_to_note(note.pitch_hz) for note in picked]
    for place, note in enumerate(found):
        assert note.start_s == pytest.approx(0.5 * (place + 1), abs=0.06)
