"""The supply estimate: every part that draws is counted, and hours are charge over current."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.board import supply_limits
from sublatch.board.assemble import board
from sublatch.board.sheet.supply import supply_estimate
from sublatch.board.supply_limits import PART_CLASSES
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.circuit.model import Circuit
from sublatch.errors import CircuitError
from sublatch.signal.chain import render
from sublatch.takes.take import take_from_samples


@pytest.mark.parametrize("name", circuit_names())
def test_hours_are_charge_over_current(name: str) -> None:
    found = supply_estimate(board(load_circuit(name)))
    assert found.batteries == 1
    for kind, (amps, hours) in enumerate(zip(found.amps, found.hours, strict=True)):
        assert amps == pytest.approx(sum(line.amps[kind] for line in found.lines))
        assert hours == pytest.approx(550.0 / (1000.0 * amps))


@pytest.mark.parametrize(("kind", "sections"), [("peak-latch", 10), ("overtone", 14), ("logarithmic-latch", 9)])
def test_a_board_counted_by_hand(kind: str, sections: int) -> None:
    """The open gate at 9 V.

    Op-amps: input, bias, detector's filter, four of the peak stores, gate, mix and output, 10 sections. The other kinds
    have two of the peak stores; the overtone detector the band's amplifier and filter, two of the rectifier and two
    behind its low-pass besides, the logarithmic latch its amplifier. One pair of comparators, one pair of flip-flops,
    one switch. Both pull-ups at rest 9 V / 47 kΩ; the bias divider 9 V / 200 kΩ; each reference 4.5 V over its two
    resistors.
    """
    made = board(load_circuit("gated-open", changes={"detector.kind": kind}))
    ohm = {part.role: part.amount or 0.0 for part in made.components}
    references = sum(4.5 / (ohm[f"latch.{s}.far"] + ohm[f"latch.{s}.near"]) for s in ("positive", "negative"))
    rest = 0.4e-3 + 2 * 10e-6 + 2 * 9.0 / 47e3 + 9.0 / 200e3 + references
    used = [part for part in made.components if part.kind == "op-amp" and not part.role.startswith("spare.")]
    assert len(used) == sections
    spare = sum(part.role == "spare.op_amp" for part in made.components)
    found = supply_estimate(made)
    assert found.amps == pytest.approx(((sections + spare) * 0.35e-3 + rest, (sections + spare) * 1.4e-3 + rest))


@pytest.mark.parametrize(("supply", "batteries"), [("9V", 1), ("9.6V", 1), ("18V", 2), ("12V", 0), ("4.5V", 0)])
def test_only_a_whole_number_of_batteries_has_hours(supply: str, batteries: int) -> None:
    found = supply_estimate(board(load_circuit("gated-open", changes={"supply": supply})))
    assert found.batteries == batteries
    assert len(found.hours) == (2 if batteries else 0)


def test_an_overtone_detector_draws_more() -> None:
    plain = supply_estimate(board(load_circuit("gated-swept", changes={"detector.kind": "peak-latch"})))
    more = supply_estimate(board(load_circuit("gated-swept", changes={"detector.kind": "overtone"})))
    assert all(b > a for a, b in zip(plain.amps, more.amps, strict=True))
    assert all(b < a for a, b in zip(plain.hours, more.hours, strict=True))


def supplied(volts: float) -> Circuit:
    """Return a circuit with this supply, and room for its output whatever it is."""
    changes = {"supply": volts, "output.low_margin": "10mV", "output.high_margin": "10mV"}
    return load_circuit("gated-open", changes=changes)


@pytest.mark.parametrize("volts", [17.999, 18.0])
def test_a_supply_up_to_the_limit_has_a_board(volts: float) -> None:
    assert board(supplied(volts)).circuit.supply == volts


@pytest.mark.parametrize(
    ("volts", "named"),
    [
        (18.000001, ["4013 and 4053 type) 18 V"]),
        (18.9, ["4013 and 4053 type) 18 V"]),
        (32.5, ["4013 and 4053 type) 18 V", "358 type) 32 V"]),
        (60.0, ["4013 and 4053 type) 18 V", "393 type) 36 V", "358 type) 32 V", "072 type) 36 V"]),
    ],
)
def test_a_supply_above_the_limit_of_any_part_is_refused_by_the_parts_names(volts: float, named: list[str]) -> None:
    with pytest.raises(CircuitError) as refused:
        board(supplied(volts))
    told = str(refused.value)
    assert told.startswith(f"supply must be at most 18 V for a board, got {volts:.8g} V, ")
    assert "; give it 18 V or less" in told
    assert [part.name in told for part in PART_CLASSES] == [volts > part.most_v for part in PART_CLASSES]
    assert all(part in told for part in named)


def test_the_limit_is_that_of_the_weakest_part(monkeypatch: pytest.MonkeyPatch) -> None:
    """With CMOS parts that bear 15 V a supply of 16 V is too much."""
    weaker = (supply_limits.PartClass("CMOS of another maker", 3.0, 15.0), *PART_CLASSES[1:])
    monkeypatch.setattr(supply_limits, "PART_CLASSES", weaker)
    with pytest.raises(CircuitError, match=r"at most 15 V .* CMOS of another maker 15 V"):
        board(supplied(16.0))
    assert board(supplied(15.0))


def test_without_a_board_any_supply_is_rendered() -> None:
    take = take_from_samples(0.1 * np.sin(np.arange(4800) * 0.01), 48000)
    assert np.any(render(take, supplied(60.0)).samples)


@pytest.mark.parametrize(
    ("volts", "starved"), [(1.5, 4), (2.5, 3), (3.0, 1), (4.5, 1), (6.999, 1), (7.0, 0), (8.0, 0), (12.0, 0)]
)
def test_a_supply_below_what_parts_need_is_remarked_upon(volts: float, starved: int) -> None:
    """No batteries of 9 V: 2 V, 3 V, 3 V and 7 V are needed."""
    remarks = supply_estimate(board(supplied(volts))).remarks
    assert len(remarks) == starved
    assert all(" V, the supply is " in remark for remark in remarks)


@pytest.mark.parametrize("name", circuit_names())
def test_a_battery_that_sags_below_what_a_part_needs_is_remarked_upon(name: str) -> None:
    """Empty at 6 V, less 0.3 V of the diode: less than the 7 V of the 072 type, more than what all others need."""
    (remark,) = supply_estimate(board(load_circuit(name))).remarks
    assert remark.startswith(
        "hungry op-amps (072 type) need 7 V, a 9 V battery when empty leaves 5.7 V after the diode"
    )


def test_two_fresh_batteries_are_above_the_limit() -> None:
    """2 × 9.6 V − 0.3 V = 18.9 V; empty they leave 11.7 V, which is enough for all."""
    (remark,) = supply_estimate(board(supplied(18.0))).remarks
    assert remark.startswith("CMOS flip-flops and switches (4013 and 4053 type) bear 18 V, ")
    assert ", 2 × 9 V when fresh gives 18.9 V after the diode: use a regulated supply of 18 V instead" in remark
