"""The parts list against the board."""

from __future__ import annotations

from collections import Counter

import pytest

from board_cases import circuit_of, every_case
from sublatch.board.assemble import board
from sublatch.board.parts_list import PartLine, parts_list
from sublatch.circuit.load import load_circuit
from sublatch.units import farads, ohms


@every_case
def test_the_list_holds_every_component_once_with_its_value(case: str) -> None:
    made = board(circuit_of(case))
    lines = parts_list(made)
    listed = Counter(reference for line in lines for reference in line.references)
    assert set(listed.values()) == {1}
    assert set(listed) == {part.package or part.reference for part in made.components}
    value = {reference: line.value for line in lines for reference in line.references}
    assert all(value[part.package or part.reference] == part.value for part in made.components if part.value)
    assert all(line.quantity == len(line.references) for line in lines)


def test_a_dual_gang_pot_and_a_two_pole_switch_are_bought_once() -> None:
    lines = parts_list(board(circuit_of("gated-swept")))
    assert [line.quantity for line in lines if "dual-gang" in line.value] == [1]
    assert [line.quantity for line in lines if "two-pole" in line.value] == [1]


def test_resistors_and_capacitors_rise_in_value() -> None:
    lines = parts_list(board(circuit_of("gated-swept-overtone")))
    for kind, read in (("resistor", ohms), ("film capacitor", farads)):
        values = [read(line.value) for line in lines if line.kind == kind]
        assert len(values) > 5
        assert values == sorted(values)


def test_an_overtone_detector_brings_its_rectifier() -> None:
    plain, rich = (Counter(_kinds(case)) for case in ("gated-swept-peak-latch", "gated-swept-overtone"))
    assert rich["diode"] == plain["diode"] + 2
    # high-pass and its amplifier, low-pass, rectifier, blend, gain; each hold resistor is the divider
    assert rich["resistor"] == plain["resistor"] + 3 + 2 + 5 + 2 + 6 - 2
    assert rich["film capacitor"] == plain["film capacitor"] + 1 + 2 + 1 + 1 + 1
    assert rich["bipolar electrolytic capacitor"] == plain["bipolar electrolytic capacitor"] + 1


@pytest.mark.parametrize(("supply", "rated"), [("9V", "16 V"), ("12V", "25 V"), ("18V", "35 V"), ("4V", "6.3 V")])
def test_capacitors_are_rated_well_above_the_supply(supply: str, rated: str) -> None:
    changes = {"supply": supply, "output.low_margin": "0V", "output.high_margin": "0V"}
    lines = parts_list(board(load_circuit("gated-open", changes=changes)))
    rated_lines = [line for line in lines if "capacitor" in line.kind]
    assert rated_lines
    assert all(f"at least {rated}" in line.remark for line in rated_lines)


def test_kinds_and_tolerances_follow_the_trade() -> None:
    line = {reference: line for line in _lines("gated-swept") for reference in line.references}
    part = {part.role: line[part.package or part.reference] for part in board(circuit_of("gated-swept")).components}
    assert part["output.capacitor"].kind == "electrolytic capacitor"
    assert part["output.capacitor"].remark.startswith("20 %")
    assert part["filter.ground_capacitor.flat"].remark.startswith("5 %")
    assert part["input.coupling"].remark.startswith("10 %")
    assert part["decoupling.U1"].kind == "ceramic capacitor"
    assert part["filter.first_end"].remark.startswith("1 %")
    assert part["output.pull_down"].remark.startswith("5 %")


@pytest.mark.parametrize(
    ("value", "kind"),
    [
        ("910p", "ceramic capacitor"),
        ("1n", "film capacitor"),
        ("2u2", "film capacitor"),
        ("2u4", "bipolar electrolytic capacitor"),
    ],
)
def test_film_capacitors_are_bought_from_1_nf_to_2_2_uf(value: str, kind: str) -> None:
    (line,) = (line for line in _coupled_by(value) if line.value == value)
    assert line.kind == kind


def test_values_that_no_shop_has_are_remarked_on() -> None:
    changes = {"mix.octave_resistor": "22.1k", "mix.direct_resistor": 22222.0, "input.coupling": "23n"}
    by_value = {line.value: line for line in parts_list(board(load_circuit("gated-open", changes=changes)))}
    assert "E96" in by_value["22k1"].remark
    assert "no preferred value" in by_value["22k22"].remark
    assert "no E24 value" in by_value["23n"].remark


def _lines(case: str) -> list[PartLine]:
    """Return the parts list of a case."""
    return parts_list(board(circuit_of(case)))


def _coupled_by(value: str) -> list[PartLine]:
    """Return the parts list of a box with this coupling capacitor at its input."""
    return parts_list(board(load_circuit("gated-open", changes={"input.coupling": value})))


def _kinds(case: str) -> list[str]:
    """Return the kind of every thing to buy."""
    return [line.kind for line in _lines(case) for _ in range(line.quantity)]


@every_case
def test_diodes_of_one_value_are_bought_as_one_and_that_of_the_supply_as_what_it_is(case: str) -> None:
    made = board(circuit_of(case))
    remark = {reference: line.remark for line in parts_list(made) for reference in line.references}
    wanted = {
        "1N4148": "small-signal silicon",
        "1N3595": "1N3595 or BAV45 type: another's leakage would move the input",
    }
    for part in made.components:
        if part.kind == "diode":
            of_supply = part.role.startswith("supply.")
            assert remark[part.reference] == (part.note if of_supply else wanted[part.value]), part.role
