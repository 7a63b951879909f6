"""pYIN's opinion on the pitches of notes."""

from dataclasses import replace

import numpy as np
import pytest

from sublatch.demo.score import demo_notes
from sublatch.demo.takes import demo_takes
from sublatch.json_data import plain_values
from sublatch.pitch.notes import find_notes
from sublatch.pitch.second_opinion import NoteOpinion, PitchOpinions, opinion_blocks, pitch_opinions
from sublatch.takes.take import take_from_samples
from sublatch.units.scales import cents

RATE = 16000


@pytest.fixture(scope="module")
def strings():
    """The invented take of open strings, 16 s, and a second of digital silence (its own rests have hum)."""
    return take_from_samples(np.concatenate([demo_takes(RATE)["open-strings"], np.zeros(RATE)]), RATE)


@pytest.fixture(scope="module")
def opinions(strings):
    """What pYIN says of the notes found on it, the second a planted octave too high, and of its silent end."""
    found = list(find_notes(strings, tuning="bass-5").notes)
    found[1] = replace(found[1], pitch_hz=2 * found[1].pitch_hz)
    silent = replace(found[0], start_s=strings.seconds - 0.6, end_s=strings.seconds - 0.2)
    return pitch_opinions(strings, [*found, silent])


def test_it_agrees_with_the_score_and_differs_where_an_octave_was_planted(opinions):
    played = demo_notes()["open-strings"]
    assert len(opinions.notes) == len(played) + 1
    for number, (one, truth) in enumerate(zip(opinions.notes, played, strict=False)):
        assert abs(cents(truth.pitch_hz, one.pitch_hz)) < 25
        assert one.differs is (number == 1)
    assert opinions.notes[1].difference_cents == pytest.approx(-1200, abs=30)


def test_where_nothing_sounds_it_has_no_pitch(opinions):
    silent = opinions.notes[-1]
    assert (silent.pitch_hz, silent.difference_cents, silent.differs) == (None, None, False)


def test_the_shares_are_of_all_notes(opinions):
    assert opinions.agree_share == pytest.approx(6 / 8)
    assert opinions.no_pitch_share == pytest.approx(1 / 8)
    assert (PitchOpinions(()).agree_share, PitchOpinions(()).no_pitch_share) == (None, None)


def test_json_has_both_pitches_of_every_note(opinions):
    told = plain_values(opinions)
    assert list(told) == ["notes", "agree_share", "no_pitch_share"]
    assert list(told["notes"][1]) == [
        *("start_s", "end_s", "name", "pitch_hz", "second_pitch_hz", "difference_cents"),
    ]
    assert told["notes"][1]["pitch_hz"] / told["notes"][1]["second_pitch_hz"] == pytest.approx(2.0, rel=0.02)


@pytest.mark.parametrize(("ratio", "differs"), [(2 ** (49 / 1200), False), (2 ** (51 / 1200), True), (0.5, True)])
def test_fifty_cents_are_the_limit(opinions, ratio, differs):
    one = opinions.notes[0]
    assert NoteOpinion(replace(one.note, pitch_hz=100.0), 100.0 * ratio).differs is differs


def test_progress_is_told_part_by_part(strings):
    calls = []
    take = take_from_samples(strings.samples[: 11 * RATE], RATE)
    pitch_opinions(take, [], progress=lambda: calls.append(1))
    assert len(calls) == opinion_blocks(take) == 2


@pytest.mark.parametrize("seconds", [0.001, 0.02, 10.001])
def test_a_take_of_any_length_is_heard(rng, seconds):
    """10.001 s leave a last part of a single frame."""
    take = take_from_samples(1e-4 * rng.standard_normal(round(seconds * RATE)), RATE)
    assert pitch_opinions(take, []).notes == ()
    assert np.isfinite(opinion_blocks(take))
