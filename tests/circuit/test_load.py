"""Circuits by name and from files, changed on the way: what a change brings, what it leaves, and how it is refused."""

from __future__ import annotations

from math import pi
from typing import get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sublatch.circuit.detectors.overtone import Overtone
from sublatch.circuit.filters.first_order import FirstOrder
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.filters.own_network import OwnNetwork
from sublatch.circuit.filters.swept_second_order import SweptSecondOrder
from sublatch.circuit.load import changed, circuit_names, circuit_text, load_circuit
from sublatch.circuit.octave_stages.gain_gated import GainGated
from sublatch.circuit.octave_stages.polarity_switched import PolaritySwitched
from sublatch.circuit.response import response
from sublatch.circuit.save import circuit_toml
from sublatch.errors import CircuitError

KINDS = {kind.model_fields["kind"].default: kind for kind in get_args(get_args(Filter)[0])}
READY_MADE = sorted(KINDS.keys() - {"network"})
OWN = """
title = "Own filter"
[octave]
kind = "gain-gated"
[filter]
kind = "network"
[[filter.parts]]
part = "rheostat"
name = "RV1"
pot = { value = "100k", taper = "linear" }
end_resistor = "3k"
between = ["in", "a"]
[[filter.parts]]
part = "switched-capacitor"
name = "C1"
value = { flat = "12n", peaked = "5n6" }
between = ["a", "ground"]
[[filter.parts]]
part = "op-amp"
name = "U1"
plus = "a"
minus = "out"
output = "out"
"""


def own(tmp_path, old="", new=""):
    """Write a circuit with a network of the user's own, one text in it replaced."""
    assert old in OWN
    path = tmp_path / "own.toml"
    path.write_text(OWN.replace(old, new) if old else OWN, encoding="utf-8")
    return path


def refused(name, *lines, **how):
    with pytest.raises(CircuitError) as caught:
        load_circuit(name, **how)
    for words in lines:
        assert words in str(caught.value)


def test_the_built_in_circuits_are_these():
    wanted = ["gated-first-order", "gated-open", "gated-swept", "polarity-swept", "polarity-third-order"]
    assert circuit_names() == wanted


@pytest.mark.parametrize("name", circuit_names())
def test_every_built_in_circuit_has_its_knobs_and_switches(name):
    circuit = load_circuit(name)
    assert isinstance(circuit.octave, PolaritySwitched if name.startswith("polarity") else GainGated)
    assert circuit.knobs.direct == 0.0
    assert circuit.switches.drive == "normal"
    assert (circuit.tone is not None) == (circuit.peak is not None) == name.endswith("swept")


@pytest.mark.parametrize("name", circuit_names())
def test_a_printed_circuit_loads_back_equal(name, tmp_path):
    path = tmp_path / "copy.TOML"
    path.write_text(circuit_text(name), encoding="utf-8")
    assert load_circuit(path) == load_circuit(str(path)) == load_circuit(name)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("output.trim_resistor", "75k"),
        ("filter.start_resistor", "220k"),
        ("detector.leveller", {"target": "1V"}),
    ],
)
def test_a_part_that_need_not_be_there_is_taken_out_by_none(path, value, tmp_path):
    table, key = path.split(".")
    file = tmp_path / "with it.toml"
    file.write_text(circuit_toml(load_circuit("gated-swept", changes={path: value})), encoding="utf-8")
    without = load_circuit(file, changes={path: "none"})
    assert getattr(getattr(load_circuit(file), table), key) is not None
    assert getattr(getattr(without, table), key) is None
    assert key not in circuit_toml(without)


def test_none_takes_out_no_part_that_must_be_there():
    words = "filter.end_resistor: a resistor is written like 4k7, 470R or 1M, got 'none'"
    refused("gated-swept", words, changes={"filter.end_resistor": "none"})


@pytest.mark.parametrize("kind", READY_MADE)
@pytest.mark.parametrize("name", circuit_names())
def test_any_filter_goes_into_any_circuit_with_its_own_values(name, kind):
    circuit = load_circuit(name, changes={"filter.kind": kind})
    unchanged = load_circuit(name)
    assert circuit.filter == (unchanged.filter if unchanged.filter.kind == kind else KINDS[kind]())
    assert circuit.knobs.volume == unchanged.knobs.volume
    assert circuit.detector == unchanged.detector
    assert np.all(np.isfinite(response(circuit).gain_db))


