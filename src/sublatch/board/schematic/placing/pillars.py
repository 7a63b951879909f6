"""What leads from a node down to ground: one part, or two in series."""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence

from sublatch.board.schematic.placing.chains import nodes_of
from sublatch.board.schematic.placing.names import beside, pin_of
from sublatch.board.schematic.placing.piece import Piece
from sublatch.board.schematic.placing.symbols import Texts, TwoPins, UnplaceableError, hanging
from sublatch.circuit.filters.parts import Amplifier, FilterPart, Point, Side
from sublatch.circuit.networks.elements import GROUND

Pillar = Sequence[TwoPins]


def other_node(part: TwoPins, node: str) -> str:
    """Return the node at a part's other end."""
    return part.between[1] if part.between[0] == node else part.between[0]


def pillars(pool: Mapping[str, FilterPart], node: str, known: Container[str]) -> list[Pillar]:
    """Return all that leads from a node to ground, of parts without places."""
    found: list[Pillar] = []
    for part in pool.values():
        if isinstance(part, Amplifier) or node not in part.between:
            continue
        other = other_node(part, node)
        rest = [one for one in pool.values() if other in nodes_of(one) and one is not part]
        if other == GROUND:
            found.append([part])
        elif len(rest) == 1 and other not in known and other not in ("in", "out"):
            last = rest[0]
            if not isinstance(last, Amplifier) and GROUND in last.between:
                found.append([part, last])
    return found


def hung(pillar: Pillar, node: str, texts: Texts, side: Side) -> tuple[Piece, list[tuple[str, Point]]]:
    """Return a pillar that hangs from the origin, and the nodes within it with their places."""
    piece, depth, top, inner = Piece(), 0.0, node, []
    for part in pillar:
        one, length = hanging(part, top, texts, side)
        piece.add(one.moved(0.0, -depth))
        depth, top = depth + length, other_node(part, top)
        if top != GROUND:
            inner.append((top, (0.0, -depth)))
            places = beside(top, pin_of((part,), top), [((0.0, -depth), 0.0)], level=False)
            name = next((place for place in places if piece.fits(place) == 0), None)
            if name is None:
                raise UnplaceableError(top)
            piece.add(name)
    return piece, inner
