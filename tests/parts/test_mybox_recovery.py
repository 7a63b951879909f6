"""Boxes recovered from facts, held against an independent computation: the required ones, and 200 invented ones."""

from __future__ import annotations

import numpy as np
import pytest

import box_lines
from circuit_equations import Values, solve
from sublatch.circuit.load import load_circuit
from sublatch.circuit.save import save_circuit
from sublatch.parts.mybox.facts import BoxFacts
from sublatch.parts.mybox.job import my_box

GATED = {"octave.kind": "gain-gated", "filter.kind": "first-order", "output.pot.taper": "linear"}
WITHHELD = 3
"""Facts that are kept back of each invented box."""


def met(circuit, facts):
    """Hold the figures that were stated against a circuit, by the independent computation."""
    if facts.corner_hz is not None:
        assert box_lines.corner_hz(circuit) == pytest.approx(facts.corner_hz, rel=0.01)
    if facts.unity_at is not None:
        assert box_lines.unity_position(circuit) == pytest.approx(facts.unity_at, abs=0.1)
    if facts.in_hand_db is not None:
        assert box_lines.in_hand_db(circuit) == pytest.approx(facts.in_hand_db, abs=0.2)


@pytest.mark.parametrize(("in_hand_db", "load_ohm"), [(10.5, None), (12.0, 10.8e3)])
@pytest.mark.parametrize("pot", ["10k", None])
def test_the_box_that_was_asked_for_comes_out(in_hand_db, load_ohm, pot, tmp_path):
    """First order at 275 Hz, gated, a linear volume with unity at 3 of 10; what 12 dB imply by Ohm's law.

    From 3 to 10 a track R into a load L falls by 20 log(1 + 0.3 · 0.7 R/L) more than the 10.46 dB of 0.3.
    """
    known = GATED if pot is None else {**GATED, "output.pot.value": pot}
    facts = BoxFacts(corner_hz=275.0, unity_at=3.0, in_hand_db=in_hand_db, known=known)
    box = my_box(facts)
    save_circuit(box.circuit, tmp_path / "box.toml")
    circuit = load_circuit(tmp_path / "box.toml")
    met(circuit, facts)
    assert (circuit.octave.kind, circuit.filter.kind, circuit.output.pot.taper) == tuple(GATED.values())
    assert circuit.origins["filter.kind"] == circuit.origins["octave.kind"] == "known"
    if load_ohm is None:
        assert circuit.origins["output.load"] == "assumed"
        assert box.doubtful == ()
    else:
        exact = 0.21 * circuit.output.pot.value / (10.0 ** ((in_hand_db + 20.0 * np.log10(0.3)) / 20.0) - 1.0)
        assert circuit.output.load == pytest.approx(exact, rel=0.01)
        assert circuit.output.load == pytest.approx(load_ohm * circuit.output.pot.value / 10e3, rel=0.01)
        assert circuit.origins["output.load"] == "fitted"
        assert [way.doubt for way in box.doubtful[0].alternatives] == ["unity", "in-hand"]


def integrated_db(circuit, position):
    """Effect against bypassed with the volume at a position, by the differential equations of the whole path, in dB."""
    detector, made, output = circuit.detector, circuit.filter, circuit.output
    below = output.pot.value * position / 10.0
    track = circuit.mix.direct_pot.value
    values = Values(
        input_c=circuit.input.coupling,
        input_r=circuit.input.resistance,
        detector_r=detector.filter.first_resistor,
        detector_c=(
            detector.filter.first_ground_capacitor,
            detector.filter.feedback_capacitor,
            detector.filter.second_ground_capacitor,
        ),
        fraction=detector.fraction,
        hold_s=detector.hold_resistor * detector.hold_capacitor,
        floor=detector.floor,
        gains=(1.0, 0.0),
        filter_r=made.first_resistor,
        filter_ground_c=made.ground_capacitor,
        filter_feedback_c=made.feedback_capacitor,
        mix_r=(circuit.mix.octave_resistor, circuit.mix.direct_resistor),
        direct_upper=track,
        direct_lower=1e-3,
        coupling_c=output.coupling,
        volume_upper=output.pot.value - below + 1e-3,
        volume_lower=below,
        load=output.load,
        gain=1.0 + output.feedback_resistor / output.ground_resistor,
        limits=(-100.0, 100.0),
    )
    period = 2.0 / box_lines.TONE_HZ
    times = np.arange(12 * 400, 24 * 400) * period / 400.0  # twelve periods of the octave, once all has settled
    out, _ = solve(values, lambda t: 0.2 * np.sin(2.0 * np.pi * box_lines.TONE_HZ * t), times)
    return 10.0 * np.log10(np.mean(np.square(out - np.mean(out))) / (0.2**2 / 2.0))