@pytest.mark.parametrize("kind", ["none", "first-order", "second-order", "third-order"])
def test_the_detector_takes_any_filter_with_fixed_parts(kind):
    assert load_circuit("gated-open", changes={"detector.filter.kind": kind}).detector.filter.kind == kind


def test_the_detector_takes_no_swept_filter():
    words = "gated-open: detector.filter: the detector has no knob or switch; give this filter fixed parts"
    refused("gated-open", words, changes={"detector.filter.kind": "swept-second-order"})


def test_a_new_filter_takes_values_with_its_kind_in_any_order():
    for changes in (
        {"filter.resistor": "10k", "filter.kind": "first-order"},
        {"filter.kind": "first-order", "filter.resistor": "10k"},
        {"filter": {"resistor": "10k", "kind": "first-order"}},
    ):
        circuit = load_circuit("gated-swept", changes=changes)
        assert circuit.filter.resistor == 10e3
        assert circuit.filter.capacitor == 15e-9


def test_a_new_filter_drops_the_controls_of_the_old_one_unless_they_are_set():
    circuit = load_circuit("gated-swept", changes={"filter.kind": "none"})
    assert circuit.knobs.tone is circuit.switches.peak is None
    words = "gated-swept: knobs.tone cannot be set: this circuit has no tone knob, for its output filter is filter."
    refused("gated-swept", words, changes={"filter.kind": "none", "knobs.tone": 3})


def test_another_octave_stage_keeps_what_both_have():
    first = {"octave.transition": "20us", "octave.leak": "1%"}
    circuit = load_circuit("gated-open", changes={**first, "octave.kind": "gain-gated"})
    assert (circuit.octave.transition, circuit.octave.leak) == (20e-6, 0.01)
    data = {"octave": {"kind": "gain-gated", "transition": "20us", "leak": "1%"}}
    other = changed(data, {"octave.kind": "polarity-switched"})
    assert other["octave"] == {"kind": "polarity-switched", "transition": "20us"}


def test_another_detector_keeps_its_filter():
    unchanged = load_circuit("gated-open", changes={"detector.kind": "peak-latch"})
    circuit = load_circuit("gated-open", changes={"detector.kind": "zero-crossing"})
    assert circuit.detector.filter == unchanged.detector.filter
    assert circuit.detector.hysteresis == 0.01


@pytest.mark.parametrize("first", ["detector.filter.kind", "detector.kind"])
def test_an_overtone_detector_brings_all_its_own_values(first):
    changes = {first: None, "detector.kind": "overtone", "detector.filter.kind": "first-order"}
    circuit = load_circuit("gated-open", changes=changes)
    assert circuit.detector == Overtone(filter=FirstOrder())
    assert load_circuit("gated-open", changes={"detector.kind": "overtone"}).detector == Overtone()


def test_a_table_changes_what_is_in_it_and_leaves_the_rest():
    circuit = load_circuit(
        "gated-swept", changes={"knobs": {"tone": 2}, "filter": {"ground_capacitor": {"flat": "1n"}}}
    )
    unchanged = load_circuit("gated-swept")
    assert circuit.knobs == unchanged.knobs.model_copy(update={"tone": 2.0})
    assert circuit.filter.ground_capacitor.flat == 1e-9
    assert circuit.filter.ground_capacitor.peaked == unchanged.filter.ground_capacitor.peaked


def test_an_empty_table_puts_in_what_has_only_values_of_its_own():
    assert load_circuit("gated-open", changes={"detector.leveller": {}}).detector.leveller.most_gain == 30.0
    assert load_circuit("gated-open", changes={"knobs": {}}) == load_circuit("gated-open")


