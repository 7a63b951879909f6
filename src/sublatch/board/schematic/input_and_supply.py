"""The drawings of input and supply."""

from __future__ import annotations

from sublatch.board.netlist import BIAS, SUPPLY, ZERO
from sublatch.board.schematic.canvas import Point, Sheet
from sublatch.board.schematic.filters import to_bias
from sublatch.board.schematic.symbols import box, follower, jack, pole


def draw_front(sheet: Sheet) -> None:
    """Draw input, supply, bias and lamp."""
    _input(sheet)
    _supply(sheet)
    _bias(sheet)
    _lamp(sheet)


def _input(sheet: Sheet) -> None:
    """Draw the input jack, a pole of the footswitch, the protection, the coupling and the follower."""
    jack(sheet, "input.jack", (0.0, 0.0), side="right")
    sheet.name("battery-", sheet.wire((0.0, -1.0), (0.8, -1.0)), side="right")
    sheet.drop(ZERO, sheet.wire((0.0, -2.0), (0.8, -2.0)))
    throws = ((3.6, 0.0), (3.6, -0.8))
    pole(sheet, "footswitch.input", sheet.wire((0.0, 0.0), (2.4, 0.0)), throws, label=(3.0, 0.5), side="above")
    sheet.name("bypass", sheet.wire((3.6, -0.8), (3.6, -1.2)), side="below")
    start = sheet.wire((3.6, 0.0), (5.0, 0.0))
    sheet.name("in", sheet.wire(start, (5.0, 1.0)), side="above")
    _down(sheet, "input.pull_down", start)
    guarded = sheet.part("input.series_resistor", start, (7.4, 0.0))
    _down(sheet, "input.radio_capacitor", guarded)
    coupled = sheet.part("input.coupling", guarded, (10.6, 0.0))
    to_bias(sheet, "input.resistance", coupled, left=True)
    clamped = sheet.wire(coupled, (12.0, 0.0))
    sheet.drop(SUPPLY, sheet.part("input.clamp_high", clamped, (12.0, 2.2)), by=0.2)
    sheet.part("input.clamp_low", (12.0, -2.2), clamped)
    sheet.drop(ZERO, (12.0, -2.2), by=0.2)
    sheet.name_right_of("note", follower(sheet, "input.follower", sheet.wire(clamped, (14.6, 0.0))))


def _down(sheet: Sheet, role: str, point: Point) -> None:
    """Draw a component down to 0 V."""
    sheet.drop(ZERO, sheet.part(role, point, (point[0], point[1] - 2.0)), by=0.2)


def _lamp(sheet: Sheet) -> None:
    """Draw the lamp and the pole of the footswitch that lights it."""
    y = -11.4
    sheet.drop(SUPPLY, (1.0, y), by=0.4)
    end = sheet.part("lamp", sheet.part("lamp.resistor", (1.0, y), (3.6, y)), (6.2, y))
    throws = (sheet.wire(end, (7.4, y)), (7.4, y - 0.8))
    pole(sheet, "footswitch.lamp", (8.6, y), throws, label=(8.0, y + 0.5), side="above")
    sheet.name("in", sheet.wire(throws[1], (6.8, y - 0.8)), side="left")
    sheet.drop(ZERO, sheet.wire((8.6, y), (9.4, y)))


def _supply(sheet: Sheet) -> None:
    """Draw the battery, the supply jack, the protection and the capacitor across the supply."""
    y = -5.0
    sheet.wire((1.0, y - 0.6), (1.0, y), (3.0, y))
    sheet.part("supply.battery", (1.0, y - 0.6), (1.0, y - 2.0))
    sheet.plus((0.9, y - 1.3), flat=False)
    sheet.name("battery-", sheet.wire((1.0, y - 2.0), (1.0, y - 2.4)), side="below")
    right = (("plus", 0.5), ("minus", 1.5))
    box(sheet, "supply.jack", (3.0, y + 0.5), (3.4, 2.0), left=(("switch", 0.5),), right=right)
    sheet.drop(ZERO, sheet.wire((6.4, y - 1.0), (6.9, y - 1.0)))
    end = sheet.part("supply.protection", sheet.wire((6.4, y), (7.7, y)), (10.0, y))
    end = sheet.wire(end, (10.6, y))
    sheet.drop(SUPPLY, end)
    sheet.part("supply.bulk", end, (10.6, y - 2.4))
    sheet.drop(ZERO, (10.6, y - 2.4), by=0.2)


def _bias(sheet: Sheet) -> None:
    """Draw the bias divider and its follower."""
    x, y = 12.8, -4.2
    sheet.drop(SUPPLY, (x, y), by=0.2)
    middle = sheet.part("bias.upper", (x, y), (x, y - 2.0))
    sheet.part("bias.lower", middle, (x, y - 4.0))
    sheet.drop(ZERO, (x, y - 4.0), by=0.2)
    right = sheet.wire(middle, (x + 2.2, y - 2.0))
    sheet.part("bias.capacitor", right, (x + 2.2, y - 4.0))
    sheet.drop(ZERO, (x + 2.2, y - 4.0), by=0.2)
    out = follower(sheet, "bias.follower", sheet.wire(right, (x + 4.6, y - 2.0)))
    sheet.drop(BIAS, sheet.wire(out, (out[0] + 0.9, out[1])), by=0.6)
