"""Boxes recovered from facts, held against an independent computation: the required ones, and 200 invented ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import box_lines
from circuit_equations import Values, solve
from sublatch.circuit.load import load_circuit
from sublatch.circuit.save import save_circuit
from sublatch.parts.fit.fitting import value_at
from sublatch.parts.mybox.contradiction import ContradictionError
from sublatch.parts.mybox.facts import BoxFacts
from sublatch.parts.mybox.job import my_box

DETECTOR = {"detector.kind": "peak-latch"}
"""That of the independent computation."""
GATED = {"octave.kind": "gain-gated", "filter.kind": "first-order", "output.pot.taper": "linear", **DETECTOR}
WITHHELD = 3
"""Facts that are kept back of each invented box."""
BOXES_OF_A_KIND = 12
LOADS = {"two-resistors": "output.load", "virtual-earth": "output.load", "none": "output.input_resistor"}
GROUND = "output.ground_resistor"


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
    assert (circuit.octave.kind, circuit.filter.kind, circuit.output.pot.taper) == tuple(GATED.values())[:3]
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


def invented(rng, mixing):
    """Return a box at random as a circuit, its parts between what is sold, with something in hand."""
    while True:
        taper = rng.choice(["linear", "log", "reverse-log"])
        pot = float(rng.choice([10e3, 25e3, 50e3, 100e3, 250e3]))
        changes = {
            **DETECTOR,
            "octave.kind": str(rng.choice(["gain-gated", "polarity-switched"])),
            "filter.kind": str(rng.choice(["first-order", "second-order", "third-order"])),
            "supply": float(rng.choice([9.0, 12.0, 15.0])),
            "mix.kind": mixing,
            "mix.octave_resistor": float(rng.uniform(10e3, 47e3)),
            "output.pot.value": pot,
            "output.pot.taper": str(taper),
            "output.pot.midpoint": float(rng.uniform(0.1, 0.2)),
            LOADS[mixing]: pot * float(10.0 ** rng.uniform(0.0, 2.0)),
            "output.coupling": 0.1 / pot,
            "output.ground_resistor": float(rng.uniform(5e3, 30e3)),
        }
        if mixing == "none":  # neither is there; as much gain by the feedback as the other kinds have
            del changes["mix.octave_resistor"]
            changes["output.feedback_resistor"] = changes[LOADS[mixing]] * (1 + 1e5 / changes.pop(GROUND)) / 2
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
    paths = ("octave.kind", "filter.kind", "supply", "output.pot.value", "output.pot.taper")
    of_kind = (LOADS[circuit.mix.kind], "mix.octave_resistor")
    names = [*figures, *paths, *(path for path in of_kind if path in changes)]
    withheld = set(rng.choice(names, size=WITHHELD, replace=False).tolist())
    always = ("detector.kind", "mix.kind")
    known = {path: changes[path] for path in (*names, *always) if path in changes and path not in withheld}
    stated = {name: value for name, value in figures.items() if name not in withheld}
    return BoxFacts(**stated, known=known), withheld & set(changes)


def recovered(rng, mixing):
    """Make a box from facts of an invented one, hold it against them, and return how many facts withheld were fitted.

    Only where figures that were stated speak of one withheld is it fitted.
    """
    circuit, changes = invented(rng, mixing)
    facts, withheld = facts_of(circuit, changes, rng)
    box = my_box(facts)
    met(box.circuit, facts)
    marks = box.circuit.origins
    assert box.circuit.mix.kind == mixing
    assert all(marks[path] == "known" for path in facts.known)
    assert all(marks[path] in ("assumed", "fitted") for path in withheld)
    curve_is_stated = facts.unity_at is not None and facts.in_hand_db is not None
    fitted = [path for path in withheld if marks[path] == "fitted"]
    for path in fitted:
        assert path in ("output.pot.taper", "output.pot.value", LOADS[mixing], "mix.octave_resistor")
        assert curve_is_stated or path == "mix.octave_resistor"
    fixed = box.fixed
    assert set(fixed) == {path for path, mark in marks.items() if mark == "fitted"}
    assert all(one.facts and set(one.facts) <= set(facts.stated) for one in fixed.values())
    for path, value in facts.known.items():
        assert value_at(box.circuit, path) == value
    assert all(one.origin == ("known" if one.stated is not None else "assumed") for one in box.figures if one.value)
    return len(fitted)


@pytest.mark.parametrize("boxes", [30, pytest.param(200, marks=pytest.mark.long)])
def test_of_invented_boxes_what_is_stated_is_met_and_what_is_withheld_is_marked(boxes):
    rng = np.random.default_rng(20)
    fitted = sum(recovered(rng, "two-resistors") for _ in range(boxes))
    assert boxes / 20 < fitted < boxes * 0.6


@pytest.mark.parametrize("mixing", ["virtual-earth", "none"])
def test_invented_boxes_that_mix_otherwise_are_met_too(mixing):
    rng = np.random.default_rng(21)
    fitted = sum(recovered(rng, mixing) for _ in range(BOXES_OF_A_KIND))
    assert 0 < fitted < BOXES_OF_A_KIND


def test_a_load_that_makes_the_gain_too_is_fitted_where_the_feedback_is_known():
    """|Rf / Ri| is what is asked for, against 4.55 of 1 MΩ and 220 kΩ, and less by the little that Ri loads the pot."""
    known = {**GATED, "mix.kind": "none", "output.pot.value": "10k", "output.feedback_resistor": "1M"}
    plain = box_lines.in_hand_db(my_box(BoxFacts(known=known)).circuit)
    box = my_box(BoxFacts(in_hand_db=plain + 6.0, known=known))
    assert box.circuit.output.input_resistor == pytest.approx(220e3 / 10.0 ** (6.0 / 20.0), rel=0.01)
    assert box.circuit.origins["output.input_resistor"] == "fitted"
    met(box.circuit, box.facts)


def test_a_load_cannot_make_both_the_curve_and_a_gain_that_are_apart():
    known = {**GATED, "mix.kind": "none", "output.pot.value": "10k", "output.feedback_resistor": "100k"}
    with pytest.raises(ContradictionError, match=r"into a load of \d+k.* gives 1\d.\d dB from 3 to 10, not 10.5 dB"):
        my_box(BoxFacts(unity_at=3.0, in_hand_db=10.5, known=known))


FIXED = {
    "filter.resistor": ("corner",),
    "output.load": ("unity", "in-hand"),
    "output.ground_resistor": ("in-hand",),
}


@pytest.mark.parametrize("path", FIXED)
def test_without_any_of_the_facts_that_fixed_a_value_it_is_assumed(path):
    facts = BoxFacts(corner_hz=275.0, unity_at=3.0, in_hand_db=12.0, known={**GATED, "output.pot.value": "10k"})
    box = my_box(facts)
    assert {one: fixed.facts for one, fixed in box.fixed.items()} == FIXED
    for fact in FIXED[path]:
        rest = facts.without(fact)
        left = my_box(replace(rest, unity_at=None) if path == "output.ground_resistor" else rest)
        assert left.circuit.origins[path] == "assumed"
        assert path not in left.fixed


def test_a_taper_is_fitted_only_where_no_other_does_as_well():
    """Into 10 MΩ, 10 kΩ linear falls by 20 log(10/3) from 10 to 3, a log one by more, a reverse-log one by less.

    With the load open a reverse-log pot does as well, since a load takes more from the middle than from the ends.
    """
    known = {key: value for key, value in GATED.items() if key != "output.pot.taper"}
    known["output.pot.value"] = "10k"
    told = BoxFacts(unity_at=3.0, in_hand_db=10.46, known={**known, "output.load": "10M"})
    box = my_box(told)
    assert (box.circuit.output.pot.taper, box.circuit.origins["output.pot.taper"]) == ("linear", "fitted")
    assert box.fixed["output.pot.taper"].facts == ("unity", "in-hand")
    for other in ("log", "reverse-log"):
        with pytest.raises(ContradictionError):
            my_box(replace(told, known={**told.known, "output.pot.taper": other}))
    open_load = replace(told, known=known)
    assert my_box(open_load).circuit.origins["output.pot.taper"] == "assumed"
    for other in ("linear", "reverse-log"):
        met(my_box(replace(open_load, known={**known, "output.pot.taper": other})).circuit, open_load)
