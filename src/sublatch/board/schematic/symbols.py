"""Symbols of more than two pins: op-amps, boxes, pots, switches, jacks."""

from __future__ import annotations

from typing import Any, Literal

from sublatch.board.netlist import BIAS, ZERO
from sublatch.board.schematic.canvas import Point, Sheet, Side
from sublatch.board.schematic.placing.lettering import CHARACTER

WIDTH = 2.0
"""Of an op-amp, between its inputs and its output."""


def amp(sheet: Sheet, role: str, point: Point, *, plus_up: bool) -> Point:
    """Draw an op-amp or comparator from the middle of its left side, and return its output."""
    part = sheet.component(role)
    x, y = point
    sheet.stroke((x, y + 1.0), (x + WIDTH, y), (x, y - 1.0), (x, y + 1.0))
    plus, minus = (y + 0.5, y - 0.5) if plus_up else (y - 0.5, y + 0.5)
    for height in (plus, minus):
        sheet.stroke((x + 0.12, height), (x + 0.32, height))
    sheet.stroke((x + 0.22, plus - 0.1), (x + 0.22, plus + 0.1))
    sheet.text(part.reference, (x + 0.72, y))
    out = (x + WIDTH, y)
    sheet.mark_pins(part, ("+", (x, plus)), ("-", (x, minus)), ("out", out))
    sheet.pin_number(part, "+", (x, plus), side="left")
    sheet.pin_number(part, "-", (x, minus), side="left")
    sheet.pin_number(part, "out", out, side="right")
    return out


def follower(sheet: Sheet, role: str, point: Point) -> Point:
    """Draw an op-amp whose plus input is at a point, its output led back, and return the end of its output."""
    x, y = point
    out = amp(sheet, role, (x, y - 0.5), plus_up=True)
    end = (x + 2.4, y - 0.5)
    sheet.wire(out, end)
    sheet.wire(end, (end[0], y - 1.8), (x - 0.3, y - 1.8), (x - 0.3, y - 1.0), (x, y - 1.0))
    return end


def amplifier(sheet: Sheet, role: str, point: Point, *, feedback: str, ground: str) -> Point:
    """Draw a non-inverting amplifier whose plus input is at a point, and return the end of its output."""
    x, y = point
    out = amp(sheet, role, (x, y - 0.5), plus_up=True)
    far, near = (x + 2.5, y - 2.0), (x - 0.4, y - 2.0)
    sheet.wire(out, (far[0], y - 0.5))
    sheet.wire((far[0], y - 0.5), far)
    first, second = (far, near) if sheet.component(feedback).net("b").endswith("minus") else (near, far)
    sheet.part(feedback, first, second, side="below")
    sheet.wire(near, (near[0], y - 1.0), (x, y - 1.0))
    sheet.part(ground, near, (near[0], y - 4.0), side="left")
    sheet.drop(BIAS, (near[0], y - 4.0), by=0.2)
    return (far[0], y - 0.5)


def box(
    sheet: Sheet,
    role: str,
    corner: Point,
    size: tuple[float, float],
    *,
    left: tuple[tuple[str, float], ...] = (),
    right: tuple[tuple[str, float], ...] = (),
) -> None:
    """Draw a box from its upper left corner, with pins at distances below it, and its designator on top."""
    part = sheet.component(role)
    x, y = corner
    width, height = size
    sheet.rectangle(corner, width, height)
    sides: tuple[tuple[Any, float, float, Literal["left", "right"], Literal["left", "right"]], ...] = (
        (left, x, 0.15, "right", "left"),
        (right, x + width, -0.15, "left", "right"),
    )
    for pins, at, inward, side, outside in sides:
        for pin, below in pins:
            sheet.text(pin, (at + inward, y - below), side=side)
            sheet.pin_number(part, pin, (at, y - below), side=outside)
            sheet.mark_pins(part, (pin, (at, y - below)))
    sheet.text(" ".join(filter(None, (part.reference, part.value))), (x + width / 2, y + 0.3))


def pot(sheet: Sheet, role: str, top: Point, *, wiper: Point) -> None:
    """Draw a pot downwards from its clockwise end, three units long, its wiper led to a point on its right."""
    part = sheet.component(role)
    bottom = (top[0], top[1] - 3.0)
    middle = (top[0], top[1] - 1.5)
    sheet.symbol("resistor", top, bottom)
    sheet.arrow(wiper, (top[0] + 0.28, middle[1]))
    sheet.lines(part, middle, side="left")
    sheet.mark_pins(part, ("cw", top), ("wiper", wiper), ("ccw", bottom))


def rheostat(sheet: Sheet, role: str, start: Point, end: Point) -> None:
    """Draw a pot as a variable resistor, from its clockwise end on: across, or up and down."""
    part = sheet.component(role)
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    flat = start[1] == end[1]
    across, up = (0.0, 1.0) if flat else (1.0, 0.0)
    wiper = (middle[0] + 0.8 * across, middle[1] + 0.8 * up)
    sheet.symbol("resistor", start, end)
    sheet.arrow(wiper, (middle[0] + 0.28 * across, middle[1] + 0.28 * up))
    sheet.wire(wiper, (end[0] + 0.8 * across, end[1] + 0.8 * up), end)
    sheet.lines(part, middle, side="below" if flat else "left")
    sheet.mark_pins(part, ("cw", start), ("wiper", wiper), ("ccw", end))


def pole(sheet: Sheet, role: str, common: Point, throws: tuple[Point, Point], *, label: Point, side: Side) -> None:
    """Draw one pole of a switch, standing at its first throw."""
    part = sheet.component(role)
    sheet.stroke(common, throws[0])
    for point in (common, *throws):
        sheet.ring(point)
    sheet.lines(part, label, side=side, away=0.0)
    sheet.mark_pins(part, *zip(("common", "1", "2"), (common, *throws), strict=True))


def jack(sheet: Sheet, role: str, point: Point, *, side: Side) -> None:
    """Draw a jack as a box of which the pins point right or left; its first pin is at a point."""
    part = sheet.component(role)
    pins = tuple((pin, 0.5 + index) for index, (pin, _) in enumerate(part.pins))
    width = max(2.0, CHARACTER * max(len(pin) for pin, _ in pins) + 0.6)
    corner = (point[0] - width if side == "right" else point[0], point[1] + 0.5)
    left, right = ((), pins) if side == "right" else (pins, ())
    box(sheet, role, corner, (width, float(len(pins))), left=left, right=right)


def grounded(sheet: Sheet, pins: tuple[Point, ...]) -> None:
    """Tie pins on the left side of a box to 0 V, from the upper one down."""
    x = pins[0][0] - 0.5
    for above, below in zip((None, *pins[:-1]), pins, strict=True):
        sheet.wire(below, (x, below[1]))
        if above:
            sheet.wire((x, above[1]), (x, below[1]))
    sheet.drop(ZERO, (x, pins[-1][1]), by=0.4)
