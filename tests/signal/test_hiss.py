"""Hiss: against thermal noise by formula, an amplifier's noise gain, and what is measured in the samples."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import welch

from sublatch.circuit.load import load_circuit
from sublatch.signal.chain import render
from sublatch.signal.hiss import hiss, output_noise_v_rthz
from sublatch.takes.take import take_from_samples

RATE = 48000


def thermal(ohm):
    """√(4kTR) at 20 °C."""
    return np.sqrt(4 * 1.380649e-23 * 293.15 * ohm)


def test_thermal_noise_of_handbook_values():
    """1 kΩ 4.02, 10 kΩ 12.7, 100 kΩ 40.2 nV/√Hz (closed form; checked with the formula's own constants)."""
    assert [1e9 * thermal(ohm) for ohm in (1e3, 10e3, 100e3)] == pytest.approx([4.024, 12.724, 40.236], rel=1e-3)


def test_noise_at_the_output_of_an_open_circuit_by_hand():
    """Volume at 0: the buffer's own noise and its feedback resistors' (the wiper is at ground), times the gain."""
    circuit = load_circuit("gated-open", changes={"knobs.volume": 0})
    out = circuit.output
    gain = 1 + out.feedback_resistor / out.ground_resistor
    pair = out.feedback_resistor * out.ground_resistor / (out.feedback_resistor + out.ground_resistor)
    wanted = gain * np.sqrt(circuit.devices.op_amp_class.noise_v_rthz**2 + thermal(pair) ** 2)
    assert output_noise_v_rthz(circuit, np.array([1000.0])) == pytest.approx([wanted], rel=1e-3)


def test_the_samples_have_the_density_that_is_said():
    circuit = load_circuit("gated-first-order", changes={"knobs.volume": 10, "devices.hiss": True})
    made = hiss(circuit, count=1 << 19, sample_rate=RATE)
    frequency_hz, power = welch(made, RATE, nperseg=4096)
    band = (frequency_hz > 100) & (frequency_hz < 15e3)
    wanted = output_noise_v_rthz(circuit, frequency_hz[band])
    ratio = np.sqrt(power[band]) / wanted
    assert np.mean(ratio) == pytest.approx(1.0, abs=0.02)
    assert np.all(np.abs(ratio - 1.0) < 0.4)


def test_hiss_is_in_the_sound_only_where_it_is_asked_for_and_the_same_every_time():
    take = take_from_samples(np.zeros(RATE), RATE)
    quiet = render(take, load_circuit("gated-open")).samples
    assert not np.any(quiet)
    hissing = load_circuit("gated-open", changes={"devices.hiss": True})
    one, other = render(take, hissing).samples, render(take, hissing).samples
    assert 1e-6 < np.std(one) < 1e-3
    assert np.array_equal(one, other)
