"""Whether two netlists are the same up to designators and names of nets: colour refinement with backtracking.

Independent of the package but for the records that it reads. The refinement is that of B. Weisfeiler and A. Lehman
(1968, from memory); a bijection that it ends in is checked edge by edge, so that an answer of yes is proven.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable
from typing import Any

Vertex = tuple[int, str, str]
Graph = dict[Vertex, list[tuple[str, Vertex]]]
ALIKE = {"a": "end", "b": "end"}
"""Pins that may be exchanged, of resistors and capacitors without a polarity."""


def same_netlist(one: Iterable[Any], other: Iterable[Any]) -> bool:
    """Return whether there is a bijection of components and nets that keeps kinds, values, pots and pins."""
    labels: dict[Vertex, Hashable] = {}
    graph: Graph = defaultdict(list)
    for side, parts in enumerate((one, other)):
        for part in parts:
            vertex = (side, "part", part.reference)
            assert vertex not in labels, f"{part.reference} stands there twice"
            labels[vertex] = _label(part)
            for pin, net in part.pins:
                end = (side, "net", net)
                labels.setdefault(end, "net")
                name = ALIKE.get(pin, pin) if part.kind in ("resistor", "capacitor") else pin
                graph[vertex].append((name, end))
                graph[end].append((name, vertex))
    start = {vertex: repr(label) for vertex, label in labels.items()}
    return _search(graph, start)


def _label(part: Any) -> Hashable:
    """Return what a component is, whatever it is called and wherever it is."""
    pot = part.pot
    track = None if pot is None else (pot.value, pot.taper, pot.taper != "linear" and pot.midpoint)
    return (part.kind, part.value, part.amount, track, part.control)


def _search(graph: Graph, colours: dict[Vertex, str]) -> bool:
    """Return whether vertices can be paired off, colours refined and ties broken by trial."""
    colours = _refined(graph, colours)
    sides = [Counter(colour for vertex, colour in colours.items() if vertex[0] == side) for side in (0, 1)]
    if sides[0] != sides[1]:
        return False
    several = [colour for colour, count in sides[0].items() if count > 1]
    if not several:
        return _is_bijection(graph, colours)
    colour = min(several, key=lambda one: (sides[0][one], one))
    first = min(vertex for vertex in colours if vertex[0] == 0 and colours[vertex] == colour)
    partners = sorted(vertex for vertex in colours if vertex[0] == 1 and colours[vertex] == colour)
    return any(_search(graph, colours | {first: "tie", partner: "tie"}) for partner in partners)


def _refined(graph: Graph, colours: dict[Vertex, str]) -> dict[Vertex, str]:
    """Return colours that tell apart all that have neighbours of different colours."""
    count = 0
    while len(set(colours.values())) > count:
        count = len(set(colours.values()))
        told = {
            vertex: (colour, tuple(sorted((pin, colours[other]) for pin, other in graph[vertex])))
            for vertex, colour in colours.items()
        }
        order = {signature: str(number) for number, signature in enumerate(sorted(set(told.values())))}
        colours = {vertex: order[signature] for vertex, signature in told.items()}
    return colours


def _is_bijection(graph: Graph, colours: dict[Vertex, str]) -> bool:
    """Return whether vertices of one colour have the same edges, colour by colour."""
    partner = {colours[vertex]: vertex for vertex in colours if vertex[0] == 1}
    for vertex in (vertex for vertex in colours if vertex[0] == 0):
        here = Counter((pin, partner[colours[other]]) for pin, other in graph[vertex])
        if here != Counter(graph[partner[colours[vertex]]]):
            return False
    return True
