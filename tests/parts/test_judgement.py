"""What `choose` and `knobs` think of knobs, headroom and parts: the same, and by the bounds that they name."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.circuit.components.sold import hard_pot, hard_resistor
from sublatch.circuit.load import load_circuit
from sublatch.json_data import plain_values
from sublatch.parts.choose.job import choose
from sublatch.parts.choose.request import ChooseRequest
from sublatch.parts.knobs.judgement import SLAPPED_VOLTS, hard_parts, step_words
from sublatch.parts.knobs.report import knobs
from sublatch.parts.knobs.travel import TWITCHY
from sublatch.signal.chain import render
from sublatch.takes.take import take_from_samples

PLEASANT = {"low_hz": 100.0, "high_hz": 3000.0, "peak_db": 4.0}
WIDE = {"low_hz": 100.0, "high_hz": 5000.0, "peak_db": 7.5}
PEAKY = {"low_hz": 100.0, "high_hz": 5000.0, "peak_db": 20.0, "pots_ohm": (220e3,)}
WISHES = (PLEASANT, WIDE, PEAKY)
LITTLE = {"gated-swept"}
"""With its peak of 3.8 dB it has 16.3 dB left at unity, under the 17 dB that slapped notes may be louder."""


@pytest.fixture(scope="module", params=range(len(WISHES)))
def judged(request):
    """A choice, and the knobs of the circuit that its parts make."""
    choice = choose(ChooseRequest(**WISHES[request.param]))
    circuit = load_circuit("gated-swept", changes=choice.changes)
    circuit = circuit.model_copy(update={"filter": choice.best.circuit.filter})
    return WISHES[request.param], choice, circuit, knobs(circuit)


@pytest.mark.long
def test_the_two_commands_judge_alike(judged):
    wish, choice, _, found = judged
    remarks = [one for one in found.remarks if "direct knob" not in one.text]  # no filter changes that knob
    by_code = [{one.code: one.text for one in some} for some in (choice.remarks, remarks)]
    assert by_code[0] == by_code[1]
    expected = {str(PLEASANT): {"little-headroom"}, str(WIDE): {"twitchy", "little-headroom"}}
    assert set(by_code[0]) == expected.get(str(wish), {"twitchy", "little-headroom", "hard-to-buy"})
    assert choice.best.steepest_octaves == pytest.approx(found.curves[0].steepest_per_step, rel=1e-6)
    assert (choice.best.steepest_octaves > TWITCHY["octaves"]) == ("twitchy" in by_code[0])
    assert choice.in_hand == found.in_hand
    assert [one for one in plain_values(choice)["remarks"] if one not in plain_values(found)["remarks"]] == []


def test_a_sine_that_much_louder_just_reaches_the_limits(judged):
    """Rendered, with the knobs where the least is left: half a decibel less is clean, half a decibel more clips."""
    _, choice, circuit, found = judged
    left = choice.in_hand
    assert left is not None
    assert (left.at, left.room_db < 20.0) == ("unity", True)
    place = {"volume": found.unity_position, "tone": left.tone}
    peaked = circuit.model_copy(
        update={
            "knobs": circuit.knobs.model_copy(update=place),
            "switches": circuit.switches.model_copy(update={"peak": "peaked"}),
        }
    )
    time_s = np.arange(2 * 24000) / 24000
    shares = []
    for decibels in (left.room_db - 0.5, left.room_db + 0.5):
        volts = 0.2 * 10 ** (decibels / 20)
        sine = take_from_samples(volts * np.sin(2 * np.pi * 82.407 * time_s), 24000, name="sine")
        shares.append(render(sine, peaked).at_limit_share)
    assert shares[0] == 0.0
    assert shares[1] > 0.0
    assert left.is_little == (0.2 * 10 ** (left.room_db / 20) < SLAPPED_VOLTS)


def test_common_pots_come_before_those_that_are_hard_to_buy():
    """A 220k dual-gang reverse-log pot with 2M across came first here, though 50k comes near too."""
    found = choose(ChooseRequest(**PLEASANT))
    assert found.best.parts["pot"]["value"] in (50e3, 100e3)
    assert not hard_parts(found.best.circuit.filter)
    hard = [bool(hard_parts(one.circuit.filter)) for one in (found.best, *found.alternatives)]
    assert hard == sorted(hard)
    assert hard[-1]
    told = plain_values(found)["alternatives"][-1]["remarks"]
    assert [one["code"] for one in told] == ["hard-to-buy"]


def test_a_pot_that_was_asked_for_is_taken_and_remarked_on():
    found = choose(ChooseRequest(**PLEASANT, pots_ohm=(220e3,)))
    assert found.best.parts["pot"]["value"] == 220e3
    (text,) = (remark.text for remark in found.remarks if remark.code == "hard-to-buy")
    assert text == "hard to buy: a 220k dual-gang reverse-log pot"


def test_where_a_resistor_can_be_chosen_it_is_a_common_one():
    """A 10M pot needs start resistors of 1 MΩ to 10 MΩ; none of the common ones is left out for a larger one."""
    found = choose(ChooseRequest(**PLEASANT, pots_ohm=(10e6,)))
    starts = [one.parts["start_resistor"] for one in (found.best, *found.alternatives)]
    hard = [len(hard_parts(one.circuit.filter)) for one in (found.best, *found.alternatives)]
    assert hard == sorted(hard)
    assert [ohm > 1e6 for ohm in starts] == [count > 1 for count in hard]


@pytest.mark.parametrize(
    ("ohm", "taper", "midpoint", "gangs", "is_hard"),
    [
        (50e3, "reverse-log", 0.15, 2, False),
        (100e3, "reverse-log", 0.10, 2, False),
        (220e3, "reverse-log", 0.15, 2, True),
        (47e3, "reverse-log", 0.15, 2, True),
        (2e6, "linear", 0.15, 2, True),
        (4.7e3, "linear", 0.15, 2, True),
        (100e3, "log", 0.30, 2, True),
        (100e3, "linear", 0.30, 2, False),
        (100e3, "linear", 0.15, 3, True),
        (250e3, "reverse-log", 0.15, 1, False),
        (33e3, "linear", 0.15, 1, True),
    ],
)
def test_pots_that_are_hard_to_buy(ohm, taper, midpoint, gangs, is_hard):
    assert (hard_pot(ohm, taper=taper, midpoint=midpoint, gangs=gangs) is not None) == is_hard


@pytest.mark.parametrize(("ohm", "is_hard"), [(99.0, True), (100.0, False), (1e6, False), (1.1e6, True)])
def test_resistors_that_are_hard_to_buy(ohm, is_hard):
    assert (hard_resistor(ohm) is not None) == is_hard


def test_a_twitchy_step_is_above_the_bound():
    assert step_words(0.66, "octaves") == "not twitchy, at most 0.67 octaves in a step"
    assert step_words(0.74, "octaves") == "twitchy, more than 0.67 octaves in a step"
    assert step_words(6.1, "dB") == "twitchy, more than 6 dB in a step"


@pytest.mark.parametrize("name", ["gated-first-order", "gated-open", "gated-swept", "polarity-swept"])
def test_built_in_circuits_are_remarked_on_for_linear_level_knobs_alone(name):
    circuit = load_circuit(name)
    linear = {"direct": circuit.mix.direct_pot.taper, "volume": circuit.output.pot.taper}
    remarks = knobs(circuit).remarks
    told = [remark for remark in remarks if remark.code == "twitchy"]
    assert {remark.code for remark in remarks} - {"twitchy"} == ({"little-headroom"} if name in LITTLE else set())
    assert {one.text.split()[1] for one in told} == {knob for knob, taper in linear.items() if taper == "linear"}
    log = {"mix.direct_pot.taper": "log", "output.pot.taper": "log"}
    assert "twitchy" not in {remark.code for remark in knobs(load_circuit(name, changes=log)).remarks}


def test_a_take_that_clips_at_unity_is_remarked_on_and_one_that_does_not_is_not():
    time_s = np.arange(24000) / 24000
    circuit = load_circuit("gated-swept")
    for volts, codes in ((0.3, []), (6.0, ["little-headroom"])):
        take = take_from_samples(volts * np.sin(2 * np.pi * 82.4 * time_s), 24000, name="line")
        found = knobs(circuit, take=take)
        assert [one.code for one in found.remarks if one.code != "twitchy"] == codes
        assert not codes or "past the limits of 9 V at unity" in found.remarks[-1].text
