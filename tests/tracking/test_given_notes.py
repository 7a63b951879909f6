"""Lock on notes that were given in place of those found."""

import mido
import numpy as np
import pytest

import sublatch
from sublatch.circuit.load import load_circuit
from sublatch.demo.score import demo_notes
from sublatch.demo.takes import demo_takes
from sublatch.errors import NotesError
from sublatch.json_data import plain_values
from sublatch.pitch.given.notes import GivenNote, GivenNotes
from sublatch.signal.cache import StageCache
from sublatch.takes.take import take_from_samples
from sublatch.tracking.playing_levels import lock_over_level
from sublatch.tracking.track import track
from sublatch.tracking.tune.lost import lost
from sublatch.tracking.tune.notes import tune_notes

RATE = 16000
CIRCUIT = load_circuit("gated-open", changes={"detector.kind": "peak-latch", "devices.values": "ideal"})
"""A textbook detector of ideal parts, which holds on to nearly all of the invented lines."""
TUNING = "bass-5"


@pytest.fixture(scope="module")
def demo():
    """The invented takes."""
    return {name: take_from_samples(samples, RATE, name=name) for name, samples in demo_takes(RATE).items()}


def score_of(name, *, octaves=0.0):
    """The score of an invented take, dead notes left out."""
    notes = [note for note in demo_notes()[name] if note.touch != "x"]
    return GivenNotes(
        "score.mid", tuple(GivenNote(one.onset_s, one.end_s, one.pitch_hz * 2.0**octaves) for one in notes)
    )


@pytest.mark.parametrize("name", ["open-strings", "walking-line", "hard-accents", "dead-notes"])
def test_the_score_gives_the_same_lock_as_the_notes_found_where_these_are_right(demo, name):
    """Right: found within 20 ms of the score's place, at its pitch, and no longer than a finger takes to stop it.

    Of a short note the few periods by which the ends differ are a large share; of one of six periods or fewer, whether
    what is left holds long enough to be called locked.
    """
    found, given = (
        track(demo[name], CIRCUIT, tuning=TUNING),
        track(demo[name], CIRCUIT, tuning=TUNING, notes=score_of(name)),
    )
    assert len(given.notes) == len(score_of(name).notes)
    compared = 0
    for item in found.notes:
        other = min(given.notes, key=lambda one: abs(one.note.start_s - item.note.start_s))
        one, two = item.note, other.note
        if abs(one.start_s - two.start_s) > 0.02 or one.name != two.name or abs(one.end_s - two.end_s) > 0.1:
            continue
        length = (two.end_s - two.start_s) * two.pitch_hz
        if length < 6.0:
            continue
        compared += 1
        periods = abs(one.start_s - two.start_s) * two.pitch_hz + abs(one.end_s - two.end_s) * two.pitch_hz
        assert item.lock.locked_share == pytest.approx(other.lock.locked_share, abs=(periods + 2) / length), two
    long = [two for two in given.notes if (two.note.end_s - two.note.start_s) * two.note.pitch_hz >= 6.0]
    assert compared >= 0.8 * len(long)
    assert len(long) >= 0.8 * len(given.notes)


def test_a_wrong_octave_changes_the_lock(demo):
    """Held against an octave higher, a drive that runs right has half as many changes as it should: nothing locks."""
    take = demo["open-strings"]
    right, high = (track(take, CIRCUIT, tuning=TUNING, notes=score_of("open-strings", octaves=k)) for k in (0, 1))
    assert right.locked_share > 0.95
    assert high.locked_share < 0.05
    assert {dropout.kind for item in high.notes for dropout in item.lock.dropouts} == {"stall"}
    low = track(take, CIRCUIT, tuning=TUNING, notes=score_of("open-strings", octaves=-1))
    assert low.locked_share < 0.05
    for item in low.notes:
        skipped_s = sum(one.end_s - one.start_s for one in item.lock.dropouts if one.kind == "skip")
        assert skipped_s > 0.8 * (item.note.end_s - item.note.start_s)


