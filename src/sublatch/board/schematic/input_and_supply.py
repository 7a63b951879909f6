"""The drawings of input and supply."""

from __future__ import annotations

from sublatch.board.netlist import BIAS, SUPPLY, ZERO
from sublatch.board.schematic.canvas import Sheet
from sublatch.board.schematic.filters import to_bias
from sublatch.board.schematic.symbols import box, follower, jack


def draw_front(sheet: Sheet) -> None:
    """Draw input, bias and supply."""
    _input(sheet)
    _supply(sheet)
    _bias(sheet)


def _input(sheet: Sheet) -> None:
    """Draw the input jack, the coupling and the follower."""
    jack(sheet, "input.jack", (2.0, 0.0), side="right")
    sheet.name("battery-", sheet.wire((2.0, -1.0), (2.8, -1.0)), side="right")
    sheet.drop(ZERO, sheet.wire((2.0, -2.0), (2.8, -2.0)))
    coupled = sheet.part("input.coupling", sheet.wire((2.0, 0.0), (3.0, 0.0)), (6.0, 0.0))
    to_bias(sheet, "input.resistance", coupled, left=True)
    out = follower(sheet, "input.follower", sheet.wire(coupled, (7.2, 0.0)))
    sheet.name_right_of("note", out)


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
    end = sheet.part("supply.protection", sheet.wire((6.4, y), (7.0, y)), (9.6, y))
    end = sheet.wire(end, (10.6, y))
    sheet.drop(SUPPLY, end)
    sheet.part("supply.bulk", end, (10.6, y - 2.4))
    sheet.drop(ZERO, (10.6, y - 2.4), by=0.2)


def _bias(sheet: Sheet) -> None:
    """Draw the bias divider and its follower."""
    x, y = 14.0, -4.2
    sheet.drop(SUPPLY, (x, y), by=0.2)
    middle = sheet.part("bias.upper", (x, y), (x, y - 2.0))
    sheet.part("bias.lower", middle, (x, y - 4.0))
    sheet.drop(ZERO, (x, y - 4.0), by=0.2)
    right = sheet.wire(middle, (x + 2.2, y - 2.0))
    sheet.part("bias.capacitor", right, (x + 2.2, y - 4.0))
    sheet.drop(ZERO, (x + 2.2, y - 4.0), by=0.2)
    out = follower(sheet, "bias.follower", sheet.wire(right, (x + 4.6, y - 2.0)))
    sheet.drop(BIAS, sheet.wire(out, (out[0] + 0.9, out[1])), by=0.6)
