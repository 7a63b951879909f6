"""The network solver against symbolic nodal analysis, and what it says of networks that cannot be solved."""

import numpy as np
import pytest
import sympy
from hypothesis import given
from hypothesis import strategies as st

from filter_networks import first_order, limited_second_order, none, second_order, third_order
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Resistor
from sublatch.circuit.networks.solver import Network, nodal_response, transfer
from sublatch.circuit.networks.transfer import UNITY
from sublatch.errors import CircuitError

FREQUENCIES = np.geomspace(0.5, 200e3, 61)

bridged_tee = Network(
    (
        Resistor("R1", ("in", "a"), 10e3),
        Resistor("R2", ("a", "out"), 22e3),
        Capacitor("C1", ("in", "out"), 1e-9),
        Capacitor("C2", ("a", GROUND), 100e-9),
        Resistor("R3", ("out", GROUND), 1e6),
    )
)
gain_stage = Network(
    (
        Capacitor("C1", ("in", "p"), 1e-6),
        Resistor("R1", ("p", GROUND), 1e6),
        OpAmp("U1", plus="p", minus="m", output="out"),
        Resistor("R2", ("out", "m"), 100e3),
        Capacitor("C2", ("out", "m"), 100e-12),
        Resistor("R3", ("m", "g"), 10e3),
        Capacitor("C3", ("g", GROUND), 2.2e-6),
    )
)
NETWORKS = {
    "first order": first_order(resistor_ohm=39e3, capacitor_farad=15e-9),
    "second order": second_order(first_ohm=33e3, second_ohm=47e3, ground_farad=10e-9, feedback_farad=82e-9),
    "third order": third_order(
        first_ohm=33e3,
        second_ohm=27e3,
        third_ohm=39e3,
        first_ground_farad=22e-9,
        feedback_farad=56e-9,
        second_ground_farad=3.3e-9,
    ),
    "bridged tee": bridged_tee,
    "gain stage": gain_stage,
}


def symbolic_response(network, frequencies):
    """Solve Kirchhoff's current law node by node with sympy, op-amps by their own two equations."""
    s = sympy.Symbol("s")
    nodes = sorted({n for p in network.parts for n in p.nodes} - {GROUND})
    volts = {n: sympy.Symbol(f"v_{n}") for n in nodes} | {GROUND: sympy.Integer(0)}
    driven = {p.output for p in network.parts if isinstance(p, OpAmp)} | set(network.inputs)
    equations = [sympy.Eq(volts[n], 1) for n in network.inputs]
    for p in network.parts:
        if isinstance(p, OpAmp):
            equations.append(sympy.Eq(volts[p.plus], volts[p.minus]))
    for n in nodes:
        if n in driven:
            continue
        current = 0
        for p in network.parts:
            if isinstance(p, OpAmp) or n not in p.nodes:
                continue
            other = p.nodes[1] if p.nodes[0] == n else p.nodes[0]
            admittance = 1 / sympy.nsimplify(p.ohm) if isinstance(p, Resistor) else s * sympy.nsimplify(p.farad)
            current += (volts[n] - volts[other]) * admittance
        equations.append(sympy.Eq(current, 0))
    unknown = [volts[n] for n in nodes]
    answer = sympy.solve(equations, unknown, dict=True)[0][volts[network.output]]
    return sympy.lambdify(s, answer, "numpy")(2j * np.pi * frequencies)


@pytest.mark.parametrize("name", NETWORKS)
def test_roots_and_nodal_equations_agree_with_symbols(name):
    network = NETWORKS[name]
    expected = symbolic_response(network, FREQUENCIES)
    np.testing.assert_allclose(nodal_response(network, FREQUENCIES), expected, rtol=1e-9)
    np.testing.assert_allclose(transfer(network).response(FREQUENCIES), expected, rtol=1e-9)


def test_poles_lie_left_and_come_in_conjugate_pairs():
    for network in NETWORKS.values():
        poles = transfer(network).poles
        assert np.all(poles.real < 0)
        np.testing.assert_allclose(np.sort_complex(poles), np.sort_complex(poles.conj()), rtol=1e-9)


def test_the_slowest_pole_sets_the_settling_time():
    assert transfer(first_order(resistor_ohm=1e6, capacitor_farad=1e-6)).settling_s == pytest.approx(1.0)
    assert UNITY.settling_s == 0.0


def test_a_wire_is_a_wire():
    assert transfer(none()).response(123.0) == 1.0
    assert nodal_response(none(), [1.0, 2.0]).tolist() == [1, 1]


def test_a_source_elsewhere_gives_nothing_through_a_wire():
    two = Network((Resistor("R1", ("a", GROUND), 1.0),), inputs=("a", "b"), output="a")
    assert transfer(two, source="b").response(10.0) == 0.0


