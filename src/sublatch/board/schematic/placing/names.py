"""The user's names of nodes, each beside its wire where there is room."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sublatch.board.schematic.placing.lettering import CHARACTER, LETTER
from sublatch.board.schematic.placing.piece import Box, Piece
from sublatch.board.schematic.placing.row import PLAIN, Joint, Row
from sublatch.board.schematic.placing.symbols import UnplaceableError
from sublatch.circuit.filters.parts import Amplifier, CapacitorPair, FilterPart, Label, Point, Rheostat, Side

ASIDE, ABOVE = 0.12, 0.3
"""How far a name is to the side of a point and above its wire."""


def name_nodes(row: Row, parts: Iterable[FilterPart]) -> None:
    """Write the name of each node of a row beside the first of its places with room.

    Raises
    ------
    UnplaceableError
        When a name has no room.
    """
    every = tuple(parts)
    for node, joints in row.joints.items():
        if node in PLAIN or not joints:
            continue
        piece = next((one for one in _places(node, joints, pin_of(every, node)) if row.piece.fits(one) == 0), None)
        if piece is None:
            raise UnplaceableError(node)
        row.place(piece)


def _places(node: str, joints: Iterable[Joint], pin: tuple[str, str]) -> Iterator[Piece]:
    """Yield a name at each place beside its node."""
    width = CHARACTER * len(node)
    for joint in joints:
        count = int((joint.right - joint.left) / 0.4) + 1
        for aside in (ASIDE, 0.3, 0.5):
            for place in range(count):
                x = joint.left + 0.4 * place
                for above, left in ((ABOVE, False), (ABOVE, True), (-ABOVE, True), (-ABOVE, False)):
                    start = x - aside - width if left else x + aside
                    y = joint.y + above
                    box: Box = (start, y - LETTER / 2, start + width, y + LETTER / 2)
                    label = Label(*pin, (x, joint.y), "right", text=node, beside=(round(start, 4), round(y, 4)))
                    yield Piece(boxes=[box], labels=[label])


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
