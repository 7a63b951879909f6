"""The supply estimate: every part that draws is counted, and hours are charge over current."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from board_cases import circuit_of
from sublatch.board.assemble import board
from sublatch.board.sheet.supply import supply_estimate
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
    behind its low-pass besides, the logarithmic latch its amplifier. A pair of comparators at 0.2 mA each, one pair of
    flip-flops, one switch. Both pull-ups of comparators 9 V / 47 kΩ, that of the clock 9 V / 470 kΩ; the bias divider
    9 V / 200 kΩ; each reference 4.5 V over its two resistors; the lamp 7 V / 6.8 kΩ. An op-amp of the 072 type draws
    1.4 mA, of the 358 type 0.35 mA (data sheets, from memory).
    """
    made = board(load_circuit("gated-open", changes={"detector.kind": kind}))
    ohm = {part.role: part.amount or 0.0 for part in made.components}
    references = sum(4.5 / (ohm[f"latch.{s}.far"] + ohm[f"latch.{s}.near"]) for s in ("positive", "negative"))
    rest = 0.4e-3 + 2 * 10e-6 + 2 * 9.0 / 47e3 + 9.0 / 470e3 + 9.0 / 200e3 + references + 7.0 / 6.8e3
    used = [part for part in made.components if part.kind == "op-amp" and not part.role.startswith("spare.")]
    assert len(used) == sections
    spare = sum(part.role == "spare.op_amp" for part in made.components)
    found = supply_estimate(made)
    by_class = dict(zip(found.kinds, found.amps, strict=True))
    assert found.kinds[0] == "fet-input"
    assert by_class["fet-input"] == pytest.approx((sections + spare) * 1.4e-3 + rest)
    assert by_class["single-supply"] == pytest.approx((sections + spare) * 0.35e-3 + rest)


def test_a_pair_draws_its_control_current_and_its_trimmer() -> None:
    """Three times the control current (the pair's and its mirrors'), and 9 V over 100 kΩ."""
    plain, pair = (board(circuit_of(case)) for case in ("gated-swept", "pair"))
    control = pair.component("octave.control").amount or 0.0
    lines = [{line.what: line.amps[0] for line in supply_estimate(made).lines} for made in (plain, pair)]
    (more,) = set(lines[1]) - set(lines[0]) - {"CMOS, 1 × 0.01 mA"}
    assert lines[1][more] == pytest.approx(3 * 7.7 / control + 9.0 / 100e3)


@pytest.mark.parametrize(("supply", "batteries"), [("9V", 1), ("9.6V", 1), ("18V", 2), ("12V", 0), ("4.5V", 0)])
def test_only_a_whole_number_of_batteries_has_hours(supply: str, batteries: int) -> None:
    found = supply_estimate(board(load_circuit("gated-open", changes={"supply": supply})))
    assert found.batteries == batteries
    assert len(found.hours) == (len(found.kinds) if batteries else 0)


def test_an_overtone_detector_draws_more() -> None:
    plain = supply_estimate(board(load_circuit("gated-swept", changes={"detector.kind": "peak-latch"})))
    more = supply_estimate(board(load_circuit("gated-swept", changes={"detector.kind": "overtone"})))
    assert all(b > a for a, b in zip(plain.amps, more.amps, strict=True))
    assert all(b < a for a, b in zip(plain.hours, more.hours, strict=True))


def supplied(volts: float, **more: Any) -> Circuit:
    """Return a circuit with this supply, and room for its output whatever it is."""
    changes = {"supply": volts, "output.low_margin": "10mV", "output.high_margin": "10mV"}
    return load_circuit("gated-open", changes=changes | more)


@pytest.mark.parametrize("volts", [17.999, 18.0])
def test_a_supply_up_to_the_limit_has_a_board(volts: float) -> None:
    assert board(supplied(volts)).circuit.supply == volts


MOST = {"op-amps": 36.0, "comparators": 36.0, "CMOS flip-flops and switches": 18.0}
"""What the 072 and 393 type and the 4000 series bear, in volts (data sheets, from memory)."""