@given(
    st.dictionaries(st.sampled_from(["knobs.tone", "knobs.volume"]), st.integers(0, 10)),
    st.dictionaries(st.sampled_from(["switches.drive"]), st.sampled_from(["normal", "inverted"])),
)
def test_changing_twice_changes_nothing_more(knobs, switches):
    data = {"title": "t", "knobs": {"tone": 1, "volume": 2}, "filter": {"kind": "swept-second-order"}}
    before = {key: dict(value) if isinstance(value, dict) else value for key, value in data.items()}
    once = changed(data, {**knobs, **switches})
    assert changed(once, {**knobs, **switches}) == once
    assert data == before


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("knobs.tone", 11, "gated-swept: knobs.tone: a knob's position must be 0 (fully anticlockwise) to 10, got 11"),
        ("knobs.tone", 35, "got 35; was it meant as 3.5?"),
        ("knobs.tone.x", 3, "gated-swept: knobs.tone.x: tone is a value, not a table"),
        ("knobs..tone", 3, "gated-swept: a setting is named like knobs.tone, got 'knobs..tone'"),
        ("", 3, "a setting is named like knobs.tone, got ''"),
        ("kind", "none", "gated-swept: unknown key 'kind'"),
        ("knobs", 3, "gated-swept: knobs: must be a table of keys and values, got 3"),
        ("filter", 3, "gated-swept: filter: must be a table of keys and values, got 3"),
        ("filter.end_resistor", "4k7k", "filter.end_resistor: a resistor is written like 4k7, 470R or 1M, got '4k7k'"),
        ("filter.end_resistor", "3e99", "filter.end_resistor: a resistance must be above zero, from 1 mΩ to 1 TΩ"),
        ("filter.start_resistor", "220n", "filter.start_resistor: "),
        ("filter.start_resistor", 0, "filter.start_resistor: a resistance must be above zero"),
        ("filter.end_resistor", "200M", "filter.end_resistor: must be at most 100 MΩ, got '200M'"),
        ("filter.ground_capacitor.flat", "47k", "filter.ground_capacitor.flat: a capacitor is written like 47n"),
        ("filter.ground_capacitor", "47n", "filter.ground_capacitor: must be a table of keys and values, got '47n'"),
        ("filter.pot.midpoint", "60%", "filter.pot.midpoint: must be less than 0.5, got '60%'"),
        ("filter.kind", "network", "filter.parts: this key is needed and is not there"),
        ("filter.kind", "firstorder", "filter.kind: must be one of none, first-order"),
        ("filter.kind", [1], "filter.kind: must be one of none, first-order"),
        (
            "detector.kind",
            "zero",
            "detector.kind: must be one of zero-crossing, peak-latch, overtone, logarithmic-latch, got 'zero'",
        ),
        ("detector.filter.first_resistor", 0, "detector.filter.first_resistor: a resistance must be above zero"),
        ("supply", "61V", "supply: must be at most 60 V, got '61V'"),
        ("supply", "2V", "is a supply of 2 V too low for margins of 1.5 V and 1.5 V?"),
        ("divider.stages", 3, "divider.stages: must be one of 1, 2, got 3"),
        ("octave.transition", 1, "octave.transition: must be at most 5 ms, got 1"),
    ],
)
def test_what_cannot_be_is_refused_by_its_whole_name(path, value, words):
    refused("gated-swept", words, changes={path: value})


def test_what_is_not_there_is_refused_with_what_there_is(tmp_path):
    refused("gatedswept", "no built-in circuit 'gatedswept'; did you mean 'gated-swept'? (there are gated-first-order")
    refused("mybox.toml", "mybox.toml: no such circuit; built in are", folder=tmp_path)
    refused(tmp_path, "must be a circuit file, got a folder")
    (tmp_path / "bad.toml").write_text("title = ", encoding="utf-8")
    refused("bad.toml", "bad.toml: line 1: title must have a value after its equals sign", folder=tmp_path)


@pytest.mark.parametrize("peak", ["flat", "peaked"])
@pytest.mark.parametrize("tone", [0, 3.5, 10])
def test_a_network_of_ones_own_works_with_knob_and_switch(tone, peak, tmp_path):
    """The corner of a resistor and a capacitor is 1 / (2 π R C), derived from the divider they make."""
    circuit = load_circuit(own(tmp_path), changes={"knobs.tone": tone, "switches.peak": peak})
    ohm = 3e3 + 100e3 * (1 - tone / 10)
    farad = {"flat": 12e-9, "peaked": 5.6e-9}[peak]
    assert response(circuit).corner_hz == pytest.approx(1 / (2 * pi * ohm * farad), rel=1e-6)


def test_a_network_of_ones_own_has_its_controls_half_way_when_nothing_is_said(tmp_path):
    circuit = load_circuit(own(tmp_path))
    assert isinstance(circuit.filter, OwnNetwork)
    assert (circuit.tone, circuit.peak) == (5.0, "flat")
    assert isinstance(load_circuit("gated-swept").filter, SweptSecondOrder)


def test_a_network_can_be_put_in_by_a_change():
    parts = [
        {"part": "resistor", "name": "R1", "value": "10k", "between": ["in", "out"]},
        {"part": "capacitor", "name": "C1", "value": "10n", "between": ["out", "ground"]},
        {"part": "resistor", "name": "R2", "value": "10k", "between": ["out", "ground"]},
    ]
    circuit = load_circuit("gated-swept", changes={"filter.kind": "network", "filter.parts": parts})
    found = response(circuit)
    assert found.dc_gain_db == pytest.approx(20 * np.log10(0.5))
    assert found.corner_hz == pytest.approx(1 / (2 * pi * 5e3 * 10e-9), rel=1e-6)


