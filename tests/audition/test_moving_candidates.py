"""Candidates whose controls are moved: rendered, told, kept, tracked, and refused where a move cannot be."""

from __future__ import annotations

import csv
import json
from dataclasses import asdict, replace

import numpy as np
import pytest

from small_auditions import RATE, note, times, write_plan
from sublatch.audition.plan.load import load_audition
from sublatch.audition.plan.planned_moves import move_in_words
from sublatch.audition.run import run_audition
from sublatch.circuit.load import load_circuit
from sublatch.errors import PlanError
from sublatch.files.sound import read_audio, write_audio
from sublatch.rendering import fitted
from sublatch.signal.chain import detected_edges, render
from sublatch.signal.moves import Move
from sublatch.signal.moving import render_moving
from sublatch.takes.take import read_take
from sublatch.tracking.track import note_lock, track

pytestmark = pytest.mark.usefixtures("plain_page")

TURN = '{ control = "knobs.tone", to = 8, start = "100ms", end = "300ms" }'
SWEPT = 'circuit = "gated-swept"\nset = { "knobs.tone" = 2 }'


def moving(*moves, circuit=SWEPT):
    return f"{circuit}\nmoves = [{', '.join(moves)}]"


def plan_of(folder, *moves, takes=("a.wav",), circuit=SWEPT):
    return write_plan(folder, takes, {"still": circuit, "opening": moving(*moves, circuit=circuit)})


def test_a_moving_candidate_is_what_moving_gives_and_ends_where_it_leads(folder):
    plan = plan_of(folder, TURN)
    told = run_audition(plan).takes[0].candidates[2]
    take, circuit = read_take(folder / "a.wav"), load_circuit("gated-swept", changes={"knobs.tone": 2})
    made = render_moving(take, circuit, [Move("knobs.tone", 2.0, 8.0, 0.1, 0.3)])
    sound = read_audio(folder / "audition" / told.file).samples[:, 0]
    assert sound == pytest.approx(fitted(made.samples, told.gain_db), abs=2.0**-23)
    ended = render(take, load_circuit("gated-swept", changes={"knobs.tone": 8})).samples
    assert made.samples[-500:] == pytest.approx(ended[-500:], abs=1e-3 * np.max(np.abs(ended)))
    assert told.at_limit_share == made.at_limit_share


def test_a_move_sets_out_from_where_its_control_stands(folder):
    back = '{ control = "knobs.tone", to = 3, start = 0.4, end = 0.5 }'
    off = '{ control = "engaged", to = false, start = 0.2 }'
    peak = '{ control = "switches.peak", to = "peaked", start = 0.25 }'
    plan = plan_of(folder, back, TURN, off, peak)
    assert plan.candidates[0].moves == ()
    assert plan.candidates[1].moves == (
        Move("knobs.tone", 2.0, 8.0, 0.1, 0.3),
        Move("engaged", True, False, 0.2),
        Move("switches.peak", "flat", "peaked", 0.25),
        Move("knobs.tone", 8.0, 3.0, 0.4, 0.5),
    )


def test_one_that_is_engaged_later_begins_bypassed(folder):
    plan = plan_of(folder, '{ control = "engaged", to = true, start = 0.3 }')
    assert plan.candidates[1].moves == (Move("engaged", False, True, 0.3),)
    bypassed, still, told = run_audition(plan).takes[0].candidates
    sound, bare, made = (read_audio(folder / "audition" / c.file).samples[:, 0] for c in (told, bypassed, still))
    first = round(0.3 * RATE)
    assert fitted(sound, -told.gain_db)[:first] == pytest.approx(fitted(bare, -bypassed.gain_db)[:first], abs=1e-6)
    assert fitted(sound, -told.gain_db)[-first + 100 :] == pytest.approx(
        fitted(made, -still.gain_db)[-first + 100 :], abs=1e-6
    )


