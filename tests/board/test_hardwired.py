"""Boxes without a drive switch."""

from __future__ import annotations

import pytest

from sublatch.board import board
from sublatch.board.check.electrical_check import must_be_sound
from sublatch.circuit.load import load_circuit
from sublatch.circuit.save import circuit_toml


@pytest.mark.parametrize(("drive", "net"), [("normal", "latch"), ("inverted", "not latch")])
def test_the_drive_is_wired_as_the_switch_stood(drive, net) -> None:
    made = board(load_circuit("gated-swept", changes={"hardwired": "drive", "switches.drive": drive}))
    assert not any(part.control == "drive" for part in made.components)
    assert made.component("divider.1").net("CLK") == net


def test_a_clock_that_is_wired_for_good_needs_nothing_to_hold_it() -> None:
    """The resistor to the supply is for the moment between the switch's throws."""
    roles = {part.role for part in board(load_circuit("gated-swept", changes={"hardwired": "drive"})).components}
    assert "clock.pull_up" not in roles
    assert "clock.pull_up" in {part.role for part in board(load_circuit("gated-swept")).components}


@pytest.mark.parametrize("drive", ["normal", "inverted"])
def test_without_its_drive_switch_a_board_is_as_sound(drive) -> None:
    must_be_sound(board(load_circuit("gated-swept", changes={"hardwired": "drive", "switches.drive": drive})))


def test_the_list_is_saved_and_left_out_where_there_is_none() -> None:
    circuit = load_circuit("gated-swept", changes={"hardwired": "drive"})
    assert circuit.hardwired == ("drive",)
    assert 'hardwired = ["drive"]' in circuit_toml(circuit)
    assert "hardwired" not in circuit_toml(load_circuit("gated-swept"))
