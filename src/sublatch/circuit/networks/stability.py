"""Whether a network rests: its poles with op-amps that are neither infinitely fast nor blind to sign.

An ideal op-amp holds its inputs at one voltage however they are joined, so that exchanged inputs change nothing. A real
one has a finite gain with a sign, A(s) = 1 / (1 / A0 + s / ω0), ω0 = 2π times its gain-bandwidth product; with that,
feedback that drives it away has a pole in the right half-plane.

Source: the single-pole model of an operational amplifier, as in any handbook of op-amps (from memory).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np

from sublatch.arrays import Complex
from sublatch.circuit.networks.elements import GROUND, OpAmp
from sublatch.circuit.networks.solver import Network, finite_roots, matrices, transfer
from sublatch.errors import CircuitError

DC_GAIN = 1e5
"""A0, 100 dB: what general-purpose op-amps have (data sheets of the 358 and 072 types, from memory)."""
GAIN_BANDWIDTHS_HZ = (1e6, 10e6)
"""A slow and a fast op-amp that suit a pedal: the 358 and 5532 types (data sheets, from memory)."""
ON_THE_AXIS = 1e-9
"""A pole whose real part is a smaller share of its size lies on the imaginary axis, as far as the digits go."""
MOST_EXCHANGED = 2
"""Op-amps that are taken to be exchanged at once in the search for those that are."""
AUDIBLE_HZ = np.geomspace(10.0, 20e3, 31)
LEAST_GAIN = 1e-12
"""A network that passes less at every audible frequency passes nothing (−240 dB)."""


def check_stability(network: Network) -> None:
    """Refuse a network that would not rest, or that lets nothing through.

    Parameters
    ----------
    network
        The parts and how they are joined, each op-amp with an output node of its own.

    Raises
    ------
    CircuitError
        When an op-amp's inputs are exchanged, the network would oscillate or is held at a supply rail, it has a pole at
        0, or nothing reaches its output.
    """
    for gain_bandwidth_hz in GAIN_BANDWIDTHS_HZ:
        growing = _growing(real_poles(network, gain_bandwidth_hz=gain_bandwidth_hz))
        if len(growing):
            raise CircuitError(_why(network, growing, gain_bandwidth_hz))
    ideal = transfer(network)
    if np.any(ideal.poles == 0.0):
        raise CircuitError(
            f"{_drifting(network)} would drift to a supply rail: the network has a pole at 0 (an integrator)"
        )
    if np.max(np.abs(ideal.response(AUDIBLE_HZ))) < LEAST_GAIN:
        raise CircuitError(f"a filter must let something through, and nothing gets from 'in' to {network.output!r}")


def real_poles(network: Network, *, gain_bandwidth_hz: float) -> Complex:
    """Return a network's poles in rad/s with single-pole op-amps.

    Parameters
    ----------
    network
        The parts and how they are joined, each op-amp with an output node of its own.
    gain_bandwidth_hz
        Frequency at which the op-amps' gain has fallen to 1.

    Notes
    -----
    An op-amp obeys v⁺ − v⁻ = (1 / A0 + s / ω0) v. It and the sources give whatever current they must, so the current
    laws of their nodes, and these currents, are left out; sources are at 0 V.
    """
    conductance, susceptance, _, row = matrices(network, network.inputs[0])
    op_amps = [part for part in network.parts if isinstance(part, OpAmp)]
    for place, op_amp in enumerate(op_amps, len(row)):
        conductance[place, row[op_amp.output]] -= 1.0 / DC_GAIN
        susceptance[place, row[op_amp.output]] -= 1.0 / (2 * np.pi * gain_bandwidth_hz)
    held = {*network.inputs, *(op_amp.output for op_amp in op_amps)}
    rows = [at for name, at in row.items() if name not in held] + [len(row) + n for n in range(len(op_amps))]
    columns = [at for name, at in row.items() if name not in network.inputs]
    kept = np.ix_(rows, columns)
    scale = np.maximum(np.abs(conductance[kept]).max(axis=1, keepdims=True, initial=1e-300), 1e-300)
    return finite_roots(conductance[kept] / scale, susceptance[kept] / scale) if rows else np.zeros(0, complex)


def _growing(poles: Complex) -> Complex:
    """Return the poles in the right half-plane."""
    return np.asarray(poles[poles.real > ON_THE_AXIS * np.abs(poles)])


def _why(network: Network, growing: Complex, gain_bandwidth_hz: float) -> str:
    """Return what is wrong with a network that does not rest: exchanged inputs, or else what it would do."""
    names = [part.name for part in network.parts if isinstance(part, OpAmp)]
    for count in range(1, min(len(names), MOST_EXCHANGED) + 1):
        for some in combinations(names, count):
            turned = _exchanged(network, some)
            if all(not len(_growing(real_poles(turned, gain_bandwidth_hz=fast))) for fast in GAIN_BANDWIDTHS_HZ):
                if count == 1:
                    return f"op-amp {some[0]!r}: its inputs are exchanged: feedback would hold it at a supply rail"
                who = "op-amps " + " and ".join(repr(name) for name in some)
                return f"{who}: their inputs are exchanged: feedback would hold them at a supply rail"
    fastest = growing[np.argmax(growing.real)]
    if abs(fastest.imag) > abs(fastest.real):
        return (
            f"a network must be stable, and with op-amps of {gain_bandwidth_hz / 1e6:g} MHz gain-bandwidth this one "
            f"would oscillate, at about {abs(fastest.imag) / (2 * np.pi):.3g} Hz"
        )
    return f"a network must be stable, and feedback would hold {_drifting(network)} at a supply rail"


def _exchanged(network: Network, names: tuple[str, ...]) -> Network:
    """Return the network with the inputs of some op-amps exchanged."""
    parts = tuple(
        replace(part, plus=part.minus, minus=part.plus) if isinstance(part, OpAmp) and part.name in names else part
        for part in network.parts
    )
    return replace(network, parts=parts)


def _drifting(network: Network) -> str:
    """Return which op-amp moves the most in what is nearest to the network's own motion at 0 Hz."""
    outputs = {part.output: part.name for part in network.parts if isinstance(part, OpAmp)}
    if not outputs:
        return "the output"
    conductance, _, _, row = matrices(network, network.inputs[0])
    volts = np.abs(np.linalg.svd(conductance)[2][-1])
    most = max(outputs, key=lambda node: float(volts[row[node]]) if node != GROUND else 0.0)
    return f"op-amp {outputs[most]!r}"