def test_its_moves_are_told_in_the_file_and_in_both_tables(folder):
    plan = plan_of(folder, TURN, '{ control = "engaged", to = false, start = 0.4 }')
    told = run_audition(plan).takes[0].candidates[2]
    moves = [asdict(move) for move in plan.candidates[1].moves]
    assert json.loads(read_audio(folder / "audition" / told.file).comment)["moves"] == moves
    document = json.loads((folder / "audition" / "results.json").read_text(encoding="utf-8"))
    assert [candidate["moves"] for candidate in document["takes"][0]["candidates"]] == [[], [], moves]
    rows = list(csv.DictReader((folder / "audition" / "results.csv").read_text(encoding="utf-8").splitlines()))
    assert rows[2]["moves"] == "knobs.tone 2 to 8 from 0.1 s to 0.3 s; engaged true to false at 0.4 s"
    assert move_in_words(Move("switches.peak", "flat", "peaked", 8.0)) == "switches.peak flat to peaked at 8 s"


def test_more_moves_than_a_file_can_tell_are_not_told_there(folder):
    turns = [
        f'{{ control = "knobs.tone", to = {place % 9 + 0.25}, start = {place / 50}, end = {place / 50 + 0.01} }}'
        for place in range(25)
    ]
    told = run_audition(plan_of(folder, *turns)).takes[0].candidates[2]
    facts = json.loads(read_audio(folder / "audition" / told.file).comment)
    assert (facts["moves"], len(told.moves)) == ("too many to be told here", 25)


def test_it_is_made_again_only_when_a_move_changes(folder):
    run_audition(plan_of(folder, TURN))
    before = times(folder / "audition")
    run_audition(plan_of(folder, TURN))
    assert times(folder / "audition") == before
    before = (folder / "audition" / "audio/a/opening.wav").read_bytes()
    run_audition(plan_of(folder, TURN.replace("300ms", "310ms")))
    assert (folder / "audition" / "audio/a/opening.wav").read_bytes() != before


def test_a_take_that_is_over_before_a_move_is_told_and_the_others_go_on(folder):
    write_audio(folder / "c.wav", note(0.2), RATE)
    long, short = run_audition(plan_of(folder, TURN, takes=("a.wav", "c.wav"))).takes
    assert long.error is None
    assert short.error == (
        "c.wav: candidate 'opening': a move of knobs.tone must lie within the take's 0.200 s, got start = 0.1 and "
        "end = 0.3"
    )


@pytest.mark.parametrize("control", ["knobs.tone", "switches.drive"])
def test_lock_is_that_of_the_still_circuit_unless_the_drive_is_thrown(tmp_path, control):
    time_s = np.arange(2 * RATE) / RATE
    tone = 0.3 * (np.sin(2 * np.pi * 55 * time_s) + 0.6 * np.sin(2 * np.pi * 110 * time_s + 1.0))
    write_audio(tmp_path / "a.wav", tone * np.exp(-1.5 * time_s), RATE)
    thrown = '{ control = "switches.drive", to = "inverted", start = 1.0 }'
    plan = plan_of(tmp_path, thrown if control == "switches.drive" else TURN)
    _, still, moved = run_audition(plan).takes[0].candidates
    take, circuit = read_take(tmp_path / "a.wav"), plan.candidates[0].circuit
    found = track(take, circuit)
    assert len(found.notes) > 0
    assert still.note_locked_shares == pytest.approx([item.lock.locked_share for item in found.notes], abs=1e-6)
    if control == "knobs.tone":
        assert (moved.note_locked_shares, moved.dropouts) == (still.note_locked_shares, still.dropouts)
        return
    other = load_circuit("gated-swept", changes={"knobs.tone": 2, "switches.drive": "inverted"})
    early, late = (detected_edges(take, one)[::2] for one in (circuit, other))
    edges = np.concatenate([early[early <= 1.004], late[late > 1.004]])
    wanted = [note_lock(edges, item.note, found.track) for item in found.notes]
    assert moved.note_locked_shares == pytest.approx([lock.locked_share for lock in wanted], abs=1e-6)
    assert [drop.start_s for drop in moved.dropouts] == pytest.approx(
        [drop.start_s for lock in wanted for drop in lock.dropouts], abs=1e-6
    )
    assert not np.array_equal(early[early > 1.004], late[late > 1.004])


