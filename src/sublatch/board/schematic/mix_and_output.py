"""The drawings of output filter, mix, output, and the supply of the packages."""

from __future__ import annotations

from sublatch.board.netlist import BIAS, SUPPLY, ZERO, Component
from sublatch.board.schematic.canvas import Point, Sheet, split_value
from sublatch.board.schematic.filters import draw_filter, draw_listed, has_drawing, to_bias
from sublatch.board.schematic.latch_divider_octave import grounded
from sublatch.board.schematic.symbols import amplifier, box, follower, jack, pot

CELL, CELLS, ROW = 4.6, 5, 5.0
"""Room for each package, how many stand in a row, and the height of a row."""


def draw_output_filter(sheet: Sheet) -> None:
    """Draw the output filter."""
    chosen = sheet.board.circuit.filter
    if not has_drawing(chosen):
        draw_listed(sheet, "filter.", (0.0, 0.0))
        return
    sheet.name("octave", (0.0, 0.0), side="left")
    sheet.name_right_of("filtered", draw_filter(sheet, chosen, "filter", sheet.wire((0.0, 0.0), (0.4, 0.0))))


def draw_output(sheet: Sheet) -> None:
    """Draw mix and output."""
    filtered = sheet.component("mix.octave_resistor").net("a")
    sheet.name(filtered, (4.0, 0.0), side="left")
    joint = sheet.wire(sheet.part("mix.octave_resistor", (4.0, 0.0), (7.0, 0.0)), (8.0, 0.0))
    if sheet.has("mix.direct_pot"):
        sheet.name("note", sheet.wire((2.4, -1.6), (2.4, -1.2)), side="above")
        pot(sheet, "mix.direct_pot", (2.4, -1.6), wiper=(4.0, -3.1))
        sheet.drop(BIAS, (2.4, -4.6), by=0.2)
    else:
        sheet.drop(BIAS, sheet.wire((4.0, -3.1), (3.4, -3.1)))
    sheet.wire(sheet.part("mix.direct_resistor", (4.0, -3.1), (7.0, -3.1)), (8.0, -3.1), joint)
    out = follower(sheet, "mix.follower", sheet.wire(joint, (9.4, 0.0)))
    sheet.name_right_of("mixed", out)
    _output(sheet, -8.0)


def _output(sheet: Sheet, y: float) -> None:
    """Draw coupling, trim, volume, buffer and what keeps the bias off the jack."""
    sheet.name("mixed", (-1.2, y), side="left")
    top = sheet.part("output.coupling", (-1.2, y), (1.2, y))
    if sheet.has("output.trim_resistor"):
        top = sheet.part("output.trim_resistor", top, (3.8, y))
    top = sheet.wire(top, (4.6, y), (4.6, y - 0.4))
    wiper = (6.0, y - 1.9)
    pot(sheet, "output.pot", top, wiper=wiper)
    sheet.drop(BIAS, (4.6, y - 3.4), by=0.2)
    load = sheet.wire(wiper, (6.8, y - 1.9))
    to_bias(sheet, "output.load", load)
    plus = sheet.wire(load, (10.0, y - 1.9))
    feedback, ground = "output.feedback_resistor", "output.ground_resistor"
    out = amplifier(sheet, "output.buffer", plus, feedback=feedback, ground=ground)
    end = sheet.wire(sheet.part("output.capacitor", out, (out[0] + 2.6, out[1])), (out[0] + 3.4, out[1]))
    sheet.part("output.pull_down", end, (end[0], end[1] - 2.2), side="left")
    sheet.drop(ZERO, (end[0], end[1] - 2.2), by=0.2)
    tip = sheet.wire(end, (end[0] + 2.2, end[1]))
    jack(sheet, "output.jack", tip, side="left")
    sheet.drop(ZERO, sheet.wire((tip[0], tip[1] - 1.0), (tip[0] - 0.4, tip[1] - 1.0)))


def draw_packages(sheet: Sheet) -> None:
    """Draw each package's supply and the capacitor across it, and the sections that are left over."""
    parts = sheet.board.of_block("packages")
    packages = [part for part in parts if part.kind == "package"]
    column, row = 0, 0
    for part in packages:
        room = 2 if len(part.pins) > 2 else 1
        if column + room > CELLS:
            column, row = 0, row + 1
        _package(sheet, part, (column * CELL, -row * ROW))
        column += room
    for role in ("spare.op_amp", "spare.flip_flop"):
        if sheet.has(role):
            if column + 1 > CELLS:
                column, row = 0, row + 1
            _spare(sheet, role, (column * CELL + 0.8, -row * ROW - 1.2))
            column += 1


def _package(sheet: Sheet, part: Component, point: Point) -> None:
    """Draw a package between the supply and 0 V."""
    x, y = point
    low = part.pins[1:]
    width = 0.9 * len(low) + 1.7
    sheet.rectangle(point, width, 2.6)
    middle = x + width / 2
    _middle_lines(sheet, part, (middle, y - 1.3), plain=len(low) == 1)
    sheet.mark_pins(part, (part.pins[0][0], (middle, y)))
    left = middle - 0.45 * (len(low) - 1)
    ends = [(left + 0.9 * index, y - 2.6) for index in range(len(low))]
    for (pin, _), end in zip(low, ends, strict=True):
        sheet.mark_pins(part, (pin, end))
        if len(low) > 1:
            sheet.text(pin, (end[0], end[1] + 0.3))
    far = x + width + 0.5
    sheet.wire((middle, y), (middle, y + 0.4), (far, y + 0.4), (far, y - 0.2))
    for end in ends:
        sheet.wire(end, (end[0], y - 3.0))
    sheet.wire(*((x_pin, y - 3.0) for x_pin, _ in ends))
    sheet.wire((ends[-1][0], y - 3.0), (far, y - 3.0), (far, y - 2.4))
    sheet.part(f"decoupling.{part.package}", (far, y - 0.2), (far, y - 2.4))
    sheet.drop(SUPPLY, (middle, y + 0.4), by=0.2)
    sheet.drop(ZERO, (middle, y - 3.0) if len(ends) % 2 else (ends[0][0], y - 3.0), by=0.2)


def _middle_lines(sheet: Sheet, part: Component, point: Point, *, plain: bool) -> None:
    """Write a package's designator and name inside it."""
    texts = [part.reference, *(split_value(part.value) if plain else [part.value])]
    for index, text in enumerate(texts):
        sheet.text(text, (point[0], point[1] + 0.42 * ((len(texts) - 1) / 2 - index)))


def _spare(sheet: Sheet, role: str, point: Point) -> None:
    """Draw a section that is left over."""
    x, y = point
    if role == "spare.op_amp":
        follower(sheet, role, (x + 0.6, y + 0.5))
        sheet.drop(BIAS, sheet.wire((x + 0.6, y + 0.5), (x - 0.2, y + 0.5)), by=0.4)
        return
    left = (("D", 0.5), ("CLK", 1.1), ("S", 1.7), ("R", 2.3))
    box(sheet, role, (x + 0.4, y + 1.0), (2.2, 2.8), left=left)
    grounded(sheet, tuple((x + 0.4, y + 1.0 - below) for _, below in left))
