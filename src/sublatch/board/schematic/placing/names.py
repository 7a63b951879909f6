"""The user's names of nodes, each beside its wire where there is room."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product

from sublatch.board.schematic.placing.lettering import CHARACTER, LETTER
from sublatch.board.schematic.placing.piece import Box, Piece
from sublatch.board.schematic.placing.symbols import UnplaceableError
from sublatch.circuit.filters.parts import Amplifier, CapacitorPair, FilterPart, Label, Point, Rheostat, Side

PLAIN = ("in", "out")
"""Nodes that bear the names of the board's nets."""
ASIDE, ABOVE = 0.12, 0.3
"""How far a name is to the side of a point and above its wire."""


def beside(
    node: str, pin: tuple[str, str], spans: Iterable[tuple[Point, float]], *, level: bool = True
) -> Iterator[Piece]:
    """Yield a node's name at each place beside its wires, the likely ones first.

    Parameters
    ----------
    node, pin
        The node, and role and pin of a component on it.
    spans
        The left end and the length of each wire across where it may stand.
    level
        Whether the wire runs across there; a name beside one that runs down is at its height.
    """
    width = CHARACTER * len(node)
    heights = (ABOVE, -ABOVE) if level else (0.0, ABOVE, -ABOVE)
    for (left, y), length in spans:
        for place, height, aside in product(range(int(length / 0.4) + 1), heights, (ASIDE, 0.4)):
            x = left + 0.4 * place
            for start in (x + aside, x - aside - width):
                box: Box = (start, y + height - LETTER / 2, start + width, y + height + LETTER / 2)
                at = (round(start, 4), round(y + height, 4))
                yield Piece(boxes=[box], labels=[Label(*pin, (round(x, 4), y), "right", text=node, beside=at)])


def ring(parts: Iterable[FilterPart], node: str, place: Point, side: Side) -> Piece:
    """Return the end of a wire in a node's name, with a ring."""
    label = Label(*pin_of(parts, node), place, side, text="" if node in PLAIN else node)
    width = CHARACTER * (10 if node in PLAIN else len(node))
    x, y = place
    left = {"left": x - 0.2 - width, "right": x + 0.2}.get(side, x - width / 2)
    middle = y + {"above": 0.35, "below": -0.38}.get(side, 0.0)
    box: Box = (left, middle - LETTER / 2, left + width, middle + LETTER / 2)
    return Piece(boxes=[box], labels=[label])


def pin_of(parts: Iterable[FilterPart], node: str) -> tuple[str, str]:
    """Return role and pin of a component on a node."""
    for part in parts:
        for pin, name in _pins(part):
            if name == node:
                return pin
    raise UnplaceableError(node)


def _pins(part: FilterPart) -> Iterator[tuple[tuple[str, str], str]]:
    """Yield role and pin of each end of a part, and the node it is on."""
    if isinstance(part, Amplifier):
        for pin, node in (("+", part.plus), ("-", part.minus), ("out", part.output)):
            yield (part.role, pin), node
        return
    if isinstance(part, Rheostat):
        first, second = (part.gang, "cw"), (part.end, "b")
    elif isinstance(part, CapacitorPair):
        first, second = (part.pole, "common"), (f"{part.role}.flat", "b")
    else:
        first, second = (part.role, "a"), (part.role, "b")
    yield first, part.between[0]
    yield second, part.between[1]
