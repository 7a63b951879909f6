"""A loaded potentiometer against the voltage divider's closed form.

V/Vin = α / (1 + α (1 − α) R/R_L); output resistance α (1 − α) R, at most R/4. By Thévenin.
"""

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.circuit.networks.elements import GROUND, Resistor
from sublatch.circuit.networks.solver import Network, transfer
from sublatch.circuit.signal_path import output_network

TRACK = 100e3


def loaded(alpha, load_ohm):
    """Gain of a pot whose wiper stands at `alpha`, by the network solver."""
    parts = (
        Resistor("upper", ("in", "out"), (1 - alpha) * TRACK),
        Resistor("lower", ("out", GROUND), alpha * TRACK),
        Resistor("load", ("out", GROUND), load_ohm),
    )
    return transfer(Network(parts)).response(1000.0).real


@pytest.mark.parametrize(
    ("ratio", "gain", "gain_db"), [(1, 0.4, -7.959), (2, 0.4444, None), (10, 0.48780, -6.235), (100, 0.49875, None)]
)
def test_half_way(ratio, gain, gain_db):
    found = loaded(0.5, ratio * TRACK)
    assert found == pytest.approx(gain, abs=5e-5)
    if gain_db is not None:
        assert 20 * np.log10(found) == pytest.approx(gain_db, abs=5e-4)


def test_the_worst_error_is_near_two_thirds():
    alpha = np.linspace(0.01, 0.99, 981)
    error = np.array([loaded(a, 10 * TRACK) for a in alpha]) - alpha
    worst = np.argmin(error)
    assert error[worst] == pytest.approx(-0.01449, abs=1e-5)
    assert alpha[worst] == pytest.approx(0.669, abs=0.002)


@pytest.mark.parametrize("position", [1, 2.5, 5, 7.5, 9, 10])
@pytest.mark.parametrize("trim_ohm", [None, 75e3])
def test_the_volume_knob_of_a_circuit(position, trim_ohm):
    """Linear pot of 100 kΩ into 1 MΩ, with and without a trim resistor ahead of it."""
    changes = {"knobs.volume": position, "filter.kind": "none", "output.load": "1M"}
    if trim_ohm:
        changes["output.trim_resistor"] = trim_ohm
    circuit = load_circuit("gated-first-order", changes=changes)
    alpha = position / 10
    lower = 1 / (1 / (alpha * TRACK) + 1 / 1e6)
    divider = lower / (lower + (1 - alpha) * TRACK + (trim_ohm or 0.0))
    gain = 1 + circuit.output.feedback_resistor / circuit.output.ground_resistor
    mix = circuit.mix
    joint = mix.direct_resistor / (mix.octave_resistor + mix.direct_resistor)
    found = abs(transfer(output_network(circuit), source="octave").response(10e3))
    assert found == pytest.approx(joint * divider * gain, rel=1e-4)
