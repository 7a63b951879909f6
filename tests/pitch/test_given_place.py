"""Given notes put into a take: where they begin, end and are pitched there."""

import re

import numpy as np
import pytest

from sublatch.demo.score import demo_notes
from sublatch.demo.strings import pluck
from sublatch.demo.takes import demo_takes
from sublatch.errors import UnitError
from sublatch.pitch.given.notes import GivenNote, GivenNotes
from sublatch.pitch.given.offset import best_offset_s, meeting
from sublatch.pitch.given.place import place
from sublatch.pitch.notes import find_notes
from sublatch.pitch.reference.track import reference_pitch
from sublatch.takes.take import take_from_samples
from sublatch.units.scales import cents

RATE = 16000
E1, A1, B1 = 41.2034, 55.0, 61.7354


@pytest.fixture(scope="module")
def line():
    """Seven plucked notes, 0.5 s after one another, from 0.25 s on; each is left to sound for 0.45 s."""
    notes = [plucked(hz) for hz in (E1, A1, B1, E1, B1, A1, E1)]
    return take_from_samples(np.concatenate([np.zeros(4000), *notes, np.zeros(4000)]), RATE)


def plucked(pitch_hz, *, seconds=0.45, every=0.5):
    note = pluck(pitch_hz, seconds=seconds, sample_rate=RATE)
    return np.concatenate([note, np.zeros(round(every * RATE) - len(note))])


def given(*notes, start_s=None):
    return GivenNotes("played.mid", tuple(GivenNote(*note) for note in notes), start_s=start_s)


def even(*pitches_hz, first_s=0.0, start_s=None):
    """Notes of half a second each, one after the other."""
    spans = [(first_s + 0.5 * k, first_s + 0.5 * k + 0.5, hz) for k, hz in enumerate(pitches_hz)]
    return given(*spans, start_s=start_s)


LINE = (E1, A1, B1, E1, B1, A1, E1)


def scored(name, *, shift_s=0.0, late_s=0.0, octaves=0, chance=None):
    """The pitched notes of an invented take, the first a second after the file's zero."""
    played = [note for note in demo_notes()[name] if note.touch != "x"]
    zero_s = played[0].onset_s - 1.0
    off = late_s * chance.standard_normal(len(played)) if chance is not None else np.zeros(len(played))
    notes = [
        (note.onset_s - zero_s + error, note.end_s - zero_s, note.pitch_hz * 2.0**octaves)
        for note, error in zip(played, off, strict=True)
    ]
    return zero_s + shift_s, given(*notes)


@pytest.fixture(scope="module")
def demo():
    """The invented takes."""
    return demo_takes(RATE)


def test_starts_and_onsets_that_are_nearest_to_each_other_meet(rng):
    """Against all distances, a table of starts by onsets."""
    for _ in range(200):
        starts, onsets = (np.sort(rng.uniform(0, 2, rng.integers(1, 12))) for _ in range(2))
        apart = np.abs(starts[:, None] - onsets)
        expected = [
            (row, column)
            for row, column in np.ndindex(apart.shape)
            if apart[row, column] <= 0.05 and apart[row, column] == min(apart[row].min(), apart[:, column].min())
        ]
        assert list(zip(*(found.tolist() for found in meeting(starts, onsets)), strict=True)) == expected
    assert [len(found) for found in meeting(np.array([0.5]), np.zeros(0))] == [0, 0]


@pytest.mark.parametrize("shift_s", [-0.7, 0.0, 2.3])
@pytest.mark.parametrize("name", ["open-strings", "walking-line", "hard-accents", "slide", "dead-notes"])
def test_the_files_zero_is_found_in_a_shifted_take(demo, rng, name, shift_s):
    """Each of the invented takes, its beginning cut off or later; starts are 15 ms loose, pitches an octave high."""
    later, cut = (round(max(seconds, 0.0) * RATE) for seconds in (shift_s, -shift_s))
    take = take_from_samples(np.concatenate([np.zeros(later), demo[name][cut:]]), RATE)
    for more in ({}, {"late_s": 0.015, "chance": rng}, {"octaves": 1}):
        zero_s, notes = scored(name, shift_s=shift_s, **more)
        assert best_offset_s(notes.notes, reference_pitch(take)) == pytest.approx(zero_s, abs=0.02)


