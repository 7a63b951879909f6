"""Corners of the coupling capacitors against 1/(2π R C), and when the bass suffers."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.circuit.networks.elements import GROUND, Capacitor, Resistor
from sublatch.circuit.networks.solver import Network, transfer
from sublatch.parts.knobs.coupling import couplings, high_pass_corner_hz


def named(changes=None, circuit="gated-first-order"):
    return {one.name: one for one in couplings(load_circuit(circuit, changes=changes or {}))}


def first_order_loss_db(corner_hz, frequency_hz):
    return 10 * math.log10(1 + (corner_hz / frequency_hz) ** 2)


@pytest.mark.parametrize(("ohm", "farad"), [(1e6, 22e-9), (10.0, 1e-6), (1e3, 0.1), (1e6, 0.1)])
def test_a_corner_is_measured_anywhere(ohm, farad):
    network = Network((Capacitor("C", ("in", "out"), farad), Resistor("R", ("out", GROUND), ohm)))
    assert high_pass_corner_hz(transfer(network)) == pytest.approx(1 / (2 * math.pi * ohm * farad), rel=1e-6)


def test_a_corner_that_nobody_could_wait_for_is_given_as_the_lowest():
    network = Network((Capacitor("C", ("in", "out"), 0.1), Resistor("R", ("out", GROUND), 100e6)))
    assert high_pass_corner_hz(transfer(network)) == 1e-6


def test_the_input_has_one_corner_whatever_the_volume():
    found = named()["input.coupling"]
    assert found.corner_hz == pytest.approx(1 / (2 * math.pi * 1e6 * 22e-9), rel=1e-6)
    assert found.corner_hz.shape == (21,)
    assert found.loss_low_e_db == pytest.approx(first_order_loss_db(7.2343, 41.203), abs=1e-4)


@pytest.mark.parametrize("trim_ohm", [None, 75e3])
def test_the_output_corner_follows_the_pots_two_parts_and_the_load(trim_ohm):
    changes = {"output.load": "100k", "output.pot.taper": "log", "output.pot.midpoint": 0.2}
    if trim_ohm:
        changes["output.trim_resistor"] = trim_ohm
    found = named(changes)["output.coupling"]
    share = (16 ** (found.position / 10) - 1) / 15
    lower = 1e5 * share
    seen = (trim_ohm or 0.0) + (1e5 - lower) + lower * 1e5 / (lower + 1e5)
    assert found.corner_hz == pytest.approx(1 / (2 * math.pi * 1e-6 * seen), rel=1e-6)
    assert found.corner_hz[-1] > 1.3 * found.corner_hz[0]


def test_a_volume_pot_of_10k_in_place_of_100k_moves_the_corner_a_decade_up():
    before, after = (
        named({"output.pot.value": ohm, "output.load": "100M"})["output.coupling"] for ohm in ("100k", "10k")
    )
    assert after.corner_hz / before.corner_hz == pytest.approx(10.0, rel=0.002)
    assert not before.bass_suffers
    assert after.bass_suffers
    assert after.corner_hz[0] == pytest.approx(15.915, rel=1e-3)
    assert after.loss_octave_db == pytest.approx(first_order_loss_db(15.915, 20.6015), abs=0.002)
    assert after.loss_low_e_db == pytest.approx(first_order_loss_db(15.915, 41.203), abs=0.002)


@pytest.mark.parametrize(("farad", "suffers"), [("1.4u", True), ("1.5u", True), ("1.6u", False)])
def test_the_bass_suffers_past_1_db_at_an_octave_under_a_low_e(farad, suffers):
    """1 dB at 20.6 Hz is a corner of 20.6 · √(10^0.1 − 1) = 10.48 Hz: 1.52 µF into 10 kΩ."""
    found = named({"output.pot.value": "10k", "output.load": "100M", "output.coupling": farad})["output.coupling"]
    limit_hz = 20.6015 * math.sqrt(10**0.1 - 1)
    assert limit_hz == pytest.approx(10.48, abs=0.01)
    assert found.bass_suffers == (float(np.max(found.corner_hz)) > limit_hz)
    assert found.bass_suffers == suffers


def test_the_input_only_has_to_pass_the_note_itself():
    """A corner of 20 Hz costs 2.9 dB at 20.6 Hz, which never comes in, and 0.92 dB at 41.2 Hz, which does."""
    found = named({"input.coupling": "7.96n"})["input.coupling"]
    assert found.loss_octave_db > 2.8
    assert found.loss_low_e_db == pytest.approx(0.92, abs=0.01)
    assert not found.bass_suffers
    assert named({"input.coupling": "6.8n"})["input.coupling"].bass_suffers


def test_an_overtone_detectors_blend_is_told_too():
    circuit = load_circuit("gated-first-order", changes={"detector.kind": "overtone"})
    found = {one.name: one for one in couplings(circuit)}
    own = ["band.coupling", "blend.coupling", "gain.coupling", "gain.last_coupling"]
    assert list(found) == ["input.coupling", *(f"detector.{name}" for name in own), "output.coupling"]
    blend = circuit.detector.blend
    seen = blend.rectified_resistor + blend.plain_resistor
    expected = 1 / (2 * math.pi * blend.coupling * seen)
    assert found["detector.blend.coupling"].corner_hz == pytest.approx(expected, rel=1e-6)
