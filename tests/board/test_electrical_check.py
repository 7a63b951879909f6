"""The electrical check finds nothing on boards as they are made, and finds and names each fault that is planted."""

from __future__ import annotations

from dataclasses import replace
from itertools import cycle, product
from pathlib import Path
from typing import Any

import pytest

from board_cases import OWN_MOVED, circuit_of, every_case
from board_faults import planted, with_pins, without
from sublatch.board.assemble import board
from sublatch.board.check.electrical_check import electrical_faults, must_be_sound
from sublatch.board.netlist import Board
from sublatch.board.sheet.write import write_sheet
from sublatch.circuit.filters.kinds import KINDS
from sublatch.circuit.load import load_circuit
from sublatch.circuit.model import detector_kinds
from sublatch.errors import CircuitError

FURTHER = ("diodes-turned-round", "polarity-swept")
FILTERS = [kind.model_fields["kind"].default for kind in KINDS]
STAGES: dict[str, dict[str, Any]] = {
    "polarity-switched": {"octave.kind": "polarity-switched"},
    "gain-gated": {},
    "pair": {"octave.linear_range": "0.4V"},
}
STAGE_COUNT = cycle((1, 2))
EVERY = [
    pytest.param(*kinds, next(STAGE_COUNT), marks=pytest.mark.long if place % 3 else ())
    for place, kinds in enumerate(product(FILTERS, STAGES, detector_kinds()))
]


@every_case
def test_every_case_passes(case: str) -> None:
    assert electrical_faults(board(circuit_of(case))) == []


@pytest.mark.parametrize(("filter_kind", "stage", "detector", "stages"), EVERY)
def test_every_filter_with_every_octave_stage_and_detector_passes(
    filter_kind: str, stage: str, detector: str, stages: int
) -> None:
    chosen = {"filter": OWN_MOVED} if filter_kind == "network" else {"filter.kind": filter_kind}
    changes = {**chosen, **STAGES[stage], "detector.kind": detector, "divider.stages": stages}
    assert electrical_faults(board(load_circuit("gated-open", changes=changes))) == []


@pytest.mark.parametrize("op_amp", ["low-power-fet-input", "bipolar", "single-supply", "rail-to-rail"])
def test_every_class_of_op_amp_passes(op_amp: str) -> None:
    assert electrical_faults(board(load_circuit("gated-swept", changes={"devices.op_amp": op_amp}))) == []


@pytest.mark.parametrize("sort", ["polarity", "inputs"])
@pytest.mark.parametrize("case", ["pair", *(pytest.param(one, marks=pytest.mark.long) for one in FURTHER)])
def test_every_polarity_and_every_pair_of_inputs_that_is_exchanged_is_caught_and_named(case: str, sort: str) -> None:
    made = board(circuit_of(case))
    tried = 0
    for part, spoilt in planted(made, sort):
        faults = electrical_faults(spoilt)
        assert any(part.reference in fault.part for fault in faults), f"{part.reference} ({part.role}): {faults}"
        tried += 1
    assert tried > 5


@pytest.mark.parametrize("case", ["pair", "polarity-third-order-zero-crossing"])
def test_every_missing_resistor_is_caught(case: str) -> None:
    for part, spoilt in planted(board(circuit_of(case)), "missing resistor"):
        faults = electrical_faults(spoilt)
        assert faults, f"{part.reference} ({part.role})"
        nets = {net for _, net in part.pins}
        if part.role in ("input.resistance", "latch.set.pull_up", "output.load", "octave.control"):
            assert any(fault.net in nets or fault.kind == "response" for fault in faults), f"{part.role}: {faults}"


def found(spoilt: Board) -> list[tuple[str, str, str]]:
    """Return kind, part and net of each fault."""
    return [(fault.kind, fault.part, fault.net) for fault in electrical_faults(spoilt)]


@pytest.fixture(scope="module")
def made() -> Board:
    return board(circuit_of("gated-swept"))


def test_a_missing_bias_resistor_leaves_an_input_floating(made: Board) -> None:
    resistor, follower = made.component("input.resistance"), made.component("input.follower")
    assert ("floating input", follower.reference, "input.a") in found(without(made, resistor))


def test_two_outputs_on_one_net_are_named(made: Board) -> None:
    follower, buffer = made.component("input.follower"), made.component("output.buffer")
    spoilt = with_pins(made, buffer, out=follower.net("out"))
    (fault,) = [fault for fault in electrical_faults(spoilt) if fault.kind == "output against output"]
    assert fault.net == "note"
    assert f"{follower.reference} and {buffer.reference}" in fault.text