def test_a_part_of_ones_own_network_is_changed_by_its_name(tmp_path):
    path = own(tmp_path, '"C1"', '"C1.5"')  # a name may have a dot
    changes = {"filter.parts.RV1": {"end_resistor": "4k7", "pot.value": "50k"}, "filter.parts.C1.5.value.peaked": "6n8"}
    before, after = load_circuit(path), load_circuit(path, changes=changes)
    (gang, changed_gang), (pair, changed_pair) = list(zip(before.filter.parts, after.filter.parts, strict=True))[:2]
    assert (changed_gang.end_resistor, changed_gang.pot.value) == (4700.0, 50e3)
    assert changed_pair.value.peaked == pytest.approx(6.8e-9)
    assert (changed_gang.pot.taper, changed_pair.value.flat) == (gang.pot.taper, pair.value.flat)
    assert after.filter.parts[2:] == before.filter.parts[2:]


@pytest.mark.parametrize(
    ("setting", "words"),
    [
        ("filter.parts.RV2.end_resistor", "there are RV1, C1, U1; did you mean 'RV1'?"),
        ("filter.parts.C1", "must name a part and what of it, such as RV1.value"),
        (
            "filter.parts.RV1.end_resistr",
            "filter.parts[1] (RV1): unknown key 'end_resistr'; did you mean 'end_resistor'?",
        ),
        ("filter.parts.RV1.end_resistor.x", "end_resistor is a value, not a table"),
    ],
)
def test_a_part_that_is_not_there_is_told(setting, words, tmp_path):
    with pytest.raises(CircuitError) as raised:
        load_circuit(own(tmp_path, "", ""), changes={setting: "1k"})
    assert words in str(raised.value)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"100k"', '"100n"', "filter.parts[1] (RV1).pot.value: a resistor is written like 4k7, 470R or 1M, got '100n'"),
        ('"3k"', '"1e9"', "filter.parts[1] (RV1).end_resistor: must be at most 100 MΩ, got '1e9'"),
        ('end_resistor = "3k"', "", "filter.parts[1] (RV1).end_resistor: this key is needed and is not there"),
        ('["in", "a"]', '["in"]', "filter.parts[1] (RV1).between[2]: one more entry is needed here"),
        ('["in", "a"]', '["in", "a", "b"]', "filter.parts[1] (RV1).between: must have at most 2 entries"),
        ('["in", "a"]', '["in", 3]', "filter.parts[1] (RV1).between[2]: must be a text in quotes, got 3"),
        ('"rheostat"', '"reostat"', "filter.parts[1] (RV1).part: must be one of resistor, capacitor, rheostat"),
        ('part = "rheostat"', "", "filter.parts[1] (RV1).part: this key is needed and is not there"),
        ('name = "RV1"', 'nam = "RV1"', "filter.parts[1]: unknown key 'nam'; did you mean 'name'?"),
        ('"5n6"', '"5k6"', "filter.parts[2] (C1).value.peaked: a capacitor is written like"),
        ('"U1"', '"C1"', "filter: every part needs a name of its own, got 'C1' twice"),
        ('"in", "a"', '"inn", "a"', "filter: a network of your own runs from node 'in' to node 'out'"),
        ('minus = "out"', 'minus = "ot"', "node 'ot' has only one part on it"),
        ("[filter]", "[filter]\ntone = 3", "filter: unknown key 'tone'"),
    ],
)
def test_a_network_that_cannot_be_is_refused_by_the_parts_name(old, new, words, tmp_path):
    refused(own(tmp_path, old, new), f"own.toml: {words}" if words.startswith("filter") else words)


@pytest.mark.parametrize(
    ("low", "high", "fits"), [("4.4V", "0.1V", True), ("4.5V", "0.1V", False), ("0V", "4.5V", False)]
)
def test_the_output_must_have_room_on_both_sides_of_half_the_supply(low: str, high: str, fits: bool) -> None:
    """At 9 V the bias is at 4.5 V: a margin of all of that leaves nothing."""
    changes = {"output.low_margin": low, "output.high_margin": high}
    if fits:
        assert load_circuit("gated-open", changes=changes).limits == pytest.approx((-0.1, 4.4))
    else:
        with pytest.raises(CircuitError, match="room on both sides of its bias"):
            load_circuit("gated-open", changes=changes)