def test_sources_add_by_superposition():
    """Two equal resistors to a third: a third of each."""
    parts = tuple(Resistor(f"R{n}", (node, "out"), 1e3) for n, node in enumerate(("a", "b", GROUND)))
    network = Network(parts, inputs=("a", "b"))
    assert transfer(network, source="a").response(100.0) == pytest.approx(1 / 3)
    assert transfer(network, source="b").response(100.0) == pytest.approx(1 / 3)


def test_zero_at_zero_frequency():
    """A series capacitor passes nothing at 0 Hz."""
    high_pass = Network((Capacitor("C", ("in", "out"), 1e-6), Resistor("R", ("out", GROUND), 10e3)))
    assert transfer(high_pass).response(0.0) == 0.0


@given(st.floats(-1, 5), st.floats(-1, 1.5), st.floats(2, 6), st.floats(-1.5, 1.5))
def test_second_order_over_all_part_values(log_f0, log_q, log_first, log_ratio):
    """Closed form of SLOA024B from 0.1 Hz to 100 kHz, Q from 0.1 to 30, resistors from 100 Ω to 1 MΩ."""
    first, second = 10**log_first, 10 ** (log_first + log_ratio)
    omega = 2 * np.pi * 10**log_f0
    linear, square = 1 / (omega * 10**log_q), omega**-2
    ground = linear / (first + second)
    feedback = square / (first * second * ground)
    network = second_order(first_ohm=first, second_ohm=second, ground_farad=ground, feedback_farad=feedback)
    s = 2j * np.pi * FREQUENCIES
    expected = 1 / (1 + s * linear + s * s * square)
    np.testing.assert_allclose(transfer(network).response(FREQUENCIES), expected, rtol=1e-6)


@pytest.mark.parametrize(
    ("parts", "message"),
    [
        ((Resistor("R", ("in", "a"), 1e3), Capacitor("C", ("b", "out"), 1e-9)), "voltage of every node"),
        (
            (
                Resistor("R", ("in", "out"), 1e3),
                Resistor("R2", ("out", GROUND), 1e3),
                OpAmp("U", "out", "out", "x"),
                Resistor("R3", ("x", GROUND), 1e3),
            ),
            "feedback",
        ),
        ((Capacitor("C", ("in", "a"), 1e-9), Capacitor("D", ("b", "out"), 1e-9)), "only one part"),
    ],
)
def test_networks_without_an_answer_are_refused(parts, message):
    with pytest.raises(CircuitError, match=message):
        transfer(Network(parts))
    with pytest.raises(CircuitError, match=message):
        nodal_response(Network(parts), [100.0])


def test_an_oscillator_is_refused():
    """A non-inverting integrator with its resistors the wrong way round has its pole on the right."""
    parts = (
        Resistor("R1", ("in", "p"), 10e3),
        Resistor("R2", ("p", "out"), 5e3),
        Capacitor("C1", ("p", GROUND), 1e-9),
        Resistor("R3", ("m", GROUND), 10e3),
        Resistor("R4", ("m", "out"), 10e3),
        OpAmp("U1", plus="p", minus="m", output="out"),
    )
    with pytest.raises(CircuitError, match="stable"):
        transfer(Network(parts))


def test_an_unknown_node_names_the_nearest():
    with pytest.raises(CircuitError, match="did you mean 'out'"):
        transfer(NETWORKS["first order"], output="uot")


def test_placing_renames_everything_but_ground():
    placed = first_order(resistor_ohm=1e3, capacitor_farad=1e-9).placed("x.", {"in": "octave"})
    assert placed.inputs == ("octave",)
    assert placed.output == "x.out"
    assert [part.name for part in placed.parts] == ["x.resistor", "x.capacitor", "x.follower"]
    assert GROUND in placed.parts[1].nodes


@pytest.mark.parametrize("gang_ohm", [0.0, 47.0, 22e3, 100e3])
def test_a_start_resistor_is_in_parallel_with_its_gang(gang_ohm):
    """H(s) = 1 / (1 + 2 s Cg R + s² R² Cg Cf) with R = Re + Rg Rs / (Rg + Rs)."""
    made = limited_second_order(
        gang_ohm=gang_ohm, start_ohm=150e3, end_ohm=2.2e3, ground_farad=12e-9, feedback_farad=22e-9
    )
    ohm = 2.2e3 + gang_ohm * 150e3 / (gang_ohm + 150e3)
    frequencies_hz = np.geomspace(10.0, 20e3, 13)
    s = 2j * np.pi * frequencies_hz
    expected = 1 / (1 + 2 * s * 12e-9 * ohm + s**2 * ohm**2 * 12e-9 * 22e-9)
    np.testing.assert_allclose(nodal_response(made, frequencies_hz), expected, rtol=1e-9)
    np.testing.assert_allclose(transfer(made).response(frequencies_hz), expected, rtol=1e-6)
