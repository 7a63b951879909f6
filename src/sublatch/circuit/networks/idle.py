"""Idle voltages: where a network's nodes rest when its op-amps are not ideal and nothing sounds.

An op-amp's minus input rests its offset above its plus input, and a bias current flows into each of its inputs. Both
are constant, so the network's equations at 0 Hz hold for them as for any source.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from sublatch.circuit.networks.elements import GROUND, OpAmp
from sublatch.circuit.networks.solver import Network, matrices
from sublatch.errors import CircuitError

STILL_RAD_S = 1e-7
"""As good as no frequency; a node that only capacitors reach still has an answer there."""
MOST_V = 1e4
"""An idle voltage above it means that a current has nowhere to go but into a capacitor."""


def idle_voltages(
    network: Network,
    *,
    offset_v: Mapping[str, float],
    bias_a: Mapping[str, float],
    driven_v: Mapping[str, float] | None = None,
) -> dict[str, float]:
    """Return the voltage of every node of a network at rest.

    Parameters
    ----------
    network
        The parts and how they are joined.
    offset_v
        How far the minus input of each op-amp rests above its plus input, in volts, by the op-amp's name; those not
        named are ideal.
    bias_a
        What flows from outside the network's resistors into nodes, in amperes **out of** the node, by the node's name:
        an op-amp's bias current flows out of the node on its input.
    driven_v
        Voltages of the network's inputs, by their names; 0 where not given.

    Returns
    -------
    dict
        Volts from the bias by node.

    Raises
    ------
    CircuitError
        When a bias current has no way to go but into a capacitor.
    """
    conductance, susceptance, _, row = matrices(network, network.inputs[0])
    sources = np.zeros(len(conductance))
    op_amps = [part for part in network.parts if isinstance(part, OpAmp)]
    for node, current in bias_a.items():
        if node != GROUND:
            sources[row[node]] -= current
    for place, op_amp in enumerate(op_amps, len(row)):
        sources[place] = -offset_v.get(op_amp.name, 0.0)
    for place, name in enumerate(network.inputs, len(row) + len(op_amps)):
        sources[place] = (driven_v or {}).get(name, 0.0)
    solved = np.linalg.solve(conductance + STILL_RAD_S * susceptance, sources)
    for node, place in row.items():
        if abs(solved[place]) > MOST_V:
            raise CircuitError(f"a bias current must have a way to a source, and at node {node!r} it has none")
    return {GROUND: 0.0} | {node: float(solved[place]) for node, place in row.items()}