def test_the_differential_equations_of_the_path_agree():
    """Kirchhoff's laws integrated, with comparator, peak stores and flip-flop: unity at 3, 12 dB in hand."""
    known = {**GATED, "filter.kind": "second-order", "output.pot.value": "10k"}
    made = my_box(BoxFacts(corner_hz=275.0, unity_at=3.0, in_hand_db=12.0, known=known)).circuit
    assert integrated_db(made, 3.0) == pytest.approx(0.0, abs=0.2)
    assert integrated_db(made, 10.0) == pytest.approx(12.0, abs=0.2)
    assert integrated_db(made, 3.1) > 0.0 > integrated_db(made, 2.9)  # so unity is within a tenth of a position


def invented(rng):
    """Return a box at random as a circuit, its parts between what is sold, with something in hand."""
    while True:
        taper = rng.choice(["linear", "log", "reverse-log"])
        pot = float(rng.choice([10e3, 25e3, 50e3, 100e3, 250e3]))
        changes = {
            "octave.kind": str(rng.choice(["gain-gated", "polarity-switched"])),
            "filter.kind": str(rng.choice(["first-order", "second-order", "third-order"])),
            "supply": float(rng.choice([9.0, 12.0, 15.0])),
            "mix.octave_resistor": float(rng.uniform(10e3, 47e3)),
            "output.pot.value": pot,
            "output.pot.taper": str(taper),
            "output.pot.midpoint": float(rng.uniform(0.1, 0.2)),
            "output.load": pot * float(10.0 ** rng.uniform(0.0, 2.0)),
            "output.coupling": 0.1 / pot,
            "output.ground_resistor": float(rng.uniform(5e3, 30e3)),
        }
        circuit = load_circuit("gated-first-order", changes=changes)
        scale = float(rng.uniform(0.5, 3.0))
        parts = {f"filter.{name}": ohm * scale for name, ohm in circuit.filter if name.endswith("resistor")}
        circuit = load_circuit("gated-first-order", changes={**changes, **parts})
        if 2.0 < box_lines.in_hand_db(circuit) < 25.0:
            return circuit, changes


def facts_of(circuit, changes, rng):
    """Return what is known of a box with three facts withheld, and the settings among those."""
    figures = {
        "corner_hz": box_lines.corner_hz(circuit),
        "unity_at": box_lines.unity_position(circuit),
        "in_hand_db": box_lines.in_hand_db(circuit),
    }
    paths = ("octave.kind", "filter.kind", "supply", "output.pot.value", "output.pot.taper", "output.load")
    names = [*figures, *paths, "mix.octave_resistor"]
    withheld = set(rng.choice(names, size=WITHHELD, replace=False).tolist())
    known = {path: changes[path] for path in names if path in changes and path not in withheld}
    stated = {name: value for name, value in figures.items() if name not in withheld}
    return BoxFacts(**stated, known=known), withheld & set(changes)


def test_of_200_invented_boxes_what_is_stated_is_met_and_what_is_withheld_is_marked():
    rng = np.random.default_rng(20)
    fitted = 0
    for _ in range(200):
        circuit, changes = invented(rng)
        facts, withheld = facts_of(circuit, changes, rng)
        box = my_box(facts)
        met(box.circuit, facts)
        marks = box.circuit.origins
        assert all(marks[path] == "known" for path in facts.known)
        assert all(marks[path] in ("assumed", "fitted") for path in withheld)
        curve_is_stated = facts.unity_at is not None and facts.in_hand_db is not None
        for path in withheld:
            if marks[path] == "fitted":  # only where figures that were stated speak of it
                assert path in ("output.pot.taper", "output.load", "output.pot.value", "mix.octave_resistor")
                assert curve_is_stated or path == "mix.octave_resistor"
                fitted += 1
        for path, value in facts.known.items():
            got = box.circuit
            for step in path.split("."):
                got = getattr(got, step)
            assert got == value
        assert all(one.origin == ("known" if one.stated is not None else "assumed") for one in box.figures if one.value)
    assert 10 < fitted < 120
