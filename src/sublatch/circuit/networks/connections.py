"""Whether the parts of a network hang together: loose ends, nodes without a voltage, op-amps without feedback."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable

from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Part, Resistor
from sublatch.circuit.networks.solver import Network
from sublatch.errors import CircuitError, nearest_hint

Kinds = tuple[type[Resistor] | type[Capacitor], ...]
ANY: Kinds = (Resistor, Capacitor)
DIRECT: Kinds = (Resistor,)
"""What direct current passes."""
MEANT_GROUND = {"gnd", "0", "0v", "ground", "earth"}
"""Names by which others call ground; in a circuit file it is 'ground' alone."""


def check_connections(network: Network) -> None:
    """Refuse a network whose parts do not hang together, by the name of the part or node.

    Parameters
    ----------
    network
        The parts and how they are joined.

    Raises
    ------
    CircuitError
        When a part has a loose end or joins a node to itself, two op-amps drive one node or one drives a node that has
        its voltage already, a node has no voltage or none at 0 Hz, or an op-amp has no feedback or none at 0 Hz.
    """
    op_amps = [part for part in network.parts if isinstance(part, OpAmp)]
    _check_each(network, op_amps)
    _check_ends(network)
    given = {GROUND, *network.inputs, *(op_amp.output for op_amp in op_amps)}
    _check_voltages(network, given)
    for op_amp in op_amps:
        _check_feedback(network, op_amp, given)


def _check_each(network: Network, op_amps: Iterable[OpAmp]) -> None:
    """Refuse parts that are joined to themselves, and outputs that work against something."""
    drivers = dict.fromkeys(network.inputs, "the input") | {GROUND: "ground"}
    for part in network.parts:
        if not isinstance(part, OpAmp) and part.nodes[0] == part.nodes[1]:
            raise CircuitError(f"a part must join two nodes, got {part.name!r} with both ends at {part.nodes[0]!r}")
    for op_amp in op_amps:
        if op_amp.plus == op_amp.minus:
            raise CircuitError(f"an op-amp needs two inputs, got {op_amp.name!r} with both at {op_amp.plus!r}")
        if op_amp.output in drivers:
            raise CircuitError(
                f"an op-amp's output needs a node of its own, got {op_amp.name!r} with its output at "
                f"{op_amp.output!r}, which {drivers[op_amp.output]} holds already"
            )
        drivers[op_amp.output] = f"op-amp {op_amp.name!r}"


def _check_ends(network: Network) -> None:
    """Refuse a part with an end that nothing else is on, and other names for ground."""
    uses = Counter(node for part in network.parts for node in set(part.nodes))
    for part in network.parts:
        for node in part.nodes:
            if node != GROUND and node.casefold() in MEANT_GROUND:
                raise CircuitError(f"ground is written {GROUND!r}, got {node!r} at part {part.name!r}")
            if uses[node] == 1 and node not in {GROUND, network.output, *network.inputs}:
                hint = nearest_hint(node, [other for other in uses if other != node] + [GROUND])
                raise CircuitError(f"part {part.name!r} has a loose end: node {node!r} has only one part on it{hint}")


def _check_voltages(network: Network, given: Collection[str]) -> None:
    """Refuse a node whose voltage nothing settles, and one that no direct current reaches."""
    nodes = dict.fromkeys(node for part in network.parts for node in part.nodes)
    for kinds, wanted in ((ANY, "a part"), (DIRECT, "a resistor, for direct current,")):
        reached = _reached(network.parts, given, kinds)
        left = [node for node in nodes if node not in reached]
        if left:
            names = " and ".join(repr(node) for node in left[:2])
            ends = "'in', 'ground' or an op-amp's output"
            raise CircuitError(f"{wanted} must lead from every node to {ends}, and none does from {names}")


def _check_feedback(network: Network, op_amp: OpAmp, given: Collection[str]) -> None:
    """Refuse an op-amp whose output acts on neither of its inputs, or not at 0 Hz."""
    for kinds, fault in (
        (ANY, "has no feedback: nothing leads from its output to its inputs, and it would go to a supply rail"),
        (
            DIRECT,
            "has no feedback at 0 Hz: it is an integrator, and would drift to a supply rail; "
            "is a resistor missing beside the capacitor from its output to its minus input?",
        ),
    ):
        acted_on = {op_amp.output}
        while True:
            reached = _reached(network.parts, acted_on, kinds, stop=given)
            wider = reached | {
                part.output for part in network.parts if isinstance(part, OpAmp) and {part.plus, part.minus} & reached
            }
            if wider == acted_on:
                break
            acted_on = wider
        if not {op_amp.plus, op_amp.minus} & acted_on:
            raise CircuitError(f"op-amp {op_amp.name!r} {fault}")


def _reached(parts: Iterable[Part], start: Collection[str], kinds: Kinds, *, stop: Collection[str] = ()) -> set[str]:
    """Return the nodes that parts of some kinds lead to, not past nodes whose voltage is given."""
    pairs = [part.nodes for part in parts if not isinstance(part, OpAmp) and isinstance(part, kinds)]
    reached, ahead = set(start), list(start)
    while ahead:
        node = ahead.pop()
        for a, b in (pair for pair in pairs if node in pair):
            other = b if node == a else a
            if other not in reached and other not in stop:
                reached.add(other)
                ahead.append(other)
    return reached
