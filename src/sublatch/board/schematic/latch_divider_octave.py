"""The drawings of divider and octave stage."""

from __future__ import annotations

from sublatch.board.netlist import BIAS
from sublatch.board.schematic.canvas import Point, Sheet
from sublatch.board.schematic.filters import draw_listed
from sublatch.board.schematic.symbols import amp, box, follower, grounded, pole
from sublatch.circuit.octave_stages.base import OCTAVE, SWITCHED


def draw_octave(sheet: Sheet) -> None:
    """Draw the drive switch, the divider and the octave stage."""
    _divider(sheet)
    switched = (("1", 0.6), ("0", 1.6), ("A", 2.6))
    y = -7.2
    box(sheet, "octave.switch", (4.0, y + 1.1), (3.4, 3.2), left=switched, right=(("common", 1.6),))
    sheet.name("note", sheet.wire((4.0, y + 0.5), (3.2, y + 0.5)), side="left")
    sheet.drop(BIAS, sheet.wire((4.0, y - 0.5), (1.4, y - 0.5)), by=0.3)
    sheet.name("drive", sheet.wire((4.0, y - 1.5), (3.2, y - 1.5)), side="left")
    common = (7.4, y - 0.5)
    parts = [part for part in sheet.board.of_block("octave") if part.role != "octave.switch"]
    roles = {part.role for part in parts}
    if roles == {"octave.input", "octave.feedback", "octave.amplifier"}:
        out = _inverter(sheet, common)
    elif roles == {"octave.amplifier"}:
        out = follower(sheet, "octave.amplifier", sheet.wire(common, (8.8, y - 0.5)))
    else:
        sheet.name(SWITCHED, sheet.wire(common, (8.2, y - 0.5)), side="right")
        draw_listed(sheet, "octave.", (0.0, y - 4.0), parts=parts)
        return
    sheet.name_right_of(OCTAVE, out)


def _inverter(sheet: Sheet, common: Point) -> Point:
    """Draw the amplifier whose gain is +1 or −1, and return the end of its output."""
    x, y = common
    out = amp(sheet, "octave.amplifier", (x + 3.4, y + 0.5), plus_up=False)
    sheet.wire(common, (x + 3.4, y))
    end = sheet.wire(out, (x + 6.0, y + 0.5))
    sheet.name("note", (x - 0.2, y + 2.4), side="left")
    minus = sheet.part("octave.input", (x - 0.2, y + 2.4), (x + 2.9, y + 2.4))
    sheet.wire(minus, (x + 2.9, y + 1.0), (x + 3.4, y + 1.0))
    sheet.wire(sheet.part("octave.feedback", minus, (x + 6.0, y + 2.4)), end)
    return end


def _divider(sheet: Sheet) -> None:
    """Draw the drive switch and the flip-flops in a row."""
    throws = ((2.8, 0.0), (2.8, -1.8))
    for net, point in zip(("latch", "not latch"), throws, strict=True):
        sheet.name(net, sheet.wire(point, (2.2, point[1])), side="left")
    pole(sheet, "switches.drive", (4.0, -0.9), throws, label=(3.5, -2.6), side="below")
    clock = (4.0, -0.9)
    stages = sheet.board.circuit.divider.stages
    for stage in range(1, stages + 1):
        clock = _toggle(sheet, f"divider.{stage}", clock, last=stage == stages)


def _toggle(sheet: Sheet, role: str, clock: Point, *, last: bool) -> Point:
    """Draw a flip-flop whose D is tied to its /Q, and return the end of its Q, or of /Q for the last one."""
    x, y = clock[0] + 2.4, clock[1]
    left = (("D", 0.6), ("CLK", 1.6), ("S", 2.6), ("R", 3.4))
    right = (("/Q", 0.6),) if last else (("/Q", 0.6), ("Q", 1.6))
    box(sheet, role, (x, y + 1.6), (3.0, 4.0), left=left, right=right)
    sheet.wire(clock, (x, y))
    turned = sheet.wire((x + 3.0, y + 1.0), (x + 3.8, y + 1.0))
    sheet.wire(turned, (x + 3.8, y + 2.8), (x - 0.9, y + 2.8), (x - 0.9, y + 1.0), (x, y + 1.0))
    grounded(sheet, ((x, y - 1.0), (x, y - 1.8)))
    if last:
        sheet.name("drive", sheet.wire(turned, (x + 4.6, y + 1.0)), side="right")
        return turned
    return sheet.wire((x + 3.0, y), (x + 4.6, y))
