"""Where the pins, symbols and texts of one part are, drawn across or down from a point."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Literal

from sublatch.board.schematic.placing.lettering import BESIDE, LETTER, LINE, width_of
from sublatch.board.schematic.placing.piece import Box, Piece
from sublatch.circuit.filters.parts import (
    GANG,
    STEP,
    CapacitorPair,
    Changeover,
    FixedCapacitor,
    FixedResistor,
    Line,
    Point,
    Rheostat,
    Side,
)
from sublatch.circuit.networks.elements import GROUND

Texts = Callable[[str], Sequence[str]]
"""From the role of a component to the lines that stand beside it."""
TwoPins = FixedResistor | FixedCapacitor | Rheostat | CapacitorPair
LONG, HALF = 0.55, 0.3
"""Half the length of a symbol without its leads, and half its height."""
DOWN, PAIR, THROW = 2.0, 3.9, 0.95
"""Length of a part that hangs, of two switched capacitors from the pole on, and half the distance of their throws."""


class UnplaceableError(Exception):
    """A network that there are no places for."""


def text_box(lines: Sequence[str], point: Point, side: Side) -> Box:
    """Return the area of lines at a side of a point, the first line on top."""
    (x, y), width, height = point, width_of(lines), LINE * (len(lines) - 1)
    if side in ("left", "right"):
        left = x if side == "right" else x - width
        return left, y - (height + LETTER) / 2, left + width, y + (height + LETTER) / 2
    bottom = y if side == "above" else y - height
    return x - width / 2, bottom - LETTER / 2, x + width / 2, bottom + height + LETTER / 2


def _across(
    piece: Piece, start: float, end: float, y: float, nets: tuple[str, str], lines: Sequence[str], side: Side = "above"
) -> None:
    """Take up the room of a symbol across, with its leads and texts."""
    middle = (start + end) / 2
    piece.boxes.append((middle - LONG, y - HALF, middle + LONG, y + HALF))
    away = BESIDE if side == "above" else -BESIDE
    piece.boxes.append(text_box(lines, (middle, y + away), side))
    piece.wire(nets[0], (start, y), (middle - LONG, y), drawn=False)
    piece.wire(nets[1], (middle + LONG, y), (end, y), drawn=False)


def _down(piece: Piece, top: Point, length: float, nets: tuple[str, str], lines: Sequence[str], side: Side) -> None:
    """Take up the room of a symbol that runs down, with its leads and texts."""
    x, y = top
    middle = y - length / 2
    piece.boxes.append((x - HALF, middle - LONG, x + HALF, middle + LONG))
    piece.boxes.append(text_box(lines, (x + (BESIDE if side == "right" else -BESIDE), middle), side))
    piece.wire(nets[0], top, (x, middle + LONG), drawn=False)
    piece.wire(nets[1], (x, middle - LONG), (x, y - length), drawn=False)


def length_of(part: TwoPins, texts: Texts) -> float:
    """Return how long a part is across."""
    if isinstance(part, Rheostat):
        return GANG + STEP
    if isinstance(part, CapacitorPair):
        return round(PAIR + max(0.5, width_of(texts(part.pole)) - 0.45), 4)  # the pole's text is below the wire to it
    return max(STEP, round(width_of(texts(part.role)) + 0.3, 1))


def across(part: TwoPins, left: str, texts: Texts, *, length: float, side: Side = "above") -> Piece:
    """Return a part across, its left pin at the origin and on the node `left`, its right one `length` away."""
    forward, right = part.between[0] == left, part.between[1] if part.between[0] == left else part.between[0]
    piece, own = Piece(), length_of(part, texts)
    if isinstance(part, Rheostat):
        _rheostat_across(piece, part, (left, right), texts, forward=forward)
    elif isinstance(part, CapacitorPair):
        own = length
        _pair_across(piece, part, (left, right), texts, length=length, forward=forward)
    else:
        own = length
        ends: tuple[Point, Point] = ((0.0, 0.0), (length, 0.0))
        start, end = ends if forward else ends[::-1]
        piece.parts.append(replace(part, drawn=Line(start, end, side)))
        _across(piece, 0.0, length, 0.0, (left, right), texts(part.role), side)
    piece.wire(right, (own, 0.0), (length, 0.0))
    return piece


def _rheostat_across(piece: Piece, part: Rheostat, nets: tuple[str, str], texts: Texts, *, forward: bool) -> None:
    """Place a gang and its end resistor from the left, or from the right where its first node is there."""
    length = GANG + STEP
    piece.parts.append(replace(part, drawn=(0.0, 0.0) if forward else (length, 0.0),
                               toward="right" if forward else "left"))  # fmt: skip
    gang, joint = (0.0 if forward else STEP), part.joint
    inner = (nets[0], joint) if forward else (joint, nets[1])
    outer = (joint, nets[1]) if forward else (nets[0], joint)
    _across(piece, gang, gang + GANG, 0.0, inner, texts(part.gang), "below")
    _across(piece, GANG if forward else 0.0, length if forward else STEP, 0.0, outer, texts(part.end))
    far = GANG if forward else STEP
    piece.wire(joint, (gang + GANG / 2, 0.28), (gang + GANG / 2, 0.8), (far, 0.8), (far, 0.0), drawn=False)


def _pair_across(piece: Piece, part: CapacitorPair, nets: tuple[str, str], texts: Texts, *, length: float,
                 forward: bool) -> None:  # fmt: skip
    """Place a pole and its two capacitors from the left, or from the right where its first node is there."""
    lines, common = texts(part.pole), length - PAIR

    def at(x: float, y: float) -> Point:
        """Return a point from the pole on."""
        return (round(common + x if forward else length - common - x, 4), y)

    own: Literal["left", "right"] = "left" if forward else "right"
    label = at(0.65, -0.5 - LINE / 2 * (len(lines) - 1))
    wires = tuple((at(1.0 + STEP, y), at(PAIR, y), at(PAIR, 0.0)) for y in (THROW, -THROW))
    place = Changeover((at(-common, 0.0), at(0.0, 0.0)), (at(1.0, THROW), at(1.0, -THROW)), label,
                       (at(1.0 + STEP, THROW), at(1.0 + STEP, -THROW)), label_side=own)  # fmt: skip
    piece.parts.append(replace(part, drawn=place))
    piece.boxes += [text_box(lines, label, own), _area(at(0.1, -0.1), at(1.1, 1.0))]
    joined = nets[1] if forward else nets[0]
    for throw, y in (("flat", THROW), ("peaked", -THROW)):
        ends = sorted((at(1.0, y)[0], at(1.0 + STEP, y)[0]))
        inner = f"{part.role}.{throw}"
        order = (inner, joined) if forward else (joined, inner)
        _across(piece, ends[0], ends[1], y, order, texts(inner))
    piece.wire(nets[0] if forward else nets[1], *place.lead, drawn=False)
    for path in wires:
        piece.wire(joined, *path)


def _area(one: Point, other: Point) -> Box:
    """Return the area between two corners."""
    return min(one[0], other[0]), min(one[1], other[1]), max(one[0], other[0]), max(one[1], other[1])


def hanging(part: TwoPins, top: str, texts: Texts, side: Side) -> tuple[Piece, float]:
    """Return a part that hangs from the origin, its upper pin on the node `top`, and how long it is."""
    forward, piece = part.between[0] == top, Piece()
    low = part.between[1] if forward else part.between[0]
    length = DOWN
    if isinstance(part, CapacitorPair):
        length = _pair_down(piece, part, (top, low), texts, forward=forward)
    elif isinstance(part, Rheostat):
        length = GANG + STEP
        parts = ((part.gang, GANG), (part.end, STEP)) if forward else ((part.end, STEP), (part.gang, GANG))
        first = parts[0][1]
        place = replace(part, drawn=(0.0, 0.0) if forward else (0.0, -length), toward="down" if forward else "up")
        piece.parts.append(place)
        _down(piece, (0.0, 0.0), first, (top, part.joint), texts(parts[0][0]), "left")
        _down(piece, (0.0, -first), parts[1][1], (part.joint, low), texts(parts[1][0]), "left")
        gang, far = (-GANG / 2, -GANG) if forward else (-length + GANG / 2, -STEP)
        piece.wire(part.joint, (0.28, gang), (0.8, gang), (0.8, far), (0.0, far), drawn=False)
    else:
        ends: tuple[Point, Point] = ((0.0, 0.0), (0.0, -length))
        start, end = ends if forward else ends[::-1]
        piece.parts.append(replace(part, drawn=Line(start, end, side)))
        _down(piece, (0.0, 0.0), length, (top, low), texts(part.role), side)
    if low == GROUND:
        for x in (-0.7, 0.7) if isinstance(part, CapacitorPair) and forward else (0.0,):
            rail(piece, (x, -length), by=0.2)
    return piece, length


def _pair_down(piece: Piece, part: CapacitorPair, nets: tuple[str, str], texts: Texts, *, forward: bool) -> float:
    """Place a pole and its two capacitors, the pole above or, where its node is the lower one, below."""
    grounded = forward and nets[1] == GROUND
    length = 3.8 if grounded else 4.2

    def at(x: float, y: float) -> Point:
        """Return a point from the pole's end on."""
        return (x, round(-y if forward else y - length, 4))

    lines, label = texts(part.pole), at(-1.1, 1.2)
    throws, ends = (at(-0.7, 1.8), at(0.7, 1.8)), (at(-0.7, 3.8), at(0.7, 3.8))
    middle = (0.0, ends[0][1])
    joined = () if grounded else ((ends[0], middle, ends[1]), (middle, at(0.0, length)))
    place = Changeover((at(0.0, 0.0), at(0.0, 1.0)), throws, label, ends, ("left", "right"))
    piece.parts.append(replace(part, drawn=place))
    piece.boxes += [text_box(lines, label, "left"), _area(at(-0.8, 0.8), at(0.8, 1.9))]
    for throw, x, side in zip(("flat", "peaked"), (-0.7, 0.7), place.sides, strict=True):
        inner = f"{part.role}.{throw}"
        assert side is not None
        top = max(at(x, 1.8)[1], at(x, 3.8)[1])
        _down(piece, (x, top), DOWN, (inner, nets[1]) if forward else (nets[0], inner), texts(inner), side)
    piece.wire(nets[0] if forward else nets[1], *place.lead, drawn=False)
    for path in joined:
        piece.wire(nets[1] if forward else nets[0], *path)
    return length


def rail(piece: Piece, point: Point, *, by: float) -> None:
    """Take up the room of the bias rail's sign, so far below a point."""
    x, y = point[0], point[1] - by
    piece.wire(GROUND, point, (x, y), drawn=False)
    piece.wire(GROUND, (x - 0.3, y), (x + 0.3, y), drawn=False)
    piece.boxes.append(text_box(("bias",), (x, y - 0.33), "below"))
