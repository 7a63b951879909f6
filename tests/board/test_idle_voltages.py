"""What a voltmeter finds on a board at rest, where an own network's op-amp has its plus input at the bias."""

from __future__ import annotations

from own_networks import INVERTING
from sublatch.board.assemble import board
from sublatch.board.sheet.idle_voltages import idle_rows
from sublatch.circuit.load import load_circuit


def test_an_inverting_filter_adds_its_own_offset_and_what_comes_before_it():
    """−R2 / R1 of the gate's 10 mV (two op-amps of 5 mV), and 1 + R2 / R1 of its own 5 mV: 22 + 16 mV."""
    circuit = load_circuit("gated-open", changes={"filter": {"kind": "network", "parts": INVERTING}})
    rows = {row.net: row for row in idle_rows(board(circuit))}
    assert (rows["filtered"].expect, rows["filtered"].between) == ("0 V", "± 38\N{NO-BREAK SPACE}mV")


def test_a_detector_may_have_one_too():
    """The input follower's 5 mV come through it 2.2 times as large, its own 3.2 times: 11 + 16 mV."""
    own = {"kind": "network", "parts": INVERTING}
    circuit = load_circuit("gated-open", changes={"detector.kind": "peak-latch", "detector.filter": own})
    rows = {row.net: row for row in idle_rows(board(circuit))}
    assert rows["detected"].between == "± 27\N{NO-BREAK SPACE}mV"
