"""An op-amp with what belongs to its lower input: feedback from its output, and parts to ground."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from sublatch.board.schematic.placing.chains import nodes_of
from sublatch.board.schematic.placing.lettering import width_of
from sublatch.board.schematic.placing.names import PLAIN, beside, pin_of
from sublatch.board.schematic.placing.piece import Piece
from sublatch.board.schematic.placing.pillars import hung, pillars
from sublatch.board.schematic.placing.symbols import (
    Texts,
    TwoPins,
    UnplaceableError,
    across,
    length_of,
    rail,
    text_box,
)
from sublatch.circuit.filters.parts import Amplifier, FilterPart, Point
from sublatch.circuit.networks.elements import GROUND

BEHIND = 2.4
"""From the inputs to the corner behind the output."""
BEFORE, FOOT, LOWEST, GRID = -0.4, -2.1, -16.0, 0.2
"""Where the lower input's wire goes down, from where on parts stand there and until where, and by what steps."""
ASIDE = 1.2
"""How far to the left parts stand that leave room for a wire from the lower input downwards."""
NAME_AT: Point = (0.8, 0.95)
"""Where the user's name of an op-amp begins, from the middle of its left side."""


@dataclass
class Cell:
    """An op-amp whose upper input is at the origin.

    Attributes
    ----------
    piece, used
        What is drawn, and which parts.
    end
        From where on the output's wire goes to the right, half a unit below the origin.
    marks
        Nodes below, and where a wire may lead on from them.
    inner
        Nodes within pillars, and where they are.
    free
        From where on the output's wire has nothing above it.
    """

    piece: Piece
    used: list[FilterPart]
    end: float = BEHIND
    marks: list[tuple[str, Point]] = field(default_factory=list)
    inner: list[tuple[str, Point]] = field(default_factory=list)
    free: float = BEHIND


def cell(part: Amplifier, node: str, pool: Mapping[str, FilterPart], known: Mapping[str, object], texts: Texts) -> Cell:
    """Return an op-amp, one of its inputs on a node from the left.

    Parameters
    ----------
    part, node
        The op-amp, and the node of its upper input.
    pool
        Parts without places.
    known
        Nodes that have places.
    texts
        What stands beside each component.

    Raises
    ------
    UnplaceableError
        When its other input is where none can be drawn.
    """
    plus_up = part.plus == node
    lower = part.minus if plus_up else part.plus
    made = Cell(_triangle(part, texts, plus_up=plus_up), [part])
    made.free = max(BEHIND, NAME_AT[0] + width_of(texts(part.role)) + GRID)
    if lower == part.output and plus_up:
        loop = ((2.0, -0.5), (BEHIND, -0.5), (BEHIND, -1.8), (-0.3, -1.8), (-0.3, -1.0), (0.0, -1.0))
        made.piece.wire(part.output, *loop, drawn=False)
        return made
    if lower == GROUND and not plus_up:
        made.piece.wire(GROUND, (0.0, -1.0), (BEFORE, -1.0), drawn=False)
        rail(made.piece, (BEFORE, -1.0), by=0.5)
    elif lower in (GROUND, part.output, node):
        raise UnplaceableError(part.role)
    else:
        made.piece.wire(lower, (0.0, -1.0), (BEFORE, -1.0))
        if lower in known:
            made.piece.wire(lower, (BEFORE, -1.0), (BEFORE, FOOT))
            made.marks.append((lower, (BEFORE, FOOT)))
        else:
            _foot(made, part, lower, pool, known, texts)
    made.piece.wire(part.output, (2.0, -0.5), (made.end, -0.5))
    return made


def _triangle(part: Amplifier, texts: Texts, *, plus_up: bool) -> Piece:
    """Return an op-amp alone, with its texts and the numbers of its pins."""
    follows = plus_up and part.minus == part.output
    piece = Piece([replace(part, drawn=(0.0, 0.0 if follows else -0.5), plus_up=plus_up)])
    piece.boxes.append((0.1, -1.5, 1.9, 0.5))
    piece.boxes += [text_box(("8",), (-0.05, y + 0.22), "left") for y in (0.0, -1.0)]
    piece.boxes.append(text_box(("8",), (2.05, -0.28), "right"))
    if lines := texts(part.role):
        piece.boxes.append(text_box(lines, (NAME_AT[0], NAME_AT[1] - 0.5), "right"))
    inputs = ((part.plus, 0.0), (part.minus, -1.0)) if plus_up else ((part.minus, 0.0), (part.plus, -1.0))
    for net, y in inputs:
        piece.wire(net, (0.0, y), (-0.1, y), drawn=False)
    piece.wire(part.output, (2.0, -0.5), (2.1, -0.5), drawn=False)
    return piece


def _foot(made: Cell, part: Amplifier, lower: str, pool: Mapping[str, FilterPart], known: Mapping[str, object],
          texts: Texts) -> None:  # fmt: skip
    """Draw what leads from the lower input to the output, below the op-amp, and to ground."""
    ends = {lower, part.output}
    back = [one for one in pool.values() if not isinstance(one, Amplifier) and set(one.between) == ends]
    made.end = max(BEHIND, *(length_of(one, texts) + BEFORE for one in back)) if back else BEHIND
    made.end = round(made.end, 4)
    foot = FOOT
    for one in back:
        foot = _below(made, one, lower, foot, texts)
        made.piece.wire(part.output, (made.end, foot), (made.end, -0.5))
    made.piece.wire(lower, (BEFORE, -1.0), (BEFORE, foot))
    made.marks.append((lower, (BEFORE, foot)))
    if lower not in PLAIN:
        made.piece.add(_foot_name(made.piece, lower, pin_of((part,), lower)))
    hanging = pillars(pool, lower, known)
    used = [*made.used, *(one for pillar in hanging for one in pillar)]
    leads_on = any(lower in nodes_of(one) for one in pool.values() if one not in used)
    x = BEFORE - (ASIDE if leads_on else 0.0)
    for pillar in hanging:
        piece, inner = hung(pillar, lower, texts, "left")
        while made.piece.fits(piece.moved(x, foot)) != 0:
            x = round(x - GRID, 4)
            if x < LOWEST:
                raise UnplaceableError(part.role)
        made.piece.add(piece.moved(x, foot))
        made.piece.wire(lower, (x, foot), (BEFORE, foot))
        made.inner += [(node, (x + place[0], foot + place[1])) for node, place in inner]
        made.used += pillar


def _foot_name(piece: Piece, node: str, pin: tuple[str, str]) -> Piece:
    """Return the name of the lower input's node, beside the wire that goes down from it."""
    places = beside(node, pin, [((BEFORE, y), 0.0) for y in (-1.6, -1.4, -1.2)], level=False)
    name = next((place for place in places if piece.fits(place) == 0), None)
    if name is None:
        raise UnplaceableError(node)
    return name


def _below(made: Cell, part: TwoPins, lower: str, foot: float, texts: Texts) -> float:
    """Draw a part below the op-amp, and return its height."""
    run = across(part, lower, texts, length=round(made.end - BEFORE, 4), side="below")
    while made.piece.fits(run.moved(BEFORE, foot)) != 0:
        foot = round(foot - GRID, 4)
        if foot < LOWEST:
            raise UnplaceableError(lower)
    made.piece.add(run.moved(BEFORE, foot))
    made.used.append(part)
    return foot
