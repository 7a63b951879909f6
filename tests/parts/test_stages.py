"""Mixing stage and output buffer as `knobs` and the sheet tell them: levels, loads, coupling corners, signs.

Closed forms from part values: Millman's joint, the loaded wiper (Thévenin), 1/(2π R C); textbook, from memory.
"""

from __future__ import annotations

import json
import math
import re
from typing import Any

import numpy as np
import pytest

from command_line import sublatch
from own_networks import INVERTING
from sublatch.circuit.load import load_circuit
from sublatch.parts.knobs.coupling import couplings
from sublatch.parts.knobs.headroom import op_amps
from sublatch.parts.knobs.stages import stages
from sublatch.parts.knobs.travel import knob_curve, knob_names, most_even
from sublatch.parts.knobs.trim import trim
from sublatch.signal.chain import output_sources
from sublatch.signal.unity import tone_take

TRACK = {"output.pot": {"value": "100k", "taper": "linear"}, "output.trim_resistor": "none"}


def told(**changes: Any) -> Any:
    """The stages of a circuit with a linear volume pot and no trim (dots as two underscores)."""
    return stages(load_circuit("gated-swept", changes=TRACK | {k.replace("__", "."): v for k, v in changes.items()}))


def test_the_octaves_level_goes_with_the_direct_knob_at_a_joint_alone() -> None:
    joint, earth, none = told(), told(mix__kind="virtual-earth"), told(mix__kind="none")
    low, high = (20 * math.log10(r / (22e3 + r)) for r in (22e3, 22e3 + 2.5e3))  # a quarter of the track half way
    assert (joint.octave_least_db, joint.octave_most_db) == pytest.approx((low, high), abs=1e-5)
    assert (earth.octave_least_db, earth.octave_most_db, earth.direct_gain_db) == pytest.approx((0, 0, 0), abs=1e-5)
    assert (none.octave_least_db, none.octave_most_db, none.direct_gain_db) == (0.0, 0.0, None)


@pytest.mark.parametrize(("kind", "load_ohm"), [("virtual-earth", 1e6), ("none", 220e3)])
def test_what_the_load_takes_on_the_travel(kind: str, load_ohm: float) -> None:
    """A linear track's wiper is a source of R/4 at most, behind a trim resistor of (R + T)/4 where that is reached."""
    plain, trimmed = told(mix__kind=kind), told(mix__kind=kind, output__trim_resistor="60k")
    assert plain.load_ohm == load_ohm
    assert plain.load_loss_db == pytest.approx(20 * math.log10(1 + 25e3 / load_ohm))
    assert trimmed.load_loss_db == pytest.approx(20 * math.log10(1 + 40e3 / load_ohm))


def test_the_coupling_corner_has_the_load_of_the_buffer() -> None:
    circuit = load_circuit("gated-swept", changes={**TRACK, "mix.kind": "none"})
    found = next(one for one in couplings(circuit) if one.name == "output.coupling")
    track = 100e3 * np.linspace(0.0, 1.0, 21)
    ohm = 100e3 - track + track * 220e3 / (track + 220e3)
    assert found.corner_hz == pytest.approx(1 / (2 * math.pi * 1e-6 * ohm), rel=1e-5)


@pytest.mark.parametrize(
    ("changes", "octave", "direct"),
    [
        ({}, 1, 1),
        ({"mix__kind": "virtual-earth"}, -1, -1),
        ({"mix__kind": "virtual-earth", "output__kind": "inverting"}, 1, 1),
        ({"mix__kind": "none"}, -1, None),
        ({"mix__direct_filter": {"kind": "network", "parts": INVERTING}}, 1, -1),
        ({"filter": {"kind": "network", "parts": INVERTING}}, -1, 1),
    ],
)
def test_signs_against_the_bypassed_signal(changes: dict[str, Any], octave: int, direct: int | None) -> None:
    found = told(**changes)
    assert (found.octave_sign, found.direct_sign) == (octave, direct)
    words = found.sentences[-1]
    assert ("turned over" in words) == (-1 in (octave, direct))
    assert ("the direct one" in words) == (direct is not None and direct != octave)


def test_op_amps_have_names_of_their_own() -> None:
    changes = {"mix.kind": "virtual-earth", "mix.direct_filter.kind": "first-order"}
    assert list(op_amps(load_circuit("gated-first-order", changes=changes))) == [
        "output filter",
        "direct filter",
        "mix amplifier",
        "output buffer",
    ]
    assert list(op_amps(load_circuit("gated-open", changes={"mix.kind": "none"}))) == ["output buffer"]


