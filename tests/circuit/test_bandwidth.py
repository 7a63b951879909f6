"""Op-amps of finite bandwidth in a filter: against the closed form of an amplifier's bandwidth and a slow solution."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.circuit.networks.bandwidth import response_change, with_bandwidth
from sublatch.circuit.networks.elements import GROUND, OpAmp, Resistor
from sublatch.circuit.networks.solver import Network, transfer
from sublatch.circuit.signal_path import filter_network, output_network

SLOW = {"devices.values": "typical", "devices.op_amp": "single-supply"}
SWEPT = {"knobs.tone": 10, "switches.peak": "peaked"}


def test_an_amplifiers_bandwidth_is_its_gain_bandwidth_over_its_noise_gain():
    """F = GBW / (1 + Rf/Rg) (textbook; closed form)."""
    network = Network(
        (
            OpAmp("a", plus="in", minus="m", output="out"),
            Resistor("f", ("out", "m"), 90e3),
            Resistor("g", ("m", GROUND), 10e3),
        )
    )
    (pole,) = transfer(with_bandwidth(network, 100e3)).poles
    assert pole.real == pytest.approx(-2 * np.pi * 100e3 / 10, rel=1e-9)


def test_a_swept_filter_of_slow_op_amps_against_its_equations():
    """Sallen and Key with A(s) = ω0/s, solved by hand for the four node voltages."""
    circuit = load_circuit("gated-swept", changes=SLOW | SWEPT)
    network = filter_network(circuit)
    parts = {part.name: part for part in network.parts}
    (amp,) = [part for part in network.parts if isinstance(part, OpAmp)]
    assert amp.gain_bandwidth_hz == 0.7e6
    ohm = [part.ohm for part in network.parts if isinstance(part, Resistor)]
    ground = next(p for p in parts.values() if hasattr(p, "farad") and GROUND in p.nodes).farad
    feedback = next(p for p in parts.values() if hasattr(p, "farad") and GROUND not in p.nodes).farad
    r = sum(ohm) / 2
    frequency_hz = np.array([100.0, 1000.0, 3000.0, 8000.0])
    found = transfer(network).response(frequency_hz)
    for f, gain in zip(frequency_hz, found, strict=True):
        s = 2j * np.pi * f
        a = 2 * np.pi * 0.7e6 / s
        matrix = np.array(
            [[2 / r + s * feedback, -1 / r, -s * feedback], [-1 / r, 1 / r + s * ground, 0], [0, a, -1 - a]]
        )
        assert gain == pytest.approx(np.linalg.solve(matrix, [1 / r, 0, 0])[2], rel=1e-6)


def test_bandwidth_counts_only_where_it_changes_the_filter_by_more_than_one_per_cent():
    low = load_circuit("gated-swept", changes=SLOW | SWEPT | {"knobs.tone": 2})
    assert filter_network(low) == filter_network(low, ideal=True)
    fast = load_circuit("gated-swept", changes=SWEPT | {"devices.values": "worst"})
    assert filter_network(fast) == filter_network(fast, ideal=True)
    slow = load_circuit("gated-swept", changes=SLOW | SWEPT)
    assert 0.01 < response_change(filter_network(slow, ideal=True), filter_network(slow)) < 0.04
    assert any(
        isinstance(part, OpAmp) and part.gain_bandwidth_hz == 0.7e6 and part.name.startswith("filter.")
        for part in output_network(slow).parts
    )
