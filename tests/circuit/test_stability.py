"""Whether networks rest, against closed forms and against symbolic equations solved in many digits."""

import numpy as np
import pytest
import sympy
from pydantic import TypeAdapter

from filter_networks import first_order
from own_networks import INVERTING, SALLEN_KEY, STATE_VARIABLE, SWEPT, WORKING, capacitor, exchanged, op_amp, resistor
from sublatch.circuit.components.preferred import values_between
from sublatch.circuit.filters.first_order import FirstOrder
from sublatch.circuit.filters.own_network import OwnNetwork, OwnPart
from sublatch.circuit.filters.parts import Amplifier, CapacitorPair, FilterPart, FixedCapacitor, FixedResistor
from sublatch.circuit.filters.second_order import SecondOrder
from sublatch.circuit.filters.swept_second_order import SweptSecondOrder
from sublatch.circuit.filters.third_order import ThirdOrder
from sublatch.circuit.load import load_circuit
from sublatch.circuit.networks.elements import GROUND, OpAmp, Resistor
from sublatch.circuit.networks.solver import Network, finite_roots, transfer
from sublatch.circuit.networks.stability import DC_GAIN, GAIN_BANDWIDTHS_HZ, real_poles
from sublatch.errors import CircuitError

HOWLAND = [  # an integrator whose feedback at 0 Hz is as much positive as negative
    *(resistor("R1", "10k", "in", "p"), resistor("R2", "10k", "p", "out"), capacitor("C1", "10n", "p", "ground")),
    *(resistor("R3", "10k", "m", "ground"), resistor("R4", "10k", "m", "out"), op_amp("U1", "p", "m", "out")),
]
PHASE_SHIFT = [  # three RC sections in an inverting amplifier's feedback: it needs a gain of 29 and has 100
    *(resistor("R0", "1M", "in", "m"), resistor("R3", "10k", "b", "m"), resistor("R4", "1M", "m", "out")),
    *(capacitor("C1", "10n", "out", "a"), resistor("R1", "10k", "a", "ground"), capacitor("C2", "10n", "a", "c")),
    *(resistor("R2", "10k", "c", "ground"), capacitor("C3", "10n", "c", "b"), op_amp("U1", "ground", "m", "out")),
]


def network_of(parts):
    """Return listed parts as a network, whether it works or not."""
    listed = TypeAdapter(tuple[OwnPart, ...]).validate_python(tuple(parts))
    return OwnNetwork.model_construct(parts=listed).network(tone=5.0, peak="flat")


def symbolic_poles(network, gain_bandwidth_hz):
    """Return the roots of the determinant of Kirchhoff's current laws, each op-amp by its own equation, in rad/s."""
    p = sympy.Symbol("p")
    s = 100_000 * p  # so that the roots are near 1
    nodes = sorted({n for part in network.parts for n in part.nodes} - {GROUND, *network.inputs})
    volts = {n: sympy.Symbol(f"v_{n}") for n in nodes} | dict.fromkeys((GROUND, *network.inputs), sympy.Integer(0))
    driven = {part.output: part for part in network.parts if isinstance(part, OpAmp)}
    laws = []
    for n in nodes:
        if n in driven:
            slowness = 1 / sympy.Rational(DC_GAIN) + s / sympy.Rational(2 * np.pi * gain_bandwidth_hz)
            laws.append(volts[n] * slowness - volts[driven[n].plus] + volts[driven[n].minus])
            continue
        law = sympy.Integer(0)
        for part in network.parts:
            if not isinstance(part, OpAmp) and n in part.nodes:
                other = part.nodes[1] if part.nodes[0] == n else part.nodes[0]
                admittance = (
                    1 / sympy.Rational(part.ohm) if isinstance(part, Resistor) else s * sympy.Rational(part.farad)
                )
                law += (volts[n] - volts[other]) * admittance
        laws.append(law)
    matrix = sympy.Matrix([[sympy.expand(law).coeff(volts[n]) for n in nodes] for law in laws])
    polynomial = sympy.Poly(matrix.det(method="berkowitz"), p, domain="QQ")
    return 1e5 * np.array([complex(root) for root in polynomial.nroots(n=30, maxsteps=500)])


