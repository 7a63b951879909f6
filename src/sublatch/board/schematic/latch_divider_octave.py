"""The drawings of thresholds, comparators, latch, divider and octave stage."""

from __future__ import annotations

from sublatch.board.latch_divider_octave import SIGNS
from sublatch.board.netlist import BIAS, SUPPLY, ZERO
from sublatch.board.schematic.canvas import Point, Sheet
from sublatch.board.schematic.filters import draw_listed
from sublatch.board.schematic.symbols import amp, box, follower, pole
from sublatch.circuit.octave_stages.base import OCTAVE, SWITCHED


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
    """Draw a peak store, its follower and its divider."""
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
    second = sheet.wire(held, (x + 8.4, y + 0.5))
    _hanging(sheet, f"{role}.hold_resistor", second)
    out = follower(sheet, f"{role}.follower", sheet.wire(second, (x + 10.4, y + 0.5)))
    tap = sheet.part(f"{role}.upper", out, (out[0] + 2.4, out[1]))
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


def grounded(sheet: Sheet, pins: tuple[Point, ...]) -> None:
    """Tie pins on the left side of a box to 0 V, from the upper one down."""
    x = pins[0][0] - 0.5
    for above, below in zip((None, *pins[:-1]), pins, strict=True):
        sheet.wire(below, (x, below[1]))
        if above:
            sheet.wire((x, above[1]), (x, below[1]))
    sheet.drop(ZERO, (x, pins[-1][1]), by=0.4)


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
    clock = (4.0, -0.9)
    if sheet.has("switches.drive"):
        throws = ((2.8, 0.0), (2.8, -1.8))
        for net, point in zip(("latch", "not latch"), throws, strict=True):
            sheet.name(net, sheet.wire(point, (2.2, point[1])), side="left")
        pole(sheet, "switches.drive", clock, throws, label=(3.5, -2.6), side="below")
    else:
        sheet.name(sheet.component("divider.1").net("CLK"), sheet.wire(clock, (2.2, clock[1])), side="left")
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
