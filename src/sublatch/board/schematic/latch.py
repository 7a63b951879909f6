"""The drawings of thresholds, comparators and latch."""

from __future__ import annotations

from sublatch.board.latch import SIGNS
from sublatch.board.netlist import BIAS, SUPPLY, ZERO
from sublatch.board.schematic.canvas import Point, Sheet
from sublatch.board.schematic.symbols import amp, box, follower, grounded


def draw_latch(sheet: Sheet) -> None:
    """Draw thresholds, comparators and latch."""
    height = 0.0
    stores = sheet.has("latch.positive.charge")
    for index, side in enumerate(SIGNS):
        if stores:
            _store(sheet, side, (2.6, height))
        if sheet.has(f"latch.{side}.far"):
            point = (21.6, height + 0.6) if stores else (22.6 if index else 18.4, -2.6)
            _reference(sheet, side, point)
        height -= 6.6 if stores else 0.0
    _comparators(sheet, height)


def _store(sheet: Sheet, side: str, point: Point) -> None:
    """Draw a peak store and what makes a threshold of it."""
    x, y = point
    role = f"latch.{side}"
    charge = sheet.component(f"{role}.charge")
    sheet.name(charge.net("+"), point, side="left")
    out = amp(sheet, f"{role}.charge", (x + 1.0, y + 0.5), plus_up=False)
    sheet.wire(point, (x + 1.0, y))
    held = (x + 6.0, y + 0.5)
    sheet.part(f"{role}.diode", *((out, held) if side == "positive" else (held, out)))
    sheet.wire(held, (x + 6.0, y + 2.2), (x + 0.6, y + 2.2), (x + 0.6, y + 1.0), (x + 1.0, y + 1.0))
    _hanging(sheet, f"{role}.hold_capacitor", held)
    last = sheet.wire(held, (x + 8.4, y + 0.5))
    if sheet.has(f"{role}.hold_resistor"):
        _hanging(sheet, f"{role}.hold_resistor", last)
        last = sheet.wire(last, (x + 10.4, y + 0.5))
    if sheet.has(f"{role}.follower"):
        last = follower(sheet, f"{role}.follower", last)
    tap = sheet.part(f"{role}.upper", last, (last[0] + 2.4, last[1]))
    _hanging(sheet, f"{role}.lower", tap, left=True)
    sheet.name(sheet.component(f"{role}.upper").net("b"), (tap[0], tap[1] + 1.3), side="above")
    sheet.wire(tap, (tap[0], tap[1] + 1.3))


def _hanging(sheet: Sheet, role: str, point: Point, *, left: bool = False) -> None:
    """Draw a component down to the net of its second pin."""
    x, y = point
    end = sheet.part(role, point, (x, y - 2.2), side="left" if left else "right")
    net = sheet.component(role).net("b")
    if net == BIAS:
        sheet.drop(net, end, by=0.2)
    elif net == SUPPLY:
        sheet.drop(net, sheet.wire(end, (x + 1.5, end[1])), by=0.4)
    else:
        sheet.name(net, sheet.wire(end, (x, y - 2.6)), side="below")


def _reference(sheet: Sheet, side: str, point: Point) -> None:
    """Draw a divider from the supply's end to the bias."""
    x, y = point
    up = side == "positive"
    roles = [f"latch.{side}.far", f"latch.{side}.near"]
    net = sheet.component(roles[0]).net("b")
    middle = (x, y - 1.9)
    if up:
        sheet.drop(SUPPLY, (x, y), by=0.2)
        sheet.part(roles[0], (x, y), middle)
        sheet.drop(BIAS, sheet.part(roles[1], middle, (x, y - 3.8)), by=0.2)
    else:
        sheet.part(roles[1], middle, (x, y))
        sheet.name(BIAS, sheet.wire((x, y), (x - 0.9, y), (x - 0.9, y - 0.3)), side="below")
        sheet.part(roles[0], (x, y - 3.8), middle)
        sheet.drop(ZERO, (x, y - 3.8), by=0.2)
    sheet.name(net, sheet.wire(middle, (x - 0.5, y - 1.9)), side="left")


def _comparators(sheet: Sheet, y: float) -> None:
    """Draw both comparators and the latch, which they set and reset."""
    x = 5.0
    for name, below in (("set", 0.0), ("reset", 4.0)):
        part = sheet.component(f"latch.{name}")
        out = amp(sheet, f"latch.{name}", (x, y - below), plus_up=True)
        for pin, up in (("+", 0.5), ("-", -0.5)):
            point = sheet.wire((x, y - below + up), (x - 0.6, y - below + up))
            net = part.net(pin)
            if net == BIAS:
                sheet.drop(net, sheet.wire(point, (x - 1.0, point[1])), by=0.3)
            else:
                sheet.name(net, point, side="left")
        pull = sheet.wire(out, (x + 2.8, y - below))
        sheet.part(f"latch.{name}.pull_up", (pull[0], pull[1] + 2.0), pull)
        sheet.drop(SUPPLY, (pull[0], pull[1] + 2.0), by=0.2)
    left = (("S", 0.7), ("D", 1.6), ("CLK", 2.5), ("R", 3.9))
    box(sheet, "latch.latch", (x + 5.6, y + 0.7), (3.0, 4.6), left=left, right=(("Q", 0.7), ("/Q", 3.9)))
    sheet.wire((x + 2.8, y), (x + 5.6, y))
    sheet.wire((x + 2.8, y - 4.0), (x + 4.6, y - 4.0), (x + 4.6, y - 3.2), (x + 5.6, y - 3.2))
    grounded(sheet, ((x + 5.6, y - 0.9), (x + 5.6, y - 1.8)))
    for net, at in (("latch", y), ("not latch", y - 3.2)):
        sheet.name(net, sheet.wire((x + 8.6, at), (x + 9.4, at)), side="right")
