"""Candidates on boards: by number, and the median and the poorest by their lock."""

from __future__ import annotations

import json

import numpy as np
import pytest

from sublatch.audition.plan.load import load_audition
from sublatch.audition.run import run_audition
from sublatch.circuit.boards import BoardDraws, drawn_board
from sublatch.circuit.load import load_circuit
from sublatch.demo.takes import demo_takes
from sublatch.errors import PlanError
from sublatch.files.sound import write_audio
from sublatch.takes.take import read_take
from sublatch.tracking import boards as board_lock
from sublatch.tracking.boards import lock_over_boards

pytestmark = pytest.mark.long

PLAN = """
full_scale = "2V"
takes = ["dead-notes.wav"]
candidates = [
    { name = "as drawn", circuit = "gated-open" },
    { name = "board 5", circuit = "gated-open", board = 5 },
    { name = "poorest", circuit = "gated-open", board = "poorest" },
    { name = "median", circuit = "gated-open", board = "median" },
]
"""
RATE = 16000


@pytest.fixture
def plan(tmp_path):
    write_audio(tmp_path / "dead-notes.wav", demo_takes(RATE)["dead-notes"][: 4 * RATE] / 2.0, RATE)
    path = tmp_path / "plan.toml"
    path.write_text(PLAN, encoding="utf-8")
    return path


def test_boards_are_found_rendered_told_and_known_again(plan, monkeypatch):
    run_audition(load_audition(plan))
    results = json.loads((plan.parent / "audition" / "results.json").read_text(encoding="utf-8"))
    _, drawn, numbered, poorest, median = results["takes"][0]["candidates"]
    take = read_take(plan.parent / "dead-notes.wav", full_scale_volts=2.0)
    wanted = lock_over_boards(take, load_circuit("gated-open"), draws=BoardDraws())
    assert numbered["settings"] == {"board": 5}
    assert poorest["settings"] == {"board": wanted.numbers["poorest"]}
    assert median["settings"] == {"board": wanted.numbers["median"]}
    assert poorest["locked_share"] == pytest.approx(float(np.min(wanted.locked)), abs=0.005)
    assert drawn["settings"] == {}
    monkeypatch.setattr(board_lock, "detected_edges", None)  # a second look would fail
    run_audition(load_audition(plan))


def test_a_numbered_board_is_the_same_as_everywhere(plan):
    candidate = load_audition(plan).candidates[1]
    assert candidate.circuit == drawn_board(load_circuit("gated-open"), 5)


@pytest.mark.parametrize("board", ['"worst"', "0", "1.5"])
def test_a_board_that_cannot_be_is_refused(plan, board):
    plan.write_text(PLAN.replace("board = 5", f"board = {board}"), encoding="utf-8")
    with pytest.raises(PlanError, match="board"):
        load_audition(plan)