@pytest.mark.parametrize("gain_bandwidth_hz", GAIN_BANDWIDTHS_HZ)
@pytest.mark.parametrize("name", [name for name in WORKING if name not in {"ladder", "high-pass"}])
@pytest.mark.parametrize("turned", [False, True])
def test_poles_with_real_op_amps_are_those_of_the_symbolic_equations(name, turned, gain_bandwidth_hz):
    network = network_of(exchanged(WORKING[name], "U1") if turned else WORKING[name])
    expected = symbolic_poles(network, gain_bandwidth_hz)
    found = real_poles(network, gain_bandwidth_hz=gain_bandwidth_hz)
    assert len(found) == len(expected)
    for pole in expected:
        assert np.min(np.abs(found - pole)) < 1e-6 * abs(pole)
    assert np.any(expected.real > 0) == turned


@pytest.mark.parametrize("gain_bandwidth_hz", GAIN_BANDWIDTHS_HZ)
def test_a_follower_settles_at_its_gain_bandwidth_and_an_exchanged_one_runs_away_as_fast(gain_bandwidth_hz):
    """With v (1 / A0 + s / ω0) = ∓v: a pole at −ω0 (1 + 1 / A0), and at +ω0 (1 − 1 / A0) with the inputs exchanged."""
    omega = 2 * np.pi * gain_bandwidth_hz
    network = first_order(resistor_ohm=39e3, capacitor_farad=15e-9)
    *passive, follower = network.parts
    turned = Network((*passive, OpAmp("U1", plus=follower.minus, minus=follower.plus, output="out")))
    low = -1 / (39e3 * 15e-9)
    poles = [np.sort(real_poles(one, gain_bandwidth_hz=gain_bandwidth_hz).real) for one in (network, turned)]
    np.testing.assert_allclose(poles[0], [-omega * (1 + 1 / DC_GAIN), low], rtol=1e-9)
    np.testing.assert_allclose(poles[1], [low, omega * (1 - 1 / DC_GAIN)], rtol=1e-9)


def refused(parts):
    with pytest.raises(CircuitError) as caught:
        load_circuit("gated-open", changes={"filter": {"kind": "network", "parts": parts}})
    return str(caught.value)


@pytest.mark.parametrize("parts", [SALLEN_KEY, INVERTING, SWEPT, WORKING["band-pass"], WORKING["twin T"]])
def test_exchanged_inputs_are_refused_by_the_op_amps_name(parts):
    assert "op-amp 'U1': its inputs are exchanged: feedback would hold it at a supply rail" in refused(
        exchanged(parts, "U1")
    )


@pytest.mark.parametrize("name", ["U1", "U2", "U3"])
def test_of_three_op_amps_the_exchanged_one_is_named(name):
    assert f"op-amp {name!r}: its inputs are exchanged" in refused(exchanged(STATE_VARIABLE, name))


def test_two_exchanged_op_amps_are_both_named():
    told = refused(exchanged(STATE_VARIABLE, "U2", "U3"))
    assert "op-amps 'U2' and 'U3': their inputs are exchanged" in told


def test_an_oscillator_is_refused_with_its_frequency():
    """Three equal high-pass sections turn the phase by 180° at 1 / (2π √6 R C) = 650 Hz; too much gain shifts it."""
    told = refused(PHASE_SHIFT)
    assert "would oscillate, at about" in told
    hertz = float(told.partition("about ")[2].split()[0])
    assert 0.3 * 650 < hertz < 1.5 * 650


def test_an_integrator_with_balanced_feedback_is_refused_by_the_op_amps_name():
    told = refused(HOWLAND)
    assert "op-amp 'U1' would drift to a supply rail" in told or "would hold op-amp 'U1' at a supply rail" in told


def test_a_filter_that_lets_nothing_through_is_refused():
    parts = [resistor("R1", "10k", "in", "ground"), resistor("R2", "10k", "out", "ground")]
    assert "a filter must let something through" in refused(parts)


