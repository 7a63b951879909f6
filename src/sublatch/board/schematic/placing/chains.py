"""The way of the signal through a network: from node to node through parts, op-amps from an input to the output."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from sublatch.circuit.filters.parts import Amplifier, FilterPart, Rheostat
from sublatch.circuit.networks.elements import GROUND

MOST_STEPS = 20000
"""How many steps are taken to find the longest way."""


@dataclass(frozen=True)
class Chain:
    """Nodes from left to right, and the part between each and the next."""

    nodes: tuple[str, ...]
    parts: tuple[FilterPart, ...]

    @property
    def backwards(self) -> Chain:
        """The chain from its other end."""
        return Chain(self.nodes[::-1], self.parts[::-1])

    @property
    def is_passive(self) -> bool:
        """Whether no op-amp is in it, so that it may be drawn either way."""
        return not any(isinstance(part, Amplifier) for part in self.parts)


def role_of(part: FilterPart) -> str:
    """Return what tells a part from the others."""
    return part.gang if isinstance(part, Rheostat) else part.role


def nodes_of(part: FilterPart) -> tuple[str, ...]:
    """Return the nodes that a part joins."""
    return (part.plus, part.minus, part.output) if isinstance(part, Amplifier) else part.between


def main_chain(parts: Sequence[FilterPart], length: Callable[[FilterPart], float]) -> Chain | None:
    """Return the longest way from ``in`` to ``out`` that meets no node twice; None where there is none.

    Longest by parts, then by their lengths as drawn, so that what runs beside it has room above. An
    op-amp's output is come to by the op-amp alone. Of large networks it is the longest of the first `MOST_STEPS`.
    """
    driven, steps = _driven(parts), 0
    best: tuple[int, float, Chain] | None = None
    waiting = [Chain(("in",), ())]
    while waiting and steps < MOST_STEPS:
        way, steps = waiting.pop(), steps + 1
        if way.nodes[-1] == "out":
            found = len(way.parts), sum(map(length, way.parts)), way
            best = found if best is None or found[:2] > best[:2] else best
            continue
        onward = [(part, node) for part, node in _steps(parts, way.nodes[-1], driven) if node not in way.nodes]
        waiting += [Chain((*way.nodes, node), (*way.parts, part)) for part, node in reversed(onward)]
    return None if best is None else best[2]


def branch(parts: Sequence[FilterPart], known: Collection[str], every: Sequence[FilterPart]) -> Chain | None:
    """Return a way through nodes that are not yet known.

    Parameters
    ----------
    parts
        Parts without places.
    known
        Nodes that have places, from left to right.
    every
        All parts.

    Returns
    -------
    Chain or None
        The shortest from a known node to another; else the longest to a dead end; None where no part goes on.
    """
    there = {node for node in known if node != GROUND}

    def is_closed(way: Chain) -> bool:
        return way.nodes[-1] in there and len(way.nodes) > 2 and way.nodes[-1] != way.nodes[0]

    driven = _driven(every)
    ways = _ways(parts, known, driven=driven - there, through=there)
    closed = next((way for way in ways if is_closed(way)), None)
    if closed is not None:
        return closed
    dead = [way for way in _ways(parts, known, driven=driven, through=there) if way.nodes[-1] not in there]
    return max(dead, key=lambda way: len(way.nodes), default=None)


def _driven(parts: Iterable[FilterPart]) -> set[str]:
    """Return the nodes that op-amps drive."""
    return {part.output for part in parts if isinstance(part, Amplifier)}


def _steps(parts: Iterable[FilterPart], node: str, driven: Collection[str]) -> Iterator[tuple[FilterPart, str]]:
    """Yield each part that leads on from a node, and where to."""
    for part in parts:
        if isinstance(part, Amplifier):
            if node in (part.plus, part.minus) and node != part.output:
                yield part, part.output
        elif node in part.between:
            other = part.between[1] if part.between[0] == node else part.between[0]
            if other not in (GROUND, node) and other not in driven:
                yield part, other


def _ways(
    parts: Sequence[FilterPart], starts: Iterable[str], *, driven: Collection[str], through: Collection[str] = ()
) -> Iterator[Chain]:
    """Yield ways in the order of their length, one to each node; known nodes are ends, and may come once a start."""
    waiting = deque(Chain((node,), ()) for node in starts if node != GROUND)
    seen = set(starts)
    while waiting:
        way = waiting.popleft()
        if len(way.nodes) > 1:
            yield way
            if way.nodes[-1] in through:
                continue
        for part, node in _steps(parts, way.nodes[-1], driven):
            if part in way.parts or (node in seen and node not in through):
                continue
            seen.add(node)
            waiting.append(Chain((*way.nodes, node), (*way.parts, part)))
