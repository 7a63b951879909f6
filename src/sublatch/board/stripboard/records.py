"""Layouts as data: where everything stands, what is cut and linked, and the room there is."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from sublatch.board.stripboard.bodies import PITCH_MM, Outline
from sublatch.errors import UnitError

FILED_MM = 0.5
"""What may be filed off a board's width or height after sawing halfway between holes; a hole's rim is 0.7 mm away."""
LONGEST_ROOM_MM = 500.0
Kind = Literal["stripboard", "perfboard"]
Hole = tuple[int, int]
"""Column from the left and row from the top, seen from the component side, both from 0."""


@dataclass(frozen=True)
class Room:
    """The room that there is for a board, in either direction.

    Attributes
    ----------
    width_mm, height_mm
        Its two sides.
    """

    width_mm: float
    height_mm: float

    def holds(self, columns: int, rows: int) -> bool:
        """Return whether a board of so many holes fits in, lengthwise or crosswise."""
        sides = sorted((columns * PITCH_MM - FILED_MM, rows * PITCH_MM - FILED_MM))
        return all(
            side <= room + 1e-9 for side, room in zip(sides, sorted((self.width_mm, self.height_mm)), strict=True)
        )

    def __str__(self) -> str:
        """Return it as people write it."""
        return f"{self.width_mm:g} × {self.height_mm:g} mm"


def read_room(text: str) -> Room:
    """Return a room from a text such as ``15x25mm``.

    Raises
    ------
    UnitError
        When the text is none, or a side is not above 0 and at most half a metre.
    """
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(?:mm)?\s*[x×X]\s*(\d+(?:\.\d+)?)\s*mm\s*", text)
    if found is None:
        raise UnitError(f"a room must be two lengths in mm, such as 15x25mm, got {text!r}")
    sides = [float(side) for side in found.groups()]
    if not all(0.0 < side <= LONGEST_ROOM_MM for side in sides):
        raise UnitError(f"a room's sides must be above 0 and at most {LONGEST_ROOM_MM:g} mm, got {text!r}")
    return Room(*sides)


@dataclass(frozen=True)
class Placed:
    """One part, or one wire off the board, in its place.

    Attributes
    ----------
    reference, value
        Its designator, and what it is; of a wire its number and the net that it leads off the board.
    outline
        What it looks like.
    standing
        Whether a rod stands on its end.
    legs
        Name and hole of each leg.
    boxes_mm
        Left, top, right and bottom of what it takes up, from the middle of the first hole; the body first.
    """

    reference: str
    value: str
    outline: Outline
    standing: bool
    legs: tuple[tuple[str, Hole], ...]
    boxes_mm: tuple[tuple[float, float, float, float], ...]

    @property
    def span(self) -> int:
        """How many holes apart its first two legs are."""
        (_, one), (_, other) = self.legs[:2]
        return abs(one[0] - other[0]) + abs(one[1] - other[1])


@dataclass(frozen=True)
class Layout:
    """A board that can be soldered.

    Attributes
    ----------
    kind
        Stripboard, or perfboard whose holes wires join on the copper side.
    columns, rows
        Its size in holes; strips run along the rows.
    parts
        Parts, then wires.
    cuts
        Holes at which a strip is cut.
    links
        Both ends of each link on the component side, bare down a column and else insulated, or of each wire on the
        copper side of a perfboard.
    netlist
        Reference, leg and net of all that is to be joined; an empty net is joined to nothing.
    proved
        Whether the copper that was read back from both drawings is the netlist.
    seed
        The seed of the search: the same one finds the same board.
    """

    kind: Kind
    columns: int
    rows: int
    parts: tuple[Placed, ...]
    cuts: tuple[Hole, ...]
    links: tuple[tuple[Hole, Hole], ...]
    netlist: tuple[tuple[str, str, str], ...]
    proved: bool
    seed: int

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height in millimetres, sawn halfway between holes."""
        return self.columns * PITCH_MM, self.rows * PITCH_MM

    @property
    def wires(self) -> tuple[Placed, ...]:
        """The wires off the board."""
        return tuple(part for part in self.parts if part.outline == "wire")


def is_insulated(layout: Layout, link: tuple[Hole, Hole]) -> bool:
    """Return whether a link must be of insulated wire: it is slantwise, or passes over a leg, a link or a body."""
    (column, top), (other, bottom) = sorted(link, key=lambda hole: hole[1])
    if column != other:
        return True
    ends = {hole for part in layout.parts for _, hole in part.legs} | {hole for one in layout.links for hole in one}
    if any((column, row) in ends for row in range(top + 1, bottom)):
        return True
    x, y, v = column * PITCH_MM, top * PITCH_MM, bottom * PITCH_MM
    bodies = [box for part in layout.parts if part.outline != "wire" for box in part.boxes_mm]
    return any(left < x < right and box_top < v and box_bottom > y for left, box_top, right, box_bottom in bodies)


def hole_name(hole: Hole) -> str:
    """Return a hole as the drawings name it: the strip's letter and the column's number, such as C5."""
    return f"{strip_name(hole[1])}{hole[0] + 1}"


def strip_name(row: int) -> str:
    """Return a strip's letter, from A on; after Z comes AA."""
    return chr(ord("A") + row) if row < 26 else strip_name(row // 26 - 1) + strip_name(row % 26)
