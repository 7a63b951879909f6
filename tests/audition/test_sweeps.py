"""Sweeps of a meaning, and grids: the candidates that come of them, and their places on the page."""

from __future__ import annotations

import json

import numpy as np
import pytest

from small_auditions import RATE
from sublatch.audition.plan.load import load_audition
from sublatch.audition.plan.save import plan_toml
from sublatch.audition.run import run_audition
from sublatch.circuit.response import response
from sublatch.errors import PlanError
from sublatch.files.sound import write_audio

HEAD = 'takes = ["a.wav"]\n[[sweeps]]\nname = "s"\n'
GRID = """circuit = "gated-swept"
vary = "corner"
values = ["200Hz", "400Hz"]
also_vary = "peak"
also_values = ["0dB", "4dB"]
"""


def plan(folder, text):
    path = folder / "my.toml"
    path.write_text(text, encoding="utf-8")
    return load_audition(path)


def test_a_corner_is_swept_with_the_knob_or_with_resistors(tmp_path):
    for circuit in ("gated-swept", "gated-first-order", "polarity-third-order"):
        ready = plan(tmp_path, f'{HEAD}circuit = "{circuit}"\nvary = "corner"\nvalues = ["200Hz", 500, "1kHz"]\n')
        names = [candidate.name for candidate in ready.candidates]
        assert names == ["s 200Hz", "s 500", "s 1kHz"]
        corners = [response(candidate.circuit).corner_hz for candidate in ready.candidates]
        assert corners == pytest.approx([200.0, 500.0, 1000.0], rel=2e-3)
        assert [candidate.sweep.order for candidate in ready.candidates] == [0, 1, 2]
        assert {candidate.sweep.vary for candidate in ready.candidates} == {"corner"}


def test_what_the_sweep_sets_holds_before_what_it_means(tmp_path):
    text = (
        f'{HEAD}circuit = "gated-swept"\nset = {{ "switches.peak" = "peaked" }}\nvary = "corner"\nvalues = ["300Hz"]\n'
    )
    (candidate,) = plan(tmp_path, text).candidates
    assert candidate.circuit.peak == "peaked"
    assert response(candidate.circuit).corner_hz == pytest.approx(300.0, rel=2e-3)


def test_a_grid_has_every_pair_and_a_row_for_each_second_value(tmp_path):
    ready = plan(tmp_path, HEAD + GRID)
    assert [candidate.name for candidate in ready.candidates] == [
        *("s 200Hz, 0dB", "s 400Hz, 0dB", "s 200Hz, 4dB", "s 400Hz, 4dB"),
    ]
    found = [response(candidate.circuit) for candidate in ready.candidates]
    assert [one.corner_hz for one in found] == pytest.approx([200.0, 400.0, 200.0, 400.0], rel=3e-3)
    assert [one.peak_db for one in found] == pytest.approx([0.0, 0.0, 4.0, 4.0], abs=0.02)
    steps = [(candidate.sweep.name, candidate.sweep.order) for candidate in ready.candidates]
    assert steps == [("s, peak 0dB", 0), ("s, peak 0dB", 1), ("s, peak 4dB", 0), ("s, peak 4dB", 1)]


def test_a_grid_of_two_parts_and_one_of_a_part_and_a_meaning(tmp_path):
    parts = 'circuit = "gated-swept"\nvary = "knobs.tone"\nvalues = [2, 8]\nalso_vary = "switches.peak"\n'
    ready = plan(tmp_path, f'{HEAD}{parts}also_values = ["flat", "peaked"]\n')
    assert [(c.circuit.tone, c.circuit.peak) for c in ready.candidates] == [
        (2.0, "flat"),
        (8.0, "flat"),
        (2.0, "peaked"),
        (8.0, "peaked"),
    ]
    mixed = 'circuit = "gated-first-order"\nvary = "corner"\nvalues = ["200Hz"]\nalso_vary = "filter.capacitor"\n'
    ready = plan(tmp_path, f'{HEAD}{mixed}also_values = ["10n", "47n"]\n')
    assert [response(c.circuit).corner_hz for c in ready.candidates] == pytest.approx([200.0, 200.0], rel=2e-3)
    assert [c.circuit.filter.capacitor for c in ready.candidates] == [10e-9, 47e-9]


def test_a_grid_is_written_as_it_is_read(tmp_path):
    ready = plan(tmp_path, HEAD + GRID)
    again = plan(tmp_path, plan_toml(ready.plan))
    assert again.plan == ready.plan
    assert again.candidates == ready.candidates


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            'circuit = "gated-swept"\nvary = "corner"\nvalues = ["200Hz", "9kHz"]\n',
            "candidate 's 9kHz': the tone knob sweeps the corner from 90.9 Hz to 3.12 kHz, not to 9 kHz",
        ),
        (
            'circuit = "gated-swept"\nvary = "corner"\nvalues = ["200Hz"]\nalso_vary = "peak"\n',
            "also_vary and also_values go together",
        ),
        (
            'circuit = "gated-swept"\nvary = "peak"\nvalues = [1]\nalso_vary = "peak"\nalso_values = [2]\n',
            "also_vary must be another setting than vary, got 'peak' twice",
        ),
        ('circuit = "gated-opn"\nvary = "corner"\nvalues = [300]\n', "did you mean 'gated-open'"),
    ],
)
def test_what_cannot_be_swept_is_refused(tmp_path, text, message):
    with pytest.raises(PlanError, match=message):
        plan(tmp_path, HEAD + text)


def test_a_grid_is_heard_and_stands_on_the_page_row_by_row(tmp_path):
    time_s = np.arange(2 * RATE) / RATE
    write_audio(tmp_path / "a.wav", 0.2 * np.sin(2 * np.pi * 82.4 * time_s), RATE)
    ready = plan(tmp_path, HEAD + GRID)
    result = run_audition(ready)
    assert [one.name for one in result.takes[0].candidates][1:] == [one.name for one in ready.candidates]
    page = (tmp_path / "audition" / "index.html").read_text(encoding="utf-8")
    for row in ("s, peak 0dB", "s, peak 4dB"):
        assert row in page
    assert json.dumps("200Hz") in page
