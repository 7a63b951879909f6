"""A box from facts: what is fitted, what is assumed, facts that contradict each other, and what would settle it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.circuit.response import response
from sublatch.circuit.with_settings import with_settings
from sublatch.demo.strings import pluck
from sublatch.errors import CircuitError
from sublatch.parts.mybox.contradiction import ContradictionError
from sublatch.parts.mybox.facts import BoxFacts
from sublatch.parts.mybox.job import my_box
from sublatch.parts.mybox.save import box_heading
from sublatch.signal.chain import output_sources
from sublatch.signal.unity import unity
from sublatch.takes.take import take_from_samples

GATED = {"octave.kind": "gain-gated", "filter.kind": "first-order", "detector.kind": "peak-latch"}
"""Figures in dB here are those of the Fourier series with a peak latch, as in `box_lines`."""
LINEAR = {**GATED, "output.pot.value": "10k", "output.pot.taper": "linear"}


def refused(facts):
    """Return what is said of facts that contradict each other, and the ways out by the fact that gives way."""
    with pytest.raises(ContradictionError) as problem:
        my_box(facts)
    ways = {way.doubt: way.becomes for way in problem.value.contradiction.alternatives}
    assert all(f"--doubt {doubt}: {doubt} is {becomes}, not" in str(problem.value) for doubt, becomes in ways.items())
    return problem.value.contradiction.text, ways


def test_nothing_known_is_the_nearest_built_in_circuit_and_all_assumed():
    box = my_box(BoxFacts())
    plain = load_circuit("gated-first-order")
    assert set(box.circuit.origins.values()) == {"assumed"}
    assert box.circuit.model_dump(exclude={"title", "knobs"}) == plain.model_dump(exclude={"title", "knobs"})
    assert len(box.measurements) == 3
    assert {one.with_what for one in box.measurements} == {"a meter", "a tone from a phone", "a recording"}


def test_a_first_order_resistor_is_that_of_the_closed_form():
    box = my_box(BoxFacts(corner_hz=275.0, known={**GATED, "filter.capacitor": "22n"}))
    assert box.circuit.filter.resistor == pytest.approx(1.0 / (2.0 * math.pi * 275.0 * 22e-9), rel=1e-3)
    assert box.circuit.origins["filter.resistor"] == "fitted"
    box = my_box(BoxFacts(corner_hz=275.0, known={**GATED, "filter.resistor": "10k"}))
    assert box.circuit.filter.capacitor == pytest.approx(1.0 / (2.0 * math.pi * 275.0 * 1e4), rel=1e-3)
    assert box.circuit.origins["filter.resistor"] == "known"


@pytest.mark.parametrize("peak_db", [0.5, 3.0, 9.0])
def test_a_second_order_peak_is_that_of_the_closed_form(peak_db):
    """Q² = (P + √(P² − P))/2 with P = 10^(dB/10), and Q = √(R1 R2 Cf / Cg)/(R1 + R2): textbook, from memory."""
    made = my_box(BoxFacts(corner_hz=400.0, peak_db=peak_db)).circuit.filter
    power = 10.0 ** (peak_db / 10.0)
    q = math.sqrt((power + math.sqrt(power**2 - power)) / 2.0)
    r1, r2 = made.first_resistor, made.second_resistor
    assert math.sqrt(r1 * r2 * made.feedback_capacitor / made.ground_capacitor) / (r1 + r2) == pytest.approx(
        q, rel=0.01
    )


@pytest.mark.parametrize("kind", ["swept-second-order", "swept-state-variable"])
@pytest.mark.parametrize("known", [{}, {"filter.pot.value": "50k"}, {"filter.end_resistor": "2k2"}])
def test_a_swept_filter_has_its_corners_and_its_peak(kind, known):
    box = my_box(BoxFacts(low_hz=100.0, high_hz=3000.0, peak_db=4.0, known={"filter.kind": kind, **known}))
    for tone, corner_hz in ((0.0, 100.0), (10.0, 3000.0)):
        for peak, peak_db in (("flat", 0.0), ("peaked", 4.0)):
            there = response(with_settings(box.circuit, {"knobs.tone": tone, "switches.peak": peak}))
            assert there.corner_hz == pytest.approx(corner_hz, rel=0.01)
            assert there.peak_db == pytest.approx(peak_db, abs=0.05)
    for path, value in known.items():
        assert box.circuit.origins[path] == "known"
        assert value


def test_a_log_pots_midpoint_is_fitted_before_a_load_is():
    """Into a light load the fall from 5 to 10 is 20 log of the share at half rotation."""
    known = {**LINEAR, "output.pot.taper": "log"}
    box = my_box(BoxFacts(unity_at=5.0, in_hand_db=18.0, known=known))
    assert box.circuit.output.pot.midpoint == pytest.approx(10.0 ** (-18.0 / 20.0), abs=0.002)
    assert box.circuit.origins["output.pot.midpoint"] == "fitted"
    assert box.circuit.origins["output.load"] == "assumed"


def test_the_level_at_5_settles_the_load():
    """A linear track R into a load L falls from 5 to 10 by 20 log(2 + 0.5 R/L)."""
    box = my_box(BoxFacts(half_db=8.0, known=LINEAR))
    assert box.circuit.output.load == pytest.approx(0.5 * 10e3 / (10.0 ** (8.0 / 20.0) - 2.0), rel=0.01)
    both = my_box(BoxFacts(half_db=7.83, unity_at=3.0, in_hand_db=12.0, known=LINEAR))
    assert both.doubtful == ()  # somebody measured it
    assert "output.load" not in {what for one in both.measurements for what in one.settles}


def test_ten_and_a_half_in_hand_or_a_load():
    box = my_box(BoxFacts(unity_at=3.0, in_hand_db=12.0, known=LINEAR))
    (doubtful,) = box.doubtful
    assert "gives 10.5 dB from 3 to 10, not 12 dB from 3 to 10" in doubtful.text
    assert "would have to load the wiper with 10k" in doubtful.text
    assert {way.doubt: way.becomes for way in doubtful.alternatives} == {"unity": "2.52", "in-hand": "10.5 dB"}


@pytest.mark.parametrize(("load", "pot_ohm", "odd"), [("250k", 231e3, False), ("375k", 347e3, True)])
def test_a_pot_that_nobody_sells_is_told(load, pot_ohm, odd):
    """A linear track R at 3 of 10 into a load L lies 20 log((1 + 0.21 R/L) / 0.3) below full: R = 0.925 L for 12 dB.

    The mixing stage's 11k ahead of it are left out here.
    """
    known = {**GATED, "output.pot.taper": "linear", "output.load": load, "output.trim_resistor": "none"}
    box = my_box(BoxFacts(unity_at=3.0, in_hand_db=12.0, known=known))
    assert box.circuit.output.pot.value == pytest.approx(pot_ohm, rel=0.05)
    if not odd:
        assert box.doubtful == ()
        return
    (doubtful,) = box.doubtful
    assert "and none is sold that may measure so: nearest are 250k and 470k" in doubtful.text
    assert {way.doubt for way in doubtful.alternatives} == {"unity", "in-hand"}


@pytest.mark.parametrize(
    ("facts", "said", "ways"),
    [
        (
            BoxFacts(unity_at=3.0, in_hand_db=12.0, known={**LINEAR, "output.load": "1M"}),
            "a 10k linear volume pot into a light load (1M) gives 10.5 dB from 3 to 10, not 12 dB",
            {"unity": "2.52", "in-hand": "10.5 dB"},
        ),
        (
            BoxFacts(unity_at=3.0, in_hand_db=9.0, known=LINEAR),
            "gives 10.5 dB from 3 to 10, not 9 dB from 3 to 10",
            {"unity": "3.56", "in-hand": "10.5 dB"},
        ),
        (
            BoxFacts(corner_hz=375.0, known={**GATED, "filter.resistor": "39k", "filter.capacitor": "15n"}),
            "make its corner 272.1 Hz, not 375 Hz",
            {"corner": "272 Hz", "filter.resistor": "28k29", "filter.capacitor": "10n88"},
        ),
        (
            BoxFacts(
                in_hand_db=20.0,
                known={
                    **GATED,
                    "output.feedback_resistor": "39k",
                    "output.ground_resistor": "15k",
                    "mix.octave_resistor": "22k",
                },
            ),
            "the parts known leave 1.3 dB in hand, not 20 dB",
            {"in-hand": "1.3 dB"},
        ),
        (
            BoxFacts(peak_db=3.0, known=GATED),
            "a first-order filter with these parts has no peak, not 3 dB",
            {"peak": "0 dB"},
        ),
        (
            BoxFacts(corner_hz=300.0, known={"filter.kind": "none"}),
            "a filter of kind 'none' has no corner, wanted is 300 Hz",
            {},
        ),
        (
            BoxFacts(unity_at=5.0, in_hand_db=6.0, half_db=9.0, known=LINEAR),
            "unity at 5 with 6 dB in hand is 6 dB from 5 to 10, not 9 dB",
            {"in-hand": "9 dB", "at-5": "6 dB"},
        ),
    ],
)
def test_facts_that_contradict_each_other_are_told_with_the_nearest_that_works(facts, said, ways):
    text, found = refused(facts)
    assert said in text
    assert ways.items() <= found.items()


def test_parts_that_are_read_may_be_off_as_parts_are():
    """39 kΩ and 15 nF are 272.06 Hz: 1.1 % from 275 Hz, of which a capacitor of 10 % may be to blame."""
    known = {**GATED, "filter.resistor": "39k", "filter.capacitor": "15n"}
    box = my_box(BoxFacts(corner_hz=275.0, known=known))
    assert (box.circuit.filter.resistor, box.circuit.filter.capacitor) == (39e3, 15e-9)
    (doubtful,) = box.doubtful
    assert "the parts read make the corner 272 Hz, stated is 275 Hz" in doubtful.text
    assert {way.doubt for way in doubtful.alternatives} == {"corner", "filter.resistor", "filter.capacitor"}
    assert my_box(BoxFacts(corner_hz=272.1, known=known)).doubtful == ()


def test_the_gain_of_the_output_buffer_is_what_is_missing():
    """With 1 + 100/8.2 the built-in box has 12.61 dB in hand; 20 dB want 7.39 dB more of 1 + Rf / Rg."""
    box = my_box(BoxFacts(in_hand_db=20.0, known={**GATED, "output.feedback_resistor": "100k"}))
    gain = (1.0 + 100.0 / 8.2) * 10.0 ** ((20.0 - 12.61) / 20.0)
    assert box.circuit.output.ground_resistor == pytest.approx(100e3 / (gain - 1.0), rel=0.005)
    assert box.circuit.origins["output.ground_resistor"] == "fitted"
    assert box.circuit.origins["output.feedback_resistor"] == "known"


def test_a_box_may_be_too_soft():
    box = my_box(BoxFacts(in_hand_db=-4.0, known=LINEAR))
    assert box.figure("in-hand").value == pytest.approx(-4.0, abs=0.1)
    assert box.figure("unity").value is None
    assert box.circuit.knobs.volume == 10.0


def test_every_way_out_works_once_it_is_taken():
    facts = BoxFacts(unity_at=3.0, in_hand_db=12.0, known={**LINEAR, "output.load": "1M"})
    _, ways = refused(facts)
    assert set(ways) == {"unity", "in-hand", "output.load", "output.pot.value"}
    for doubt in ways:
        assert my_box(facts.without(doubt)).circuit


@pytest.mark.parametrize(
    ("facts", "message"),
    [
        (BoxFacts(unity_at=30.0), r"unity must be 0.1 to 10 of 10, got 30; was it meant as 3\?"),
        (BoxFacts(in_hand_db=-40.0), "in-hand must be -30 to 60 dB, got -40"),
        (BoxFacts(unity_at=9.0, in_hand_db=-3.0), "where unity is on the knob, nothing is missing at 10"),
        (BoxFacts(corner_hz=0.2), "corner must be 5 to 20000 Hz, got 0.2"),
        (BoxFacts(low_hz=100.0), "low and high go together"),
        (BoxFacts(low_hz=300.0, high_hz=100.0), "low must be below high, got 300 Hz and 100 Hz"),
        (BoxFacts(low_hz=100.0, high_hz=300.0, corner_hz=200.0), "corner is for a filter without a tone knob"),
        (BoxFacts(unity_at=10.0, in_hand_db=6.0), "with unity at 10 nothing is in hand above it, got in-hand 6 dB"),
        (BoxFacts(known={"output.lod": "1M"}), "unknown key 'lod'; did you mean 'load'"),
        (BoxFacts(known={"output.load": "1 apple"}), "output.load"),
        (BoxFacts(known={"filter.resistor": "1k", "filter.pot.value": "1k"}), "no kind of filter has all of"),
    ],
)
def test_what_no_box_has_is_refused(facts, message):
    with pytest.raises(CircuitError, match=message):
        my_box(facts)


def test_only_what_is_given_can_be_doubted():
    with pytest.raises(CircuitError, match=r"got 'unitty'; did you mean 'unity'\? \(given: unity, octave.kind\)"):
        BoxFacts(unity_at=3.0, known={"octave.kind": "gain-gated"}).without("unitty")


def test_parts_read_tell_the_kind_of_filter():
    assert my_box(BoxFacts(known={"filter.third_resistor": "22k"})).circuit.filter.kind == "third-order"


def test_unity_with_a_take_is_unity_with_that_take():
    samples = np.concatenate([pluck(hz, seconds=0.8, sample_rate=16000, level_volts=0.3) for hz in (41.2, 61.7, 55.0)])
    take = take_from_samples(samples, 16000, name="line")
    box = my_box(BoxFacts(unity_at=4.0, in_hand_db=8.1, known=LINEAR), take=take)
    found = unity(output_sources(take, box.circuit), box.circuit)
    assert found.measure == "loudness"
    assert found.position == pytest.approx(4.0, abs=0.1)
    assert found.excess_gain_db == pytest.approx(8.1, abs=0.2)
    assert box.heard == "line"


def test_measurements_are_of_what_is_assumed_and_stop_when_it_is_known():
    before = my_box(BoxFacts(known=GATED))
    assert before.measurements[0].option == "--volume-pot OHMS"
    after = my_box(BoxFacts(known=LINEAR))
    assert "--volume-pot OHMS" not in {one.option for one in after.measurements}
    everything = {path: mark for path, mark in after.circuit.origins.items() if mark != "known"}
    values = {path: _value(after.circuit, path) for path in everything if _value(after.circuit, path) is not None}
    full = my_box(BoxFacts(corner_hz=272.06, unity_at=2.35, in_hand_db=12.6, half_db=6.1, known={**LINEAR, **values}))
    assert full.measurements == ()


def test_the_file_says_what_was_stated_and_how_it_was_made():
    box = my_box(BoxFacts(corner_hz=275.0, unity_at=3.0, known=LINEAR))
    heading = box_heading(box, "sublatch mybox --corner 275Hz")
    assert "corner: 275 Hz; stated 275 Hz." in heading
    assert "unity: 3.00; stated 3.00." in heading
    assert "in-hand" not in heading
    assert heading.endswith("sublatch mybox --corner 275Hz")


def _value(circuit, path):
    value = circuit
    for step in path.split("."):
        value = getattr(value, step)
    return value