def test_a_part_of_an_even_line_is_not_moved_by_a_note(line):
    """Four of seven even notes fit the onsets at four places, and the pitches at one."""
    for first in range(4):
        found = best_offset_s(even(*LINE[first : first + 4]).notes, reference_pitch(line))
        assert found == pytest.approx(0.25 + 0.5 * first, abs=0.02)


def test_where_the_zero_lies_can_be_told(line):
    found = place(line, even(*LINE[:4], start_s=0.25)).placement
    assert (found.start_s, found.found, found.starts, found.starts_met) == (0.25, False, 4, 4)
    assert place(line, even(*LINE[:4])).placement.found


@pytest.mark.parametrize(("start_s", "met", "is_said"), [(0.25, 7, False), (0.35, 0, True), (1.28, 5, False)])
def test_it_is_said_how_many_starts_meet_an_onset(line, start_s, met, is_said):
    found = place(line, even(*LINE, start_s=start_s))
    assert found.placement.starts_met == met
    texts = {remark.code: remark.text for remark in found.notes.remarks}
    assert texts["given"].startswith(f"notes as given by played.mid, its zero at {start_s:.3f} s (as told): {met} of ")
    assert texts["given"].endswith("starts meet an onset within 50 ms")
    assert ("given-misplaced" in texts) is is_said


def test_the_notes_are_as_given_and_begin_on_their_onsets(line):
    """20 ms early and late; the take's own pitch is that of its strings."""
    starts = [0.5 * k + error for k, error in enumerate((0.02, -0.02, 0.0, 0.02, 0.0, -0.02, 0.0))]
    notes = given(*((start + 0.02, start + 0.40, hz) for start, hz in zip(starts, LINE, strict=True)))
    found, own = place(line, notes).notes.notes, find_notes(line).notes
    assert [note.name for note in found] == [note.name for note in own] == ["E1", "A1", "B1", "E1", "B1", "A1", "E1"]
    assert [note.start_s for note in found] == pytest.approx([note.start_s for note in own], abs=1e-9)
    for note, other in zip(found, own, strict=True):
        assert abs(cents(note.pitch_hz, other.pitch_hz)) < 3
        assert (note.open_string, note.steady) == (other.open_string, True)


def test_a_note_ends_where_it_is_given_or_where_it_has_died_away(line):
    long = place(line, given((0.0, 3.7, E1), start_s=3.25)).notes.notes[0]
    own = find_notes(line).notes[-1]
    assert long.end_s == pytest.approx(own.end_s, abs=0.015)  # the string is stopped, the take goes on
    assert long.end_s < line.seconds - 0.3
    short = place(line, given((0.0, 0.2, E1), start_s=3.25)).notes.notes[0]
    assert short.end_s == pytest.approx(3.45)


@pytest.mark.parametrize("off_cents", [-70, -30, 40, 70])
def test_a_detuned_string_is_measured_at_its_own_pitch(line, off_cents):
    found = place(line, even(*(hz * 2 ** (off_cents / 1200) for hz in LINE), start_s=0.25))
    for note, hz in zip(found.notes.notes, LINE, strict=True):
        assert abs(cents(note.pitch_hz, hz)) < 5
    assert "given-differs" not in {remark.code for remark in found.notes.remarks}


