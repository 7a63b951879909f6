"""A take as far as the octave stage, and the voltages it makes at any node after that.

All that follows the octave stage is linear until the supply limits it, so that knobs, filters and pots can be tried
without detecting or switching again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sublatch.arrays import Signal
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import transfer
from sublatch.circuit.signal_path import output_network
from sublatch.signal.filtering import fixed as filters
from sublatch.takes.take import Take

BUFFER = "output.out"
"""Node of the output buffer's output."""
MOST_BYTES = 128 << 20
"""Of outputs that are worked out together."""


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
    return _made(source, [(circuit, node) for node in nodes])


def output_voltages(source: OutputSources, circuits: Sequence[Circuit]) -> Iterator[Signal]:
    """Yield the output buffer's voltage (n,) in one circuit after another, as `node_voltages` has it.

    Parameters
    ----------
    source
        From `chain.output_sources`, with the same input, detector, divider and octave stage as all of them.
    circuits
        The circuits. As many as fit into 128 MB are worked out together, which spares the sources' spectra.
    """
    together = max(1, MOST_BYTES // max(1, source.octave.nbytes))
    for first in range(0, len(circuits), together):
        yield from _made(source, [(circuit, BUFFER) for circuit in circuits[first : first + together]])


def _made(source: OutputSources, asked: Sequence[tuple[Circuit, str]]) -> list[Signal]:
    """Return the voltages (n,) of nodes, each in its circuit, all at once."""
    sources = {"octave": source.octave}
    if any(circuit.knobs.direct > 0.0 for circuit, _ in asked):
        sources["direct"] = source.direct
    networks = {id(circuit): output_network(circuit) for circuit, _ in asked}
    paths = [[transfer(networks[id(circuit)], source=name, output=node) for name in sources] for circuit, node in asked]
    return filters.apply(list(sources.values()), paths, sample_rate=source.take.sample_rate)
