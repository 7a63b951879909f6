"""The part of a network that decides one node's voltage."""

from __future__ import annotations

from collections.abc import Collection

from sublatch.circuit.networks.elements import GROUND, OpAmp, Part
from sublatch.circuit.networks.solver import Network


def upstream(parts: Collection[Part], *, inputs: Collection[str], output: str) -> Network:
    """Return the network of the parts that feed or load a node, from driven nodes on.

    Parameters
    ----------
    parts
        All parts, of several networks one after another too.
    inputs
        Nodes that are driven, whatever part is on them.
    output
        The node that is listened to; of a driven one no part decides.

    Returns
    -------
    Network
        The parts in the order in which they came, and of the driven nodes those that are on them.

    Notes
    -----
    An op-amp's output is a node whose voltage its load does not change, so what hangs on it is left out unless it leads
    back.
    """
    driven = {part.output: part for part in parts if isinstance(part, OpAmp)}
    kept: set[str] = set()
    waiting, seen = [output], {GROUND, *inputs}
    while waiting:
        node = waiting.pop()
        if node in seen:
            continue
        seen.add(node)
        loads = [part for part in parts if not isinstance(part, OpAmp) and node in part.nodes]
        for part in [driven[node]] if node in driven else loads:
            kept.add(part.name)
            waiting += part.nodes
    chosen = tuple(part for part in parts if part.name in kept)
    on_them = {output, *(node for part in chosen for node in part.nodes)}
    return Network(chosen, tuple(name for name in inputs if name in on_them), output)
