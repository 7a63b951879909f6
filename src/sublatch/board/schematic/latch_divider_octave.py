"""The drawings of divider and octave stage."""

from __future__ import annotations

from sublatch.board.netlist import BIAS, SUPPLY, ZERO
from sublatch.board.schematic.canvas import Point, Sheet
from sublatch.board.schematic.filters import draw_listed, to_bias
from sublatch.board.schematic.symbols import amp, amplifier, box, follower, grounded, pole, pot
from sublatch.circuit.octave_stages.base import OCTAVE, SWITCHED


def draw_octave(sheet: Sheet) -> None:
    """Draw the drive switch, the divider and the octave stage."""
    _divider(sheet)
    if sheet.has("octave.pair"):
        _pair(sheet, -7.4)
        return
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


def _pair(sheet: Sheet, y: float) -> None:
    """Draw the transconductance pair, from its input divider to the op-amp that turns its current into volts."""
    line = y - 0.7
    sheet.name("note", (0.6, line + 0.5), side="left")
    if sheet.has("octave.lift"):
        feedback, ground = "octave.lift_feedback", "octave.lift_ground"
        start = amplifier(
            sheet, "octave.lift", sheet.wire((0.6, line + 0.5), (1.6, line + 0.5)), feedback=feedback, ground=ground
        )
    else:
        start = sheet.wire((0.6, line + 0.5), (4.1, line + 0.5), (4.1, line))
    minus = sheet.part("octave.source", sheet.wire(start, (4.6, line)), (7.2, line))
    to_bias(sheet, "octave.shunt", minus, left=True)
    sheet.wire(minus, (11.0, line))
    pins = (("-", 0.7), ("+", 2.4), ("control", 6.4), ("diodes", 7.3), ("buffer in", 8.2))
    box(sheet, "octave.pair", (11.0, y), (3.6, 8.8), left=pins, right=(("out", 0.7),))
    plus = sheet.wire((11.0, y - 2.4), (9.4, y - 2.4))
    sheet.name("octave.plus", sheet.wire(plus, (9.4, y - 1.8)), side="above")
    to_bias(sheet, "octave.balance", plus, left=True)
    sheet.name("drive", (5.2, y - 6.4), side="left")
    start = sheet.wire((5.2, y - 6.4), (5.6, y - 6.4))
    sheet.wire(sheet.part("octave.control", start, (8.0, y - 6.4)), (11.0, y - 6.4))
    grounded(sheet, ((11.0, y - 7.3), (11.0, y - 8.2)))
    _trimmer(sheet, (1.6, y - 6.8))
    current = sheet.wire((14.6, line), (15.6, line))
    out = amp(sheet, "octave.amplifier", (sheet.wire(current, (16.8, line))[0], line - 0.5), plus_up=False)
    sheet.drop(BIAS, sheet.wire((16.8, line - 1.0), (16.2, line - 1.0)), by=0.4)
    end = sheet.part("octave.load", sheet.wire(current, (15.6, line + 1.6)), (19.4, line + 1.6))
    sheet.wire(end, (19.4, line - 0.5))
    sheet.name_right_of(OCTAVE, sheet.wire(out, (19.4, line - 0.5)))


def _trimmer(sheet: Sheet, top: Point) -> None:
    """Draw the trimmer downwards, and the resistor from its wiper."""
    x, y = top
    sheet.drop(SUPPLY, top, by=0.2)
    wiper = (x + 1.4, y - 1.5)
    pot(sheet, "octave.trim", top, wiper=wiper)
    sheet.drop(ZERO, (x, y - 3.0), by=0.2)
    sheet.name_right_of("octave.plus", sheet.part("octave.trim_resistor", wiper, (x + 4.0, y - 1.5)))


def _divider(sheet: Sheet) -> None:
    """Draw the drive switch and the flip-flops in a row."""
    clock = (5.6, -0.9)
    if sheet.has("switches.drive"):
        throws = ((2.8, 0.0), (2.8, -1.8))
        for net, point in zip(("latch", "not latch"), throws, strict=True):
            sheet.name(net, sheet.wire(point, (2.2, point[1])), side="left")
        pole(sheet, "switches.drive", (4.0, -0.9), throws, label=(3.5, -2.6), side="below")
        sheet.wire((4.0, -0.9), clock)
        sheet.part("clock.pull_up", (4.8, 1.1), (4.8, -0.9))
        sheet.drop(SUPPLY, (4.8, 1.1), by=0.2)
    else:
        sheet.name(sheet.component("divider.1").net("CLK"), sheet.wire(clock, (4.4, clock[1])), side="left")
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
