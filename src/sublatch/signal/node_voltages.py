"""A take as far as the octave stage, and the voltages it makes at any node after that.

All that follows the octave stage is linear until the supply limits it, so that knobs, filters and pots can be tried
without detecting or switching again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sublatch.arrays import Signal
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import transfer
from sublatch.circuit.signal_path import output_network
from sublatch.signal.filtering import fixed as filters
from sublatch.takes.take import Take

BUFFER = "output.out"
"""Node of the output buffer's output."""


@dataclass(frozen=True, eq=False)
class OutputSources:
    """What a take makes of the two sources that the rest of a circuit is driven by; from `chain.output_sources`.

    Attributes
    ----------
    take
        The take.
    octave
        The octave stage's output in volts (n,).
    direct
        The input follower's output in volts (n,).
    """

    take: Take
    octave: Signal
    direct: Signal


def node_voltages(source: OutputSources, circuit: Circuit, nodes: Sequence[str] = (BUFFER,)) -> list[Signal]:
    """Return the voltage of nodes after the octave stage, as if no supply limited it.

    Parameters
    ----------
    source
        From `chain.output_sources`, with the same input, detector, divider and octave stage.
    circuit
        The circuit, with its knobs and switches where they shall be.
    nodes
        Names of nodes of `output_network`; the output buffer's when not given.

    Returns
    -------
    list of NDArray
        Volts (n,) from the bias for each node.

    Raises
    ------
    CircuitError
        When the volume knob stands at unity and has no number yet.
    """
    network = output_network(circuit)
    sources, paths = [source.octave], [[transfer(network, source="octave", output=node)] for node in nodes]
    if circuit.knobs.direct > 0.0:
        sources.append(source.direct)
        for node, path in zip(nodes, paths, strict=True):
            path.append(transfer(network, source="direct", output=node))
    return filters.apply(sources, paths, sample_rate=source.take.sample_rate)
