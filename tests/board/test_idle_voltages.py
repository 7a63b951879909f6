"""What a voltmeter finds on a board at rest, where an own network's op-amp has its plus input at the bias."""

from __future__ import annotations

import pytest

from own_networks import INVERTING
from sublatch.board.assemble import board
from sublatch.board.sheet.idle_voltages import idle_rows
from sublatch.circuit.load import load_circuit

OWN = {"devices.op_amp_offset": "5mV", "devices.op_amp_bias": 0.0}
"""Op-amps of 5 mV and no bias current, so that what is left is theirs and 1 mV of two diodes' leakage at most."""


def test_an_inverting_filter_adds_its_own_offset_and_what_comes_before_it():
    """−R2 / R1 of the gate's 10 mV (two op-amps of 5 mV, and 1 mV), and 1 + R2 / R1 of its own 5 mV: 24 + 16 mV.

    With R2 1 % high and R1 1 % low both are 2 % more: 2.2446 · 11.01 mV + 3.2446 · 5 mV = 40.9 mV.
    """
    circuit = load_circuit("gated-open", changes={**OWN, "filter": {"kind": "network", "parts": INVERTING}})
    rows = {row.net: row for row in idle_rows(board(circuit))}
    assert (rows["filtered"].expect, rows["filtered"].between) == ("0 V", "± 41\N{NO-BREAK SPACE}mV")


def test_a_detector_may_have_one_too():
    """The input follower's 6 mV come through it 2.24 times as large, its own 5 mV 3.24 times: 13.5 + 16.2 mV."""
    own = {"detector.kind": "peak-latch", "detector.filter": {"kind": "network", "parts": INVERTING}}
    circuit = load_circuit("gated-open", changes={**OWN, **own})
    rows = {row.net: row for row in idle_rows(board(circuit))}
    assert rows["detected"].between == "± 30\N{NO-BREAK SPACE}mV"


@pytest.mark.parametrize(("offset", "between"), [("1uV", "up to 0.4 V"), ("10mV", "0.4 V; ± 50\N{NO-BREAK SPACE}mV")])
def test_a_comparator_may_rest_either_way_once_offsets_beat_the_floor(offset, between):
    """The floor is 1 mV: a comparator and op-amps of a microvolt leave it alone, and 10 mV do not."""
    changes = {"devices.op_amp_bias": 0.0, "devices.comparator_offset": offset, "devices.op_amp_offset": offset}
    circuit = load_circuit(
        "gated-open",
        changes={
            **changes,
            "detector.kind": "peak-latch",
            "input.resistance": "10k",
            "devices.comparator_bias": 0.0,
            "devices.diode_leakage": 0.0,
        },
    )
    rows = {row.net: row for row in idle_rows(board(circuit))}
    assert [rows[net].between for net in ("set", "reset")] == [between] * 2