@pytest.mark.parametrize(
    ("move", "words"),
    [
        ('{ control = "knobs.tune", to = 3, start = 0, end = 1 }', "'knobs.tune'; did you mean 'knobs.tone'?"),
        (
            '{ control = "knobs.tone", to = 11, start = 0, end = 1 }',
            "must end at 0 to 10, got 11.0; was it meant as 1.1",
        ),
        ('{ control = "knobs.tone", to = "8", start = 0, end = 1 }', "must end at 0 to 10, got '8'"),
        ('{ control = "knobs.tone", to = 8, start = 0 }', "must say when the knob arrives, got no end"),
        ('{ control = "knobs.tone", to = 8, start = 2, end = 1 }', "got start = 2.0 and end = 1.0; are they the wrong"),
        ('{ control = "knobs.tone", to = 2, start = 0, end = 1 }', "knobs.tone must lead elsewhere, got to = 2 at 0 s"),
        ('{ control = "switches.peak", to = "up", start = 1 }', "must end at flat or peaked, got 'up'"),
        (
            '{ control = "switches.peak", to = "flat", start = 1 }',
            "must lead elsewhere, got to = flat at 1 s, where it",
        ),
        ('{ control = "switches.peak", to = "peaked", start = 1, end = 2 }', "must take 5 to 10 ms"),
        ('{ control = "engaged", to = "on", start = 1 }', "a move of engaged must end at false or true, got 'on'"),
        ('{ control = "engaged", to = 1, start = 1 }', "a move of engaged must end at false or true, got 1"),
        (f"{TURN}, {TURN.replace('8', '9')}", "must follow one another, got one at 0.1 s while the one before lasts"),
        ('{ control = "knobs.tone", too = 8, start = 0 }', "moves[1]: unknown key 'too'; did you mean 'to'?"),
        ("{ to = 8, start = 0 }", "moves[1].control: this key is needed and is not there"),
        ('{ control = "knobs.tone", to = 8, start = "3V", end = 4 }', "moves[1].start: a time is written like"),
        (
            '{ control = "knobs.tone", to = [8], start = 3, end = 4 }',
            "moves[1].to: must be a knob's number, a switch's",
        ),
    ],
)
def test_a_move_that_cannot_be_is_refused_with_the_plan_and_its_candidate(folder, move, words):
    with pytest.raises(PlanError) as caught:
        plan_of(folder, move)
    assert words in str(caught.value)
    assert str(caught.value).startswith(f"{folder / 'plan.toml'}: candidate")
    assert "opening" in str(caught.value)
    assert not {"start_s", "end_s"} & set(str(caught.value).replace("=", " ").split())


def test_a_control_that_is_not_there_cannot_be_moved(folder):
    with pytest.raises(
        PlanError, match=r"candidate 'opening': knobs\.tone cannot be set: this circuit has no tone knob"
    ):
        plan_of(folder, TURN, circuit='circuit = "gated-open"')


def test_the_demos_commented_moves_can_be_made(tmp_path):
    from sublatch.demo.write import plan_text

    text = plan_text()
    first, last = text.index("# [[candidates]]"), text.index("# A sweep makes")
    lines = [line.removeprefix("# ") for line in text[first:last].splitlines()]
    for key in ('voicing = "loudspeaker"', 'bed = "bed.flac"', 'bed_level = "-3dB"'):
        assert f"# {key}\n" in text
        text = text.replace(f"# {key}\n", f"{key}\n")
    path = tmp_path / "audition.toml"
    path.write_text(text + "\n".join(["", *lines]) + "\n", encoding="utf-8")
    ready = load_audition(path)
    opening = next(candidate for candidate in ready.candidates if candidate.name == "opening")
    assert [move.control for move in opening.moves] == ["knobs.tone", "switches.peak", "engaged"]
    assert replace(opening.moves[0], end_s=None).stop_s < 10.0
    assert ready.inputs[-1] == tmp_path / "bed.flac"
