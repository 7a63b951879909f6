"""Where circuits rest with real devices: against closed forms and against the charge that capacitors keep."""

from __future__ import annotations

import pytest

from sublatch.circuit.devices.errors import op_amp_bias_a, op_amp_offset_v
from sublatch.circuit.idle import heard_limits_v, note_idle_v, op_amp_limits_v, output_limits_v
from sublatch.circuit.load import load_circuit
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Resistor
from sublatch.circuit.networks.idle import idle_voltages
from sublatch.circuit.networks.solver import Network
from sublatch.errors import CircuitError

IDEAL = {"devices.values": "ideal"}
REAL = {"devices.values": "worst", "devices.op_amp": "single-supply"}


def test_an_amplifier_rests_at_its_offset_times_its_noise_gain_and_its_bias_in_the_feedback_resistor():
    """Vout = Vos (1 + Rf/Rg) + Ib Rf, both inputs alike and the plus input at ground (textbook; closed form)."""
    network = Network(
        (
            OpAmp("a", plus=GROUND, minus="m", output="out"),
            Resistor("f", ("out", "m"), 91e3),
            Resistor("g", ("m", "in"), 10e3),
        )
    )
    found = idle_voltages(network, offset_v={"a": 3e-3}, bias_a={"m": 20e-9})
    assert found["out"] == pytest.approx(3e-3 * (1 + 91 / 10) + 20e-9 * 91e3, rel=1e-9)


def test_a_capacitor_lets_the_source_through_to_nothing_and_the_bias_current_through_the_resistor():
    network = Network((Capacitor("c", ("in", "a"), 1e-6), Resistor("r", ("a", GROUND), 1e6), OpAmp("u", "a", "o", "o")))
    found = idle_voltages(network, offset_v={"u": 1e-3}, bias_a={"a": -45e-9}, driven_v={"in": 2.0})
    assert found["a"] == pytest.approx(45e-3, rel=1e-4)
    assert found["o"] == pytest.approx(46e-3, rel=1e-4)


def test_a_bias_current_without_a_way_is_refused():
    network = Network((Capacitor("c", ("in", "a"), 1e-9), OpAmp("u", "a", "out", "out")))
    with pytest.raises(CircuitError, match="a bias current must have a way to a source, and at node 'a'"):
        idle_voltages(network, offset_v={}, bias_a={"a": 250e-9})


def test_the_note_rests_by_offset_and_bias_of_its_follower():
    circuit = load_circuit("gated-open", changes=REAL)
    role, ohm = "input.follower", circuit.input.resistance
    wanted = op_amp_offset_v(circuit.devices, role) - op_amp_bias_a(circuit.devices, role) * ohm
    assert note_idle_v(circuit) == pytest.approx(wanted, rel=1e-4)
    assert note_idle_v(load_circuit("gated-open", changes=IDEAL)) == 0.0


def test_the_output_has_less_room_on_the_side_that_its_offset_goes_to():
    ideal, real = (load_circuit("gated-open", changes=changes) for changes in (IDEAL, REAL))
    low, high = ideal.limits
    assert output_limits_v(ideal) == (low, high)
    found = output_limits_v(real)
    gain = 1 + real.output.feedback_resistor / real.output.ground_resistor
    devices = real.devices
    lower, upper = real.output.pot.resistances(real.volume)
    upper += real.output.trim_resistor or 0.0
    wiper_ohm = 1 / (1 / lower + 1 / real.output.load)  # at rest nothing comes through the coupling capacitor
    bias_a = op_amp_bias_a(devices, "output.buffer")
    rest = gain * (op_amp_offset_v(devices, "output.buffer") - bias_a * wiper_ohm)
    rest += bias_a * real.output.feedback_resistor
    assert found == pytest.approx((low - rest, high - rest), rel=1e-3)


def test_other_op_amps_swing_as_their_class_says():
    """LM358 on 9 V, biased half way: from 5 mV (worst 20 mV) above 0 V to 1.5 V (2 V) below the supply."""
    typical = load_circuit("gated-open", changes=REAL | {"devices.values": "typical"})
    assert op_amp_limits_v(typical) == pytest.approx((0.005 - 4.5, 9 - 1.5 - 4.5))
    assert op_amp_limits_v(load_circuit("gated-open", changes=REAL)) == pytest.approx((0.02 - 4.5, 9 - 2 - 4.5))


def test_an_output_that_rests_at_a_limit_is_refused_with_the_supply():
    """3.02 V leave 10 mV on either side of the bias; the offset of a real op-amp, amplified, is more."""
    low = {"supply": "3.02V"}
    assert heard_limits_v(load_circuit("gated-swept", changes=low | IDEAL)) == pytest.approx((-0.01, 0.01))
    with pytest.raises(CircuitError, match=r"room on both sides of where it rests, .* a supply of 3\.02 V too low"):
        heard_limits_v(load_circuit("gated-swept", changes=low))
