"""Boxes without a drive switch or a direct pot."""

from __future__ import annotations

import pytest

from sublatch.board import board
from sublatch.circuit.load import load_circuit
from sublatch.circuit.save import circuit_toml
from sublatch.errors import CircuitError
from sublatch.parts.knobs.travel import knob_names


@pytest.mark.parametrize(("drive", "net"), [("normal", "latch"), ("inverted", "not latch")])
def test_the_drive_is_wired_as_the_switch_stood(drive, net) -> None:
    made = board(load_circuit("gated-swept", changes={"hardwired": "drive", "switches.drive": drive}))
    assert not any(part.control == "drive" for part in made.components)
    assert made.component("divider.1").net("CLK") == net


def test_without_the_direct_pot_its_resistor_goes_to_the_bias() -> None:
    circuit = load_circuit("gated-swept", changes={"hardwired": ["direct"]})
    made = board(circuit)
    assert not any(part.control == "direct" for part in made.components)
    assert made.component("mix.direct_resistor").net("a") == "bias"
    assert knob_names(circuit) == ("tone", "volume")


def test_the_list_is_saved_and_left_out_where_there_is_none() -> None:
    circuit = load_circuit("gated-swept", changes={"hardwired": "drive, direct"})
    assert circuit.hardwired == ("drive", "direct")
    assert 'hardwired = ["drive", "direct"]' in circuit_toml(circuit)
    assert "hardwired" not in circuit_toml(load_circuit("gated-swept"))


def test_a_direct_knob_that_is_not_there_cannot_be_turned_up() -> None:
    with pytest.raises(CircuitError, match=r"knobs\.direct must be 0 where hardwired names the direct pot, got 2"):
        load_circuit("gated-swept", changes={"hardwired": "direct", "knobs.direct": 2})