def test_each_knob_that_is_there_has_a_curve() -> None:
    assert knob_names(load_circuit("gated-swept", changes={"mix.kind": "none"})) == ("tone", "volume")
    circuit = load_circuit("gated-open", changes={"mix.direct_filter.kind": "swept-first-order"})
    assert knob_names(circuit) == ("volume", "direct", "direct_tone")
    curve = knob_curve(circuit, "direct_tone")
    base = (1 / 0.15 - 1) ** 2
    track = 100e3 * (base ** (1 - curve.position / 10) - 1) / (base - 1)  # what is left of a reverse-log track
    assert curve.value == pytest.approx(1 / (2 * math.pi * 10e-9 * (3.3e3 + track)), rel=1e-6)
    assert curve.unit == "Hz"
    linear = load_circuit(
        "gated-open", changes={"mix.direct_filter": {"kind": "swept-first-order", "pot": {"value": "100k"}}}
    )
    assert most_even(linear, "direct_tone").taper == "reverse-log"


def test_gain_that_an_inverting_buffer_lacks_is_its_feedback_resistors() -> None:
    changes = {**TRACK, "mix.kind": "none", "output.feedback_resistor": "100k"}
    weak = load_circuit("gated-open", changes=changes)
    source = output_sources(tone_take(), weak)
    found = trim(source, weak, position=10.0, measure="rms")
    assert (found.possible, found.ground_resistor_ohm) == (False, None)
    assert found.feedback_resistor_ohm is not None
    wanted = 100e3 * 10 ** (found.missing_db / 20)
    assert wanted <= found.feedback_resistor_ohm < 1.11 * wanted
    better = load_circuit("gated-open", changes=changes | {"output.feedback_resistor": found.feedback_resistor_ohm})
    assert trim(source, better, position=10.0, measure="rms").possible


def test_the_commands_tell_loads_corners_and_signs() -> None:
    done = sublatch("knobs", "-c", "gated-open", "--set", "mix.kind=none", "--set", "output.feedback_resistor=100k")
    assert done.exit_code == 0, done.stderr
    for words in (
        "mix.kind = none: the octave comes through it at 0.0 dB, and there is no direct knob",
        "the volume pot works into 220k (output.input_resistor), which takes at most 0.9 dB",
        "sign: the note leaves the box turned over against the bypassed signal",
    ):
        assert words in done.stdout
    assert re.search(r"output\.coupling +1u +1\.59 to 2\.31 ", done.stdout)
    assert "\ndirect:" not in done.stdout
    fields = json.loads(sublatch("knobs", "-c", "gated-open", "--set", "mix.kind=none", "--json").stdout)["stages"]
    assert (fields["load_ohm"], fields["octave_sign"], fields["direct_sign"]) == (220e3, -1, None)
    short = ("knobs", "-c", "gated-open", "--set", "mix.kind=none", "--set", "output.feedback_resistor=10k")
    assert "such as output.feedback_resistor = " in sublatch(*short, "--unity-at", "10").stdout


def test_the_direct_signals_response_is_shown() -> None:
    swept = ("--set", "mix.direct_filter.kind=swept-first-order")
    printed = [
        sublatch("response", "-c", "gated-swept", *swept, "--set", f"knobs.direct_tone={position}", "--direct").stdout
        for position in (0, 10)
    ]
    assert "corner         154.1 Hz" in printed[0]
    assert "corner         4.823 kHz" in printed[1]
    refused = sublatch("response", "-c", "gated-swept", "--set", "mix.kind=none", "--direct")
    assert refused.exit_code == 2
    assert "mix.kind = 'none'" in refused.stderr


def test_a_plan_sweeps_and_moves_the_direct_tone(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from sublatch.files.sound import write_audio

    monkeypatch.chdir(tmp_path)
    t = np.arange(8000) / 8000
    write_audio(tmp_path / "take.wav", 0.2 * np.sin(2 * np.pi * 80 * t) * np.minimum(1, t / 0.05), 8000)
    (tmp_path / "plan.toml").write_text(
        'takes = ["take.wav"]\noutput = "heard"\n'
        '[[sweeps]]\nname = "dark"\ncircuit = "gated-open"\nvary = "knobs.direct_tone"\nvalues = [0, 10]\n'
        'set = { "mix.direct_filter.kind" = "swept-first-order", "knobs.direct" = 8 }\n'
        '[[candidates]]\nname = "moved"\ncircuit = "gated-open"\n'
        'set = { "mix.direct_filter.kind" = "swept-first-order", "knobs.direct" = 8 }\n'
        'moves = [{ control = "knobs.direct_tone", to = 9, start = 0.3, end = 0.6 }]\n',
        "utf-8",
    )
    done = sublatch("audition", "plan.toml")
    assert done.exit_code == 0, done.stderr
    page = (tmp_path / "heard" / "index.html").read_text("utf-8")
    assert "direct tone" in page
