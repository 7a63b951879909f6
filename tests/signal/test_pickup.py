"""A pickup as the source: its resonance under the input's load, against the closed form of a damped RLC circuit."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.circuit.networks.solver import transfer
from sublatch.circuit.save import circuit_toml
from sublatch.circuit.signal_path import input_network
from sublatch.errors import CircuitError
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import front
from sublatch.takes.take import take_from_samples

PICKUP = {"input.pickup.resistance": "8k", "input.pickup.inductance": "4H", "input.pickup.cable": "500p"}
RATE, COUNT = 48000, 1 << 15


def loaded(frequency_hz, *, load_ohm, coupling_farad):
    """H = Z/(R + sL + Z), times the high-pass of coupling and load; Z: cable beside coupling and load in series."""
    s = 2j * np.pi * np.asarray(frequency_hz)
    branch = load_ohm + 1 / (s * coupling_farad)
    z = 1 / (s * 500e-12 + 1 / branch)
    return z / (8e3 + 4.0 * s + z) * load_ohm / branch


@pytest.mark.parametrize("load", ["1M", "47k"])
def test_response_is_that_of_coil_cable_and_load(load):
    circuit = load_circuit("gated-open", changes=PICKUP | {"input.resistance": load})
    frequency_hz = np.geomspace(10, 20e3, 200)
    wanted = loaded(frequency_hz, load_ohm=circuit.input.resistance, coupling_farad=circuit.input.coupling)
    assert transfer(input_network(circuit)).response(frequency_hz) == pytest.approx(wanted, rel=1e-9)


def test_a_high_input_resistance_leaves_the_resonance_and_a_low_one_damps_it():
    """1/(2π√(LC)) = 3.56 kHz for 4 H and 500 pF; 47 kΩ lets nothing stand out (textbook)."""
    peaks = {}
    for load in ("1M", "47k"):
        network = input_network(load_circuit("gated-open", changes=PICKUP | {"input.resistance": load}))
        frequency_hz = np.geomspace(20, 20e3, 4000)
        gain = np.abs(transfer(network).response(frequency_hz))
        peaks[load] = (gain.max(), frequency_hz[np.argmax(gain)])
    assert peaks["1M"][0] > 5.0
    assert peaks["1M"][1] == pytest.approx(1 / (2 * np.pi * np.sqrt(4.0 * 500e-12)), rel=0.01)
    assert peaks["47k"][0] < 1.0


def test_the_take_is_heard_through_it():
    circuit = load_circuit("gated-open", changes=PICKUP)
    frequency_hz = RATE * 1000 / COUNT
    take = take_from_samples(0.1 * np.sin(2 * np.pi * frequency_hz * np.arange(2 * COUNT) / RATE), RATE)
    spectrum = np.fft.rfft(front(take, circuit, StageCache())[0][COUNT:]) / (COUNT / 2)
    wanted = 0.1 * abs(loaded(frequency_hz, load_ohm=1e6, coupling_farad=circuit.input.coupling))
    assert abs(spectrum[1000]) == pytest.approx(wanted, rel=1e-6)


def test_it_is_saved_left_out_and_checked():
    circuit = load_circuit("gated-open", changes=PICKUP)
    assert 'inductance = "4H"' in circuit_toml(circuit)
    assert load_circuit("gated-open", changes={"input.pickup": "none"}).input.pickup is None
    with pytest.raises(CircuitError, match="inductance"):
        load_circuit("gated-open", changes={"input.pickup.inductance": "4 Ohm"})