def test_an_output_on_a_rail_is_named(made: Board) -> None:
    flip_flop = made.component("divider.1")
    spoilt = with_pins(made, flip_flop, **{"/Q": "0V"})
    assert ("output against output", flip_flop.reference, "0V") in found(spoilt)


def test_an_input_on_a_net_of_its_own_is_named(made: Board) -> None:
    flip_flop = made.component("divider.1")
    kinds = {kind for kind, part, net in found(with_pins(made, flip_flop, R="nowhere")) if part == flip_flop.reference}
    assert kinds == {"loose net", "floating input", "no path for direct current"}


def test_a_clock_that_a_switch_leaves_alone_is_named(made: Board) -> None:
    """While the lever changes over, neither throw is joined to the common contact."""
    flip_flop = made.component("divider.1")
    assert ("floating input", flip_flop.reference, "clock") in found(without(made, made.component("clock.pull_up")))


@pytest.mark.parametrize(("role", "net"), [("input.pull_down", "in"), ("output.pull_down", "out")])
def test_a_footswitch_that_would_pop_is_named(made: Board, role: str, net: str) -> None:
    footswitch = made.component("footswitch.input"), made.component("footswitch.output")
    places = [place for place in found(without(made, made.component(role))) if place[2] == net]
    assert any(part in {one.reference for one in footswitch} for _, part, _ in places)


def test_a_pin_that_is_used_twice_is_named(made: Board) -> None:
    first, second = made.component("input.follower"), made.component("bias.follower")
    parts = tuple(replace(part, reference=first.reference) if part is second else part for part in made.components)
    kinds = found(replace(made, components=parts))
    assert ("pin used twice", str(first.package), "") in kinds
    assert ("designator used twice", first.reference, "") in kinds
    assert ("pin left open", str(first.package), "") in kinds


def test_a_pin_that_the_package_does_not_have_is_named(made: Board) -> None:
    latch = made.component("latch.latch")
    pins = (*latch.pins, ("E", "0V"))
    parts = tuple(replace(part, pins=pins) if part is latch else part for part in made.components)
    assert ("pin without a number", latch.reference, "0V") in found(replace(made, components=parts))


def test_a_wrong_supply_pin_is_named(made: Board) -> None:
    package = made.component("package.U1")
    spoilt = with_pins(made, package, **{"V+": "0V", "V-": "supply"})
    assert {("wrong supply pin", "U1", "0V"), ("wrong supply pin", "U1", "supply")} <= set(found(spoilt))


def test_a_supply_diode_the_wrong_way_round_feeds_nothing(made: Board) -> None:
    diode, jack = made.component("supply.protection"), made.component("supply.jack")
    spoilt = with_pins(made, diode, a=diode.net("b"), b=diode.net("a"))
    assert ("supply not fed", f"{jack.reference} and {diode.reference}", "supply") in found(spoilt)


def test_inputs_out_of_the_classs_range_are_named_with_the_range() -> None:
    """A bias of 0.3 of 9 V is 2.7 V; inputs of the 072 type need 3 V from the negative end (data sheet)."""
    changes = {"output.bias": 0.3, "output.low_margin": "1V", "output.high_margin": "1V"}
    faults = electrical_faults(board(load_circuit("gated-open", changes=changes)))
    assert {fault.kind for fault in faults} == {"input out of range"}
    assert all("class fet-input take 3 to 9 V: another devices.op_amp" in fault.text for fault in faults)
    single = load_circuit("gated-open", changes={**changes, "devices.op_amp": "single-supply"})
    assert electrical_faults(board(single)) == []


def test_a_threshold_of_another_value_is_named(made: Board) -> None:
    upper = made.component("latch.positive.upper")
    parts = tuple(
        replace(part, amount=5 * (upper.amount or 0.0)) if part is upper else part for part in made.components
    )
    assert ("threshold", made.component("latch.positive.diode").reference, "threshold +") in found(
        replace(made, components=parts)
    )


def test_a_sheet_of_a_board_that_fails_is_not_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    circuit = load_circuit("gated-open")
    broken = without(board(circuit), board(circuit).component("input.resistance"))
    with pytest.raises(CircuitError, match=r"floating input at U1A on net 'input\.a': input \+ needs a driver"):
        must_be_sound(broken)
    monkeypatch.setattr("sublatch.board.assemble.board", lambda _: broken)
    with pytest.raises(CircuitError, match="nothing was written"):
        write_sheet(circuit, tmp_path / "sheet.html")
    assert list(tmp_path.iterdir()) == []
