"""A sheet of the schematic: components at points, wires between them, and names of nets.

One unit is 7.5 mm. The sheet draws with schemdraw and remembers where it put pins, wires and names, so that what is
drawn can be compared with the board.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, Literal

from sublatch.board.check.pin_list import pin_number
from sublatch.board.netlist import BIAS, SUPPLY, ZERO, Board, Component
from sublatch.board.schematic.placing.lettering import LINE

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, bottom, right and top."""
Side = Literal["left", "right", "above", "below"]
Anchor = Literal["start", "middle", "end"]

UNIT_MM, FONT_PT = 7.5, 8.5
"""Size of a unit on paper, and of the letters: 3 mm from top to bottom."""


@dataclass
class Sheet:
    """One drawing in the making.

    Attributes
    ----------
    board, title
        What is drawn, and what it is called.
    pins
        Designator, pin and point of each pin.
    wires
        Both ends of each straight wire.
    names
        Net and point of each name.
    texts
        Each text, its point, and which end of it is there.
    listed
        Designator, pin and net of each pin that is written down rather than drawn.
    shades
        Areas that are shaded, behind all that is drawn.
    own_names
        What the user calls components, by their roles.
    """

    board: Board
    title: str
    pins: list[tuple[str, str, Point]] = field(default_factory=list)
    wires: list[tuple[Point, Point]] = field(default_factory=list)
    names: list[tuple[str, Point]] = field(default_factory=list)
    texts: list[tuple[str, Point, Anchor]] = field(default_factory=list)
    listed: list[tuple[str, str, str]] = field(default_factory=list)
    shades: list[Box] = field(default_factory=list)
    own_names: dict[str, str] = field(default_factory=dict)
    drawing: Any = None

    def __post_init__(self) -> None:
        """Start an empty drawing."""
        import schemdraw

        self.drawing = schemdraw.Drawing(
            canvas="svg", show=False, inches_per_unit=UNIT_MM / 25.4, fontsize=FONT_PT, lw=1
        )

    def component(self, role: str) -> Component:
        """Return the board's component with a role."""
        return self.board.component(role)

    def has(self, role: str) -> bool:
        """Return whether the board has a component with a role."""
        return any(part.role == role for part in self.board.components)

    def part(self, role: str, start: Point, end: Point, *, side: Side | None = None) -> Point:
        """Draw a component of two pins, its first at `start`, and return its end."""
        part = self.component(role)
        self.symbol("schottky" if part.value.endswith("Schottky") else part.kind, start, end)
        self.mark_pins(part, ("a", start), ("b", end))
        middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        flat = start[1] == end[1]
        self.lines(part, middle, side=side or ("above" if flat else "right"), away=1.05 if part.kind == "lamp" else 0.5)
        if part.kind == "electrolytic":
            self.plus(middle, flat=flat)
        return end

    def symbol(self, kind: str, start: Point, end: Point) -> None:
        """Draw the symbol of two pins alone."""
        import schemdraw.elements as elm

        kinds: dict[str, Any] = {
            "resistor": elm.ResistorIEC,
            "capacitor": elm.Capacitor,
            "electrolytic": elm.Capacitor,
            "diode": elm.Diode,
            "schottky": elm.Schottky,
            "battery": elm.BatteryCell,
            "lamp": elm.LED,
        }
        self.drawing += kinds[kind]().at(start).to(end)

    def plus(self, middle: Point, *, flat: bool) -> None:
        """Mark the plus end of an electrolytic capacitor or battery that runs right or down."""
        x, y = (middle[0] - 0.32, middle[1] - 0.22) if flat else (middle[0] - 0.35, middle[1] + 0.32)
        self.stroke((x - 0.1, y), (x + 0.1, y))
        self.stroke((x, y - 0.1), (x, y + 0.1))

    def lines(self, part: Component, middle: Point, *, side: Side, away: float = 0.5) -> None:
        """Write a component's designator and value beside it."""
        texts = [part.reference, *split_value(part.value), *self.own_name(part.role)]
        x, y = middle
        if side in ("left", "right"):
            sign = 1 if side == "right" else -1
            top = y + LINE * (len(texts) - 1) / 2
            for index, text in enumerate(texts):
                self.text(text, (x + sign * away, top - index * LINE), side=side)
            return
        top = y + away + LINE * (len(texts) - 1) if side == "above" else y - away
        for index, text in enumerate(texts):
            self.text(text, (x, top - index * LINE), side="middle")

    @property
    def lowest(self) -> float:
        """How far down anything is drawn."""
        ends = [y for wire in self.wires for _, y in wire]
        return min([0.0, *ends, *(y for _, _, (_, y) in self.pins), *(y for _, (_, y), _ in self.texts)])

    def own_name(self, role: str) -> list[str]:
        """Return the lines of what the user calls a component."""
        name = self.own_names.get(role)
        return split_value(f"({name})") if name else []

    def text(self, text: str, point: Point, *, side: str = "middle") -> None:
        """Write a text to the right of, to the left of or around a point."""
        anchor: Anchor = {"right": "start", "left": "end"}.get(side, "middle")  # type: ignore[assignment]
        self.texts.append((text, point, anchor))

    def wire(self, *points: Point) -> Point:
        """Draw a wire through points and return the last."""
        self.stroke(*points)
        self.wires += pairwise(points)
        return points[-1]

    def stroke(self, *points: Point) -> None:
        """Draw a line through points that carries nothing."""
        import schemdraw.elements as elm

        for start, end in pairwise(points):
            self.drawing += elm.Line().at(start).to(end)

    def arrow(self, start: Point, end: Point) -> None:
        """Draw the arrow of a wiper."""
        import schemdraw.elements as elm

        self.drawing += elm.Line(arrow="->").at(start).to(end)

    def rectangle(self, corner: Point, width: float, height: float) -> None:
        """Draw a rectangle from its upper left corner."""
        x, y = corner
        self.stroke((x, y), (x + width, y), (x + width, y - height), (x, y - height), (x, y))

    def ring(self, point: Point) -> None:
        """Draw an open dot."""
        self.circle(point, 0.07)

    def circle(self, point: Point, radius: float) -> None:
        """Draw an open circle."""
        import schemdraw.elements as elm

        self.drawing += elm.Dot(open=True, radius=radius).at(point)

    def name(self, net: str, point: Point, *, side: Side, text: str = "") -> None:
        """End a wire in the name of a net, or in another text for it."""
        self.names.append((net, point))
        if net in (BIAS, SUPPLY, ZERO):
            self._rail(net, point)
            return
        self.ring(point)
        x, y = point
        gap = {"left": (-0.2, 0.0), "right": (0.2, 0.0), "above": (0.0, 0.35), "below": (0.0, -0.38)}[side]
        self.text(text or net, (x + gap[0], y + gap[1]), side=side if side in ("left", "right") else "middle")

    def name_beside(self, net: str, point: Point, text: str, start: Point) -> None:
        """Write a text for a net beside a point of its wire."""
        self.names.append((net, point))
        self.text(text, start, side="right")

    def name_right_of(self, net: str, point: Point) -> None:
        """End a short wire to the right in the name of a net."""
        self.name(net, self.wire(point, (point[0] + 0.8, point[1])), side="right")

    def _rail(self, net: str, point: Point) -> None:
        """Draw the sign of a rail: a bar with its name, or for 0 V the usual one of three bars."""
        x, y = point
        if net == ZERO:
            for step, half in enumerate((0.32, 0.2, 0.08)):
                self.stroke((x - half, y - 0.12 * step), (x + half, y - 0.12 * step))
            return
        self.stroke((x - 0.3, y), (x + 0.3, y))
        self.text(net, (x, y + 0.35 if net == SUPPLY else y - 0.33))

    def drop(self, net: str, point: Point, *, by: float = 0.4) -> None:
        """End a wire that goes down, or for the supply up, in a rail."""
        self.name(net, self.wire(point, (point[0], point[1] + (by if net == SUPPLY else -by))), side="below")

    def pin_number(self, part: Component, pin: str, point: Point, *, side: Literal["left", "right"]) -> None:
        """Write the number of a package's pin above the wire that leaves it to one side."""
        number = pin_number(self.board, part, pin)
        if number is not None:
            self.text(str(number), (point[0] + (0.05 if side == "right" else -0.05), point[1] + 0.22), side=side)

    def mark_pins(self, part: Component, *pins: tuple[str, Point]) -> None:
        """Remember where a component's pins are; those that it has not do not count."""
        own = dict(part.pins)
        self.pins += [(part.reference, pin, point) for pin, point in pins if pin in own]


def split_value(value: str) -> list[str]:
    """Return a value in lines that are short enough to stand beside a symbol."""
    lines: list[str] = []
    for word in value.split():
        if lines and len(lines[-1]) + len(word) < 11:
            lines[-1] += " " + word
        else:
            lines.append(word)
    return lines