def test_a_network_is_judged_over_the_whole_travel_of_the_knob():
    """Positive feedback through a gang: R / (R + P) of the output comes back, against a half to the minus input."""
    fixed = [resistor("R1", "20k", "in", "p"), resistor("R2", "10k", "m", "ground"), resistor("R3", "10k", "m", "out")]
    gang = {"part": "rheostat", "name": "P1", "pot": {"value": "100k"}, "end_resistor": "1k", "between": ["p", "out"]}
    changes = {"filter": {"kind": "network", "parts": [*fixed, gang, op_amp("U1", "p", "m", "out")]}}
    with pytest.raises(CircuitError, match=r"U1.*with the tone knob at 9"):
        load_circuit("gated-open", changes=changes | {"knobs.tone": 0})


@pytest.mark.parametrize("peak", ["flat", "peaked"])
def test_a_network_is_judged_in_both_positions_of_the_switch(peak):
    """A Sallen-Key low-pass with a gain of 2 and equal resistors oscillates where Cf > 2 Cg (SLOA024B, gain K)."""
    feedback = {"part": "switched-capacitor", "name": "C2", "value": {"flat": "22n", "peaked": "22n"} | {peak: "27n"}}
    parts = [
        *(*SALLEN_KEY[:3], feedback | {"between": ["a", "out"]}, op_amp("U1", "b", "m", "out")),
        *(resistor("R3", "10k", "m", "out"), resistor("R4", "10k", "m", "ground")),
    ]
    for other in ("flat", "peaked"):
        with pytest.raises(CircuitError, match=rf"would oscillate, at about .* Hz \(with the peak switch at {peak}\)"):
            load_circuit("gated-open", changes={"filter": {"kind": "network", "parts": parts}, "switches.peak": other})


READY_MADE = (FirstOrder, SecondOrder, ThirdOrder, SweptSecondOrder)


def drawn_values(rng, data):
    """Return a kind's settings with every resistor from E24 and every capacitor from E12, over all decades sold."""
    ohms, farads = values_between(1e3, 1e6, "E24"), values_between(100e-12, 10e-6, "E12")
    drawn = {}
    for key, value in data.items():
        if isinstance(value, dict):
            drawn[key] = drawn_values(rng, value)
        elif isinstance(value, float) and (
            "resistor" in key or "capacitor" in key or key in {"flat", "peaked", "value"}
        ):
            drawn[key] = float(rng.choice(ohms if value > 1.0 else farads))
        else:
            drawn[key] = value
    return drawn


def as_listed(part: FilterPart) -> dict[str, object]:
    """Return a part as a circuit file would list it."""
    if isinstance(part, Amplifier):
        return op_amp(part.role, part.plus, part.minus, part.output)
    if isinstance(part, FixedResistor):
        return resistor(part.role, part.ohm, *part.between)
    if isinstance(part, FixedCapacitor):
        return capacitor(part.role, part.farad, *part.between)
    if isinstance(part, CapacitorPair):
        value = part.value.model_dump()
        return {"part": "switched-capacitor", "name": part.role, "value": value, "between": part.between}
    pot = part.pot.model_dump()
    return {"part": "rheostat", "name": part.end, "pot": pot, "end_resistor": part.end_ohm, "between": part.between}


@pytest.mark.parametrize("kind", READY_MADE)
def test_ready_made_filters_of_any_values_that_are_sold_would_be_taken(kind, rng):
    """A follower of less than unity gain around passive parts rests whatever they are."""
    for _ in range(25):
        chosen = kind.model_validate(drawn_values(rng, kind().model_dump()))
        listed = [as_listed(part) for part in chosen.wired.parts]
        load_circuit("gated-open", changes={"filter": {"kind": "network", "parts": listed}})


def test_slow_poles_keep_their_digits():
    """100 MΩ and 0.1 F: 1 / (R C) is 1e-7 rad/s, far below where poles are looked for first."""
    slow = first_order(resistor_ohm=100e6, capacitor_farad=0.1)
    assert transfer(slow).poles == pytest.approx([-1e-7], rel=1e-9)
    assert abs(transfer(slow).response(0.0)) == pytest.approx(1.0)


def test_a_root_at_zero_is_exactly_zero():
    """(G + s C) with two equal rows in G."""
    conductance = np.array([[1e-4, -1e-4], [-1e-4, 1e-4]])
    susceptance = np.diag([1e-9, 2e-9])
    roots = np.sort(finite_roots(conductance, susceptance).real)
    assert roots[-1] == 0.0
    assert roots[0] == pytest.approx(-1e-4 / 1e-9 - 1e-4 / 2e-9)
