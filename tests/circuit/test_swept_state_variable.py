"""The swept state-variable low-pass: its network against the closed form, its tolerances, its board, its file."""

from __future__ import annotations

from itertools import product
from typing import Any

import numpy as np
import pytest

from sublatch.board.assemble import board
from sublatch.board.network import board_network
from sublatch.board.parts_list import parts_list
from sublatch.board.schematic.blocks import sheets
from sublatch.circuit.components.controls import Pot, SwitchedCapacitor
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.filters.swept_state_variable import SweptStateVariable
from sublatch.circuit.load import load_circuit
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.corners import network_response
from sublatch.circuit.networks.solver import nodal_response, transfer
from sublatch.circuit.networks.stability import check_stability
from sublatch.circuit.response import response
from sublatch.circuit.save import circuit_toml
from sublatch.parts.tolerance import spread, wanted_of
from sublatch.parts.variation import terms

FREQUENCY_HZ = np.geomspace(10.0, 20e3, 25)
KIND = "swept-state-variable"


def circuit(**changes: Any) -> Circuit:
    """Return a circuit with such a filter."""
    return load_circuit("gated-open", changes={"filter.kind": KIND, **changes})


def closed_form(made: SweptStateVariable, gang_ohm: float, peak: str, frequency_hz: Any) -> Any:
    """Return the gain: the adding op-amp's two laws and the two integrators', solved by hand."""
    start = made.start_resistor
    resistance = made.end_resistor + (gang_ohm if start is None else gang_ohm * start / (gang_ohm + start))
    s = 2j * np.pi * np.asarray(frequency_hz)
    first, second = (s * resistance * getattr(c, peak) for c in (made.first_capacitor, made.second_capacitor))
    of_input = made.band_resistor / (made.band_resistor + made.input_resistor)
    of_high = made.low_resistor / (made.low_resistor + made.high_resistor)
    return of_input / (of_high * first * second + (1 - of_input) * second + 1 - of_high)


@pytest.mark.parametrize(("start", "peak"), [*product((None, 68e3), ("flat", "peaked"))])
def test_the_network_is_the_closed_form(start: float | None, peak: Any, rng: np.random.Generator) -> None:
    """Equations of the textbook circuit, worked out again from its op-amps, for any values of its parts."""
    for tone in (0.0, 3.0, 10.0):
        first, second, third, fourth = (float(ohm) for ohm in 10 ** rng.uniform(3.5, 5, 4))
        made = SweptStateVariable(
            pot=Pot(value=47e3, taper="linear"),
            start_resistor=start,
            first_capacitor=SwitchedCapacitor(flat=4.7e-9, peaked=33e-9),
            second_capacitor=SwitchedCapacitor(flat=27e-9, peaked=8.2e-9),
            input_resistor=first,
            band_resistor=second,
            high_resistor=third,
            low_resistor=fourth,
        )
        found = nodal_response(made.network(tone=tone, peak=peak), FREQUENCY_HZ)
        expected = closed_form(made, 47e3 * (1 - tone / 10), peak, FREQUENCY_HZ)
        np.testing.assert_allclose(found, expected, rtol=1e-9)


@pytest.mark.parametrize("peak", ["flat", "peaked"])
def test_frequency_and_q_are_those_of_the_textbook(peak: str) -> None:
    """1 / (2π R √(C1 C2)) and √(C1 / C2), the four resistors equal; unity gain at 0 Hz, not inverted."""
    made = SweptStateVariable()
    first, second = getattr(made.first_capacitor, peak), getattr(made.second_capacitor, peak)
    found = transfer(made.network(tone=10.0, peak=peak))  # type: ignore[arg-type]
    natural = 1.0 / (made.end_resistor * np.sqrt(first * second))
    assert np.abs(found.poles) == pytest.approx([natural, natural], rel=1e-9)
    assert natural / (-2 * found.poles.real[0]) == pytest.approx(np.sqrt(first / second), rel=1e-9)
    assert found.response(0.0) == pytest.approx(1.0)


def test_as_it_comes_it_sweeps_from_100_hz_to_3_khz_with_4_db_of_peak() -> None:
    made = circuit()
    corners = {(one.tone, one.peak): (one.corner_hz, one.peak_db) for one in wanted_of(made)}
    for peak, peak_db in (("flat", 0.0), ("peaked", 3.9)):
        for tone, corner_hz in ((0.0, 100.0), (10.0, 3000.0)):
            corner, found_db = corners[tone, peak]
            assert corner == pytest.approx(corner_hz, rel=0.08)
            assert found_db == pytest.approx(peak_db, abs=0.1)


def test_it_rests_with_real_op_amps() -> None:
    for tone, peak in product((0.0, 5.0, 10.0), ("flat", "peaked")):
        check_stability(SweptStateVariable().network(tone=tone, peak=peak))  # type: ignore[arg-type]


def test_the_tolerance_of_every_part_counts() -> None:
    """Each resistor and capacitor in the position of the switch, the track, what parts its gangs, and its ends."""
    made = circuit(**{"filter.start_resistor": "220k"})
    parts = terms(made.filter, Tolerances(), tone=3.0, peak="flat")
    causes = {cause for several in parts.values() for term in several for cause in term.causes}
    fixed = {f"filter.{name}_resistor" for name in ("input", "band", "high", "low")}
    swept = {f"filter.{name}_resistor ({gang})" for name in ("end", "start") for gang in (1, 2)}
    capacitors = {f"filter.{name}_capacitor.flat" for name in ("first", "second")}
    assert causes == fixed | swept | capacitors | {"filter.pot", "filter.pot gangs"}
    told = spread(made, boards=500)
    assert 0.0 < told.yield_share < 1.0
    assert set(told.matters) >= causes


@pytest.mark.parametrize("start", ["none", "220k"])
def test_the_board_does_what_the_filter_does(start: str) -> None:
    made = circuit(**{"filter.start_resistor": start, "knobs.tone": 6.0, "switches.peak": "peaked"})
    network = board_network(board(made), inputs=("octave",), output="filtered")
    expected = np.abs(nodal_response(made.filter.network(tone=6.0, peak="peaked"), FREQUENCY_HZ))
    np.testing.assert_allclose(np.abs(nodal_response(network, FREQUENCY_HZ)), expected, rtol=1e-9)


def test_it_is_drawn_and_not_listed_and_what_to_buy_is_told() -> None:
    made = board(circuit())
    assert not [pin for sheet in sheets(made) for pin in sheet.listed]
    lines = " ".join(str(line) for line in parts_list(made))
    assert "100k reverse-log dual-gang" in lines
    assert "two-pole changeover" in lines


def test_a_file_with_it_reads_back_as_it_was(tmp_path: Any) -> None:
    capacitor = {"flat": "12n", "peaked": "47n"}
    made = circuit(**{"knobs.tone": 2.0, "filter.start_resistor": "220k", "filter.first_capacitor": capacitor})
    (tmp_path / "box.toml").write_text(circuit_toml(made), "utf-8")
    assert load_circuit(str(tmp_path / "box.toml")) == made


def test_its_response_is_that_of_the_command() -> None:
    made = circuit(**{"knobs.tone": 4.0})
    found = response(made)
    assert found.corner_hz == network_response(made.filter.network(tone=4.0, peak="flat")).corner_hz
    plain = SweptStateVariable()
    expected = closed_form(plain, plain.pot.resistances(4.0)[1], "flat", found.frequency_hz)
    np.testing.assert_allclose(found.gain_db, 20 * np.log10(np.abs(expected)), atol=1e-6)