@pytest.mark.parametrize(
    ("ratio", "hint"), [(2.0, "an octave higher"), (0.5, "an octave lower"), (4.0, "2 octaves higher")]
)
def test_an_octave_is_always_as_given(line, ratio, hint):
    found = place(line, even(*(ratio * hz for hz in LINE), start_s=0.25))
    assert [note.pitch_hz for note in found.notes.notes] == pytest.approx([ratio * hz for hz in LINE])
    (said,) = (remark.text for remark in found.notes.remarks if remark.code == "given-differs")
    assert said.startswith("given otherwise than found, 7 × from 0.2")
    assert said.endswith(f"as given; is the file {hint} than it sounds?")
    first = found.notes.notes[0]
    inside = (found.pitch.time_s >= first.start_s) & (found.pitch.time_s <= first.end_s)
    assert np.count_nonzero(inside) > 20
    assert found.pitch.pitch_hz[inside] == pytest.approx(ratio * E1)


def test_one_wrong_note_is_told_without_a_guess(line):
    found = place(line, even(*LINE[:2], 2 * B1, *LINE[3:], start_s=0.25))
    (said,) = (remark.text for remark in found.notes.remarks if remark.code == "given-differs")
    assert re.fullmatch(r"given otherwise than found, at 1\.2\d s \(B2 given, B1 found\); as given", said)


@pytest.mark.parametrize("semitones", [-7, 5, 7, 10, 17])
def test_a_part_in_another_key_is_told_without_a_guess_at_octaves(line, semitones):
    found = place(line, even(*(hz * 2 ** (semitones / 12) for hz in LINE), start_s=0.25))
    (said,) = (remark.text for remark in found.notes.remarks if remark.code == "given-differs")
    assert said.startswith("given otherwise than found, 7 × from 0.2")
    assert said.endswith("found); as given")


def test_a_pitch_that_moves_a_little_is_followed():
    """A string that sinks by 120 cents, 60 to either side of what is given, while the next note stays."""
    t = np.arange(2 * RATE) / RATE
    hz = A1 * 2 ** ((60 - 60 * t) / 1200)
    wave = sum(size * np.sin(2 * np.pi * n * np.cumsum(hz) / RATE) for n, size in ((1, 0.3), (2, 0.2), (3, 0.1)))
    take = take_from_samples(np.concatenate([np.zeros(4000), wave, np.zeros(4000)]), RATE)
    found = place(take, given((0.0, 2.0, A1), start_s=0.25))
    (note,) = found.notes.notes
    assert not note.steady
    assert note.remark == "the pitch moves, A#1 to G#1"
    at = np.array([0.6, 1.25, 1.9])
    assert np.interp(at, found.pitch.time_s, found.pitch.pitch_hz) == pytest.approx(
        A1 * 2 ** ((60 - 60 * (at - 0.25)) / 1200), rel=0.006
    )


def test_notes_outside_the_take_are_left_out_and_said(line):
    found = place(line, even(*LINE, start_s=-0.75))
    assert found.placement.starts == len(found.notes.notes) == 5
    assert found.notes.notes[0].start_s == pytest.approx(0.25, abs=0.02)
    texts = [remark.text for remark in found.notes.remarks if remark.code == "given-left-out"]
    assert texts == ["left out, outside the take: 2 given notes, at -0.75 s and on"]
    nothing = place(line, even(*LINE, start_s=900.0))
    assert nothing.notes.notes == ()
    assert (nothing.placement.starts, nothing.placement.starts_met) == (0, 0)
    assert [remark.code for remark in nothing.notes.remarks] == ["given", "no-notes", "given-left-out"]


def test_strings_follow_the_tuning(line):
    notes = even(*LINE, start_s=0.25)
    assert [note.open_string for note in place(line, notes, tuning="B1 E2").notes.notes][:3] == [False, False, True]
    with pytest.raises(UnitError, match="a tuning must be"):
        place(line, notes, tuning="bass-9")


@pytest.mark.parametrize("seconds", [0.05, 2.0])
def test_a_silent_or_very_short_take_has_the_notes_it_is_given(seconds):
    take = take_from_samples(np.zeros(round(seconds * RATE)), RATE)
    found = place(take, even(E1))
    assert [note.pitch_hz for note in found.notes.notes] == pytest.approx([E1])
    assert "given-misplaced" in {remark.code for remark in found.notes.remarks}
