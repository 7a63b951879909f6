"""Boards: which values are drawn, how far, and that the same board is the same board."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import kstest, norm

from own_networks import INVERTING
from sublatch.circuit.boards import drawn_board
from sublatch.circuit.components.lots import lot
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.load import load_circuit
from sublatch.errors import CircuitError

CIRCUIT = load_circuit("gated-swept")
COUNT = 2000


def test_parts_are_off_by_their_tolerance_and_knobs_and_volts_are_not():
    tolerances = Tolerances(resistor=0.05, capacitor=0.1, pot=0.2)
    boards = [drawn_board(CIRCUIT, number, tolerances=tolerances) for number in range(1, 301)]
    ohm = np.array([board.mix.octave_resistor for board in boards]) / CIRCUIT.mix.octave_resistor
    farad = np.array([board.filter.feedback_capacitor.peaked for board in boards])
    farad /= CIRCUIT.filter.feedback_capacitor.peaked
    track = np.array([board.output.pot.value for board in boards]) / CIRCUIT.output.pot.value
    for found, most in ((ohm, 0.05), (farad, 0.1), (track, 0.2)):
        assert 0.95 * most < np.max(np.abs(found - 1.0)) <= most
        assert abs(np.mean(found) - 1.0) < 0.15 * most
    assert {(board.knobs, board.switches, board.supply) for board in boards} == {
        (CIRCUIT.knobs, CIRCUIT.switches, CIRCUIT.supply)
    }
    assert {(board.devices.values, board.devices.board) for board in boards} == {("drawn", n) for n in range(1, 301)}


def test_lots_are_uniform_or_normal():
    """Against scipy's distributions; normal ones are cut at three standard deviations, which leaves out 0.27 %."""
    uniform = [lot(number, "filter.capacitor") for number in range(COUNT)]
    assert kstest(uniform, "uniform", args=(-1.0, 2.0)).pvalue > 0.01
    normal = [lot(number, "filter.capacitor", "normal") for number in range(COUNT)]
    assert kstest(normal, norm(scale=1 / 3).cdf).pvalue > 0.01
    assert np.max(np.abs(normal)) <= 1.0


def test_a_board_is_the_same_every_time_and_its_lots_do_not_hang_on_the_rest():
    assert drawn_board(CIRCUIT, 7) == drawn_board(CIRCUIT, 7)
    assert drawn_board(CIRCUIT, 7) != drawn_board(CIRCUIT, 8)
    open_circuit = load_circuit("gated-open")
    first, second = (drawn_board(circuit, 7).mix.octave_resistor for circuit in (CIRCUIT, open_circuit))
    assert first == second


def test_parts_of_ones_own_network_are_drawn_too():
    own = load_circuit("gated-open", changes={"filter": {"kind": "network", "parts": INVERTING}})
    drawn = drawn_board(own, 3)
    changed = [(one, other) for one, other in zip(own.filter.parts, drawn.filter.parts, strict=True) if one != other]
    assert len(changed) == sum(part["part"] in ("resistor", "capacitor") for part in INVERTING)
    kept = drawn_board(own, 3, nominal=["filter.parts.R1.value"]).filter.parts
    assert kept[0] == own.filter.parts[0]
    assert kept[1:] == drawn.filter.parts[1:]


def test_a_battery_ages_from_its_supply_down_to_the_least():
    supplies = [drawn_board(CIRCUIT, number, least_supply_v=7.0).supply for number in range(1, 301)]
    assert 7.0 <= min(supplies) < 7.1
    assert 8.9 < max(supplies) <= 9.0
    with pytest.raises(CircuitError, match="a battery ages to less than its 9 V, got 12 V"):
        drawn_board(CIRCUIT, 1, least_supply_v=12.0)
