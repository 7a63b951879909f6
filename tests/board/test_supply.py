"""The supply estimate: every part that draws is counted, and hours are charge over current."""

from __future__ import annotations

import pytest

from sublatch.board.assemble import board
from sublatch.board.sheet.supply import supply_estimate
from sublatch.circuit.load import circuit_names, load_circuit


@pytest.mark.parametrize("name", circuit_names())
def test_hours_are_charge_over_current(name: str) -> None:
    found = supply_estimate(board(load_circuit(name)))
    assert found.batteries == 1
    for kind, (amps, hours) in enumerate(zip(found.amps, found.hours, strict=True)):
        assert amps == pytest.approx(sum(line.amps[kind] for line in found.lines))
        assert hours == pytest.approx(550.0 / (1000.0 * amps))


def test_a_board_counted_by_hand() -> None:
    """The open gate at 9 V.

    Op-amps: input, bias, detector's filter, four of the peak stores, gate, mix and output, 10 sections. One pair of
    comparators, one pair of flip-flops, one switch. Both pull-ups at rest 9 V / 47 kΩ; the bias divider 9 V / 200 kΩ;
    each reference 4.5 V over its two resistors.
    """
    made = board(load_circuit("gated-open"))
    ohm = {part.role: part.amount or 0.0 for part in made.components}
    references = sum(4.5 / (ohm[f"latch.{s}.far"] + ohm[f"latch.{s}.near"]) for s in ("positive", "negative"))
    rest = 0.4e-3 + 2 * 10e-6 + 2 * 9.0 / 47e3 + 9.0 / 200e3 + references
    used = [part for part in made.components if part.kind == "op-amp" and not part.role.startswith("spare.")]
    assert len(used) == 10
    spare = sum(part.role == "spare.op_amp" for part in made.components)
    found = supply_estimate(made)
    assert found.amps == pytest.approx(((10 + spare) * 0.35e-3 + rest, (10 + spare) * 1.4e-3 + rest))


@pytest.mark.parametrize(("supply", "batteries"), [("9V", 1), ("9.6V", 1), ("18V", 2), ("12V", 0), ("4.5V", 0)])
def test_only_a_whole_number_of_batteries_has_hours(supply: str, batteries: int) -> None:
    found = supply_estimate(board(load_circuit("gated-open", changes={"supply": supply})))
    assert found.batteries == batteries
    assert len(found.hours) == (2 if batteries else 0)


def test_an_overtone_detector_draws_more() -> None:
    plain = supply_estimate(board(load_circuit("gated-swept")))
    more = supply_estimate(board(load_circuit("gated-swept", changes={"detector.kind": "overtone"})))
    assert all(b > a for a, b in zip(plain.amps, more.amps, strict=True))
    assert all(b < a for a, b in zip(plain.hours, more.hours, strict=True))
