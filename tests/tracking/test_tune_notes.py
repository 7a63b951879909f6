"""Which notes of takes a circuit is tuned on, and what is said of the others."""

import numpy as np
import pytest

from sublatch.demo.strings import Glide, dead_note, pluck, slide
from sublatch.errors import UnitError
from sublatch.pitch.notes import find_notes
from sublatch.takes.remarks import Remark
from sublatch.takes.take import take_from_samples
from sublatch.tracking.tune.fast_lock import TuneNote
from sublatch.tracking.tune.notes import tune_notes

RATE = 16000


def take_of(name, *sounds):
    """A take of sounds one after the other, after a quarter second of silence."""
    return take_from_samples(np.concatenate([np.zeros(4000), *sounds]), RATE, name=name)


def plucked(pitch_hz, *, seconds=1.0):
    return pluck(pitch_hz, seconds=seconds, sample_rate=RATE)


def slid(start_hz, end_hz):
    return slide(Glide(start_hz, end_hz, start_s=0.2, end_s=0.7), seconds=1.0, sample_rate=RATE)


@pytest.fixture(scope="module")
def line():
    """An open A, a note that is not, a slide and a thump."""
    return take_of(
        "line", plucked(55.0), plucked(61.7354), slid(82.4, 110.0), dead_note(82.4, seconds=0.5, sample_rate=RATE)
    )


def test_steady_notes_are_taken_with_their_place_pitch_and_string(line):
    found = tune_notes([line])
    assert [(round(note.pitch_hz), note.open_string) for note in found.notes] == [(55, True), (62, False)]
    first, second = found.notes
    assert isinstance(first, TuneNote)
    assert first.take is line
    assert first.start_s == pytest.approx(0.25, abs=0.03)
    assert first.end_s <= second.start_s == pytest.approx(1.25, abs=0.03)


def test_what_moves_or_has_no_pitch_is_left_out_and_said(line):
    (one,) = tune_notes([line]).takes
    assert one.take is line
    assert len(one.notes) == 2
    assert [remark for remark in one.remarks if remark.text.startswith("left out: the pitch moves, E2 to A2, at 2.")]
    assert [remark for remark in one.remarks if remark.text.startswith("not counted: dead notes")]
    assert len(one.remarks) == 2


def test_several_notes_that_move_make_one_remark():
    (one,) = tune_notes([take_of("slides", slid(82.4, 110.0), slid(110.0, 82.4), slid(82.4, 110.0))]).takes
    assert one.notes == ()
    assert one.remarks[0].text.startswith("left out: notes whose pitch moves, 3 × from 0.2")


def test_takes_stay_apart_and_in_order(line):
    other = take_of("other", plucked(41.2034))
    silent = take_of("silent", np.zeros(RATE))
    found = tune_notes([other, silent, line])
    assert [one.take.name for one in found.takes] == ["other", "silent", "line"]
    assert [len(one.notes) for one in found.takes] == [1, 0, 2]
    assert [note.take.name for note in found.notes] == ["other", "line", "line"]
    assert Remark("no-notes", "no notes: the take is silent") in found.takes[1].remarks
    assert found.takes[0].remarks == ()


def test_open_strings_follow_the_tuning(line):
    assert [note.open_string for note in tune_notes([line], tuning="B1 E2").notes] == [False, True]
    with pytest.raises(UnitError, match="a tuning must be"):
        tune_notes([line], tuning="bass-9")


def test_a_note_under_the_lowest_string_is_kept_and_said():
    low = take_of("low", plucked(30.8677, seconds=1.5), plucked(32.7032, seconds=1.5), plucked(55.0))
    found = tune_notes([low])
    assert len(found.notes) == len(find_notes(low).notes) == 3
    (remark,) = found.takes[0].remarks
    assert remark.text.startswith("lower than the lowest open string: B0, C1, 2 × from 0.2")
    assert remark.text.endswith("; is the tuning right?")
    assert tune_notes([low], tuning="bass-5").takes[0].remarks == ()


def test_what_is_wrong_with_a_take_is_said_too():
    loud = np.clip(20 * plucked(55.0), -1, 1)
    (one,) = tune_notes([take_of("hot", loud)]).takes
    assert one.remarks[: len(one.take.remarks)] == one.take.remarks
    assert any("clipped" in remark.text for remark in one.remarks)
