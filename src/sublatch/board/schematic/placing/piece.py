"""A piece of a drawing: parts with their places, what room they take, and the wires among them.

Whether a piece fits into another is judged here, by the areas of symbols and texts and by the nets of wires.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from itertools import pairwise

from sublatch.circuit.filters.parts import (
    Amplifier,
    CapacitorPair,
    Changeover,
    FilterPart,
    Label,
    Line,
    Path,
    Point,
    Rheostat,
)

Box = tuple[float, float, float, float]
"""Left, bottom, right and top."""
APART = 0.25
"""How far wires of two nets keep from each other where they do not cross."""
BETWEEN, AIR = 0.1, 0.06
"""How far texts and symbols keep from each other, and a wire from them."""
SMALL = 1e-6


@dataclass(frozen=True)
class Wire:
    """A straight wire of a net; not `drawn` where the symbol that it belongs to brings it."""

    start: Point
    end: Point
    net: str
    drawn: bool = True

    @property
    def box(self) -> Box:
        """The area that it spans."""
        (x1, y1), (x2, y2) = self.start, self.end
        return min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)


@dataclass
class Piece:
    """Parts that have their places, areas of symbols and texts, wires with their nets, and names of nets."""

    parts: list[FilterPart] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list)
    wires: list[Wire] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    def wire(self, net: str, *points: Point, drawn: bool = True) -> None:
        """Lead a wire through points; steps of no length are left out."""
        for start, end in pairwise(points):
            if start != end:
                self.wires.append(Wire(start, end, net, drawn))

    def add(self, other: Piece) -> None:
        """Take in all of another piece."""
        self.parts += other.parts
        self.boxes += other.boxes
        self.wires += other.wires
        self.labels += other.labels

    def copy(self) -> Piece:
        """Return a piece that can be added to by itself."""
        return Piece([*self.parts], [*self.boxes], [*self.wires], [*self.labels])

    def moved(self, x: float, y: float) -> Piece:
        """Return the piece elsewhere."""
        return Piece(
            [_moved_part(part, x, y) for part in self.parts],
            [(left + x, bottom + y, right + x, top + y) for left, bottom, right, top in self.boxes],
            [Wire(_at(wire.start, x, y), _at(wire.end, x, y), wire.net, wire.drawn) for wire in self.wires],
            [_moved_label(label, x, y) for label in self.labels],
        )

    @property
    def bounds(self) -> Box:
        """The area of all of it."""
        boxes = [*self.boxes, *(wire.box for wire in self.wires)] or [(0.0, 0.0, 0.0, 0.0)]
        lefts, bottoms, rights, tops = zip(*boxes, strict=True)
        return min(lefts), min(bottoms), max(rights), max(tops)

    def fits(self, other: Piece) -> int | None:
        """Return how many wires would cross with another piece added; None where it does not fit at all."""
        if any(_overlap(mine, its, BETWEEN) for its in other.boxes for mine in self.boxes):
            return None
        if any(_overlap(wire.box, box, AIR) for wire in self.wires for box in other.boxes):
            return None
        if any(_overlap(wire.box, box, AIR) for wire in other.wires for box in self.boxes):
            return None
        crossings = 0
        for its in other.wires:
            for mine in self.wires:
                meeting = _meeting(mine, its)
                if meeting is None:
                    return None
                crossings += meeting
        return crossings


def _at(point: Point, x: float, y: float) -> Point:
    """Return a point moved."""
    return round(point[0] + x, 4), round(point[1] + y, 4)


def _moved_path(path: Iterable[Point], x: float, y: float) -> Path:
    """Return a path moved."""
    return tuple(_at(point, x, y) for point in path)


def _moved_part(part: FilterPart, x: float, y: float) -> FilterPart:
    """Return a part whose place is moved."""
    drawn = part.drawn
    assert drawn is not None
    if isinstance(part, Amplifier | Rheostat):
        assert isinstance(drawn, tuple)
        return replace(part, drawn=_at(drawn, x, y))
    if isinstance(part, CapacitorPair):
        assert isinstance(drawn, Changeover)
        first, second = _moved_path(drawn.throws, x, y)
        third, fourth = _moved_path(drawn.ends, x, y)
        wires = tuple(_moved_path(path, x, y) for path in drawn.wires)
        place = replace(drawn, lead=_moved_path(drawn.lead, x, y), throws=(first, second), ends=(third, fourth),
                        label=_at(drawn.label, x, y), wires=wires)  # fmt: skip
        return replace(part, drawn=place)
    assert isinstance(drawn, Line)
    return replace(part, drawn=replace(drawn, start=_at(drawn.start, x, y), end=_at(drawn.end, x, y)))


def _moved_label(label: Label, x: float, y: float) -> Label:
    """Return a name moved."""
    beside = None if label.beside is None else _at(label.beside, x, y)
    return replace(label, place=_at(label.place, x, y), beside=beside)


def _overlap(one: Box, other: Box, air: float) -> bool:
    """Return whether two areas share any room, or have less air between."""
    return (
        one[0] < other[2] + air - SMALL
        and other[0] < one[2] + air - SMALL
        and one[1] < other[3] + air - SMALL
        and other[1] < one[3] + air - SMALL
    )


def _meeting(one: Wire, other: Wire) -> int | None:
    """Return 1 for wires that cross, 0 for those that keep apart or belong together, None for those too near."""
    a, b = one.box, other.box
    same = one.net == other.net
    if not _overlap(a, b, -2 * SMALL if same else APART):
        return 0
    across, down = (a, b) if a[1] == a[3] else (b, a)
    crossing = (
        across[1] == across[3]
        and down[0] == down[2]
        and across[0] + APART <= down[0] <= across[2] - APART
        and down[1] + APART <= across[1] <= down[3] - APART
    )
    if same:
        return None if crossing else 0
    return 1 if crossing else None