def test_it_is_told_where_the_notes_come_from(demo):
    take = demo["open-strings"]
    given = track(take, CIRCUIT, tuning=TUNING, notes=score_of("open-strings"))
    told = plain_values(given)
    assert told["given"] == {
        "file": "score.mid",
        "start_s": pytest.approx(0.0, abs=0.015),
        "found": True,
        "starts": 7,
        "starts_met": 7,
    }
    assert told["remarks"][0]["code"] == "given"
    assert "given" not in plain_values(track(take, CIRCUIT, tuning=TUNING))


def test_given_and_found_notes_are_kept_apart(demo):
    """One cache, one take: with notes, without, with others."""
    take, cache = demo["open-strings"], StageCache()
    high = score_of("open-strings", octaves=1)
    runs = [track(take, CIRCUIT, tuning=TUNING, notes=notes, cache=cache) for notes in (None, high, None, high)]
    assert runs[0].locked_share == runs[2].locked_share > 0.95
    assert runs[1].locked_share == runs[3].locked_share < 0.05


def test_lock_over_level_and_other_detectors_are_held_against_the_given_notes(demo):
    take, high = demo["open-strings"], score_of("open-strings", octaves=1)
    given = track(take, CIRCUIT, tuning=TUNING, notes=high)
    levels = lock_over_level(take, CIRCUIT, gains_db=(-6.0, 0.0, 6.0), tuning=TUNING, notes=high)
    assert [note.name for note in levels.notes] == [item.note.name for item in given.notes]
    assert levels.locked_share[1] == pytest.approx(given.locked_share)
    assert lost(take, CIRCUIT, given, tuning=TUNING, notes=high).poor_notes == 7


def test_other_detectors_are_held_against_the_given_notes(demo):
    """Of one that hears hardly anything, the best of the others is named, on the notes given and no others."""
    take, scored = demo["open-strings"], score_of("open-strings")
    two = GivenNotes("two.mid", scored.notes[3:5])
    deaf = load_circuit("gated-open", changes={"detector.kind": "peak-latch", "detector.floor": 0.5})
    held = track(take, deaf, tuning=TUNING, notes=two)
    assert held.locked_share < 0.5
    loses = lost(take, deaf, held, tuning=TUNING, notes=two)
    best = load_circuit("gated-open", changes={"detector.kind": loses.better.kind})
    assert loses.better.locked_share == track(take, best, tuning=TUNING, notes=two).locked_share > 0.9
    assert loses.poor_notes == 2


def test_tune_takes_the_given_notes(demo):
    take, high = demo["open-strings"], score_of("open-strings", octaves=1)
    found = tune_notes([take], tuning=TUNING, notes=high)
    assert [note.pitch_hz for note in found.notes] == pytest.approx([note.pitch_hz for note in high.notes])
    assert "given" in {remark.code for remark in found.takes[0].remarks}
    with pytest.raises(NotesError, match=r"score\.mid: given notes are those of one take, got 2 takes"):
        tune_notes([take, take], tuning=TUNING, notes=high)


def test_a_midi_file_is_tracked_from_python(tmp_path):
    """Two sines at the pitches of notes 33 and 38, a second each, and a file in which the first starts at 1 s."""
    t = np.arange(RATE) / RATE
    fade = np.minimum(1.0, np.minimum(t, 1.0 - t) / 0.02)
    sines = [0.3 * fade * (np.sin(2 * np.pi * hz * t) + 0.4 * np.sin(4 * np.pi * hz * t)) for hz in (55.0, 73.4162)]
    take = sublatch.take_from_samples(np.concatenate([np.zeros(RATE // 2), *sines, np.zeros(RATE // 2)]), RATE)
    midi, track_of_it = mido.MidiFile(ticks_per_beat=480), mido.MidiTrack()
    midi.tracks.append(track_of_it)
    for note, rest in ((33, 960), (38, 0)):
        track_of_it.append(mido.Message("note_on", note=note, time=rest))
        track_of_it.append(mido.Message("note_off", note=note, time=960))
    midi.save(tmp_path / "two.mid")
    given = sublatch.track(take, CIRCUIT, notes=sublatch.read_notes(tmp_path / "two.mid"))
    assert given.given.start_s == pytest.approx(-0.5, abs=0.03)
    assert [item.note.name for item in given.notes] == ["A1", "D2"]
    assert given.locked_share > 0.9