@pytest.mark.parametrize("volts", [18.000001, 18.9, 32.5, 36.0, 60.0])
def test_a_supply_above_the_limit_of_any_part_is_refused_by_the_parts_names(volts: float) -> None:
    with pytest.raises(CircuitError) as refused:
        board(supplied(volts))
    told = str(refused.value)
    assert told.startswith(f"supply must be at most 18 V for this board, got {volts:.8g} V: ")
    assert "; give it 18 V or less" in told
    for what, most_v in MOST.items():
        assert (f"{what} of class" in told) is (volts > most_v)


def test_the_limit_is_that_of_the_classes_that_the_circuit_names() -> None:
    """TLC2272 and TLC393 bear 16 V (data sheets, from memory); other classes that bear 17 V are named."""
    for field, what in (("op_amp", "rail-to-rail"), ("comparator", "cmos-open-drain")):
        chosen = supplied(17.0, **{f"devices.{field}": what})
        with pytest.raises(
            CircuitError, match=rf"at most 16 V .* of class {what} .*\(of class .* they would bear it\)"
        ):
            board(chosen)
        assert board(supplied(16.0, **{f"devices.{field}": what}))


def test_without_a_board_any_supply_is_rendered() -> None:
    take = take_from_samples(0.1 * np.sin(np.arange(4800) * 0.01), 48000)
    assert np.any(render(take, supplied(60.0)).samples)


@pytest.mark.parametrize(
    ("volts", "starved"), [(1.5, 3), (2.5, 2), (3.0, 1), (4.5, 1), (6.999, 1), (7.0, 0), (8.0, 0), (12.0, 0)]
)
def test_a_supply_below_what_parts_need_is_remarked_upon(volts: float, starved: int) -> None:
    """No batteries of 9 V: comparators need 2 V, CMOS parts 3 V, op-amps of the 072 type 7 V."""
    remarks = supply_estimate(board(supplied(volts))).remarks
    assert len(remarks) == starved
    assert all(" V, the supply is " in remark for remark in remarks)


@pytest.mark.parametrize(
    ("volts", "qualify"),
    [
        (6.0, "those of class single-supply or rail-to-rail qualify"),
        (4.0, "those of class single-supply qualify"),
        (2.5, "no class that this program knows does"),
    ],
)
def test_the_classes_that_a_low_supply_leaves_are_named(volts: float, qualify: str) -> None:
    """358 type from 3 V on, TLC2272 from 4.4 V on (data sheets, from memory)."""
    (remark,) = (one for one in supply_estimate(board(supplied(volts))).remarks if one.startswith("op-amps"))
    assert remark.endswith(f"; {qualify}")


@pytest.mark.parametrize("name", circuit_names())
def test_a_battery_that_sags_below_what_a_part_needs_is_remarked_upon(name: str) -> None:
    """Empty at 6 V, less 0.3 V of the diode: less than the 7 V of the 072 type, more than what all others need."""
    (remark,) = supply_estimate(board(load_circuit(name))).remarks
    assert remark.startswith(
        "op-amps of class fet-input (TL072, TL082, LF353) need 7 V, a 9 V battery when empty leaves 5.7 V after the "
        "diode: change it earlier; those of class single-supply or rail-to-rail qualify"
    )
    other = load_circuit(name, changes={"devices.op_amp": "single-supply"})
    assert supply_estimate(board(other)).remarks == ()


def test_two_fresh_batteries_are_above_the_limit() -> None:
    """2 × 9.6 V − 0.3 V = 18.9 V; empty they leave 11.7 V, which is enough for all."""
    (remark,) = supply_estimate(board(supplied(18.0))).remarks
    assert remark.startswith("CMOS flip-flops and switches of class cmos (CD4053B, CD4013B) bear 18 V, ")
    assert ", 2 × 9 V when fresh gives 18.9 V after the diode: use a regulated supply of 18 V instead" in remark
