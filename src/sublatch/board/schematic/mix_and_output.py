"""The drawings of output filter, mix, output, and the supply of the packages."""

from __future__ import annotations

from math import ceil

from sublatch.board.filters import DIRECT_FILTERED
from sublatch.board.netlist import BIAS, SUPPLY, ZERO, Component
from sublatch.board.schematic.canvas import Point, Sheet, split_value
from sublatch.board.schematic.filters import draw_listed, draw_wiring, wiring_of
from sublatch.board.schematic.placing.lettering import CHARACTER
from sublatch.board.schematic.symbols import box, follower, grounded, jack, pole, pot
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.mixing.base import DirectPot

CELL, CELLS, ROW, STEP = 4.6, 5, 5.0, 0.9
"""Room for each package, how many stand in a row, the height of a row, and from one pin to the next."""
SPARE: dict[str, tuple[tuple[str, float], ...]] = {
    "spare.flip_flop": (("D", 0.5), ("CLK", 1.1), ("S", 1.7), ("R", 2.3)),
    "spare.transconductance_amplifier": (("+", 0.5), ("-", 1.1), ("control", 1.7), ("diodes", 2.3), ("buffer in", 2.9)),
}
"""Sections that are left over, with their pins to 0 V and where these are."""


def draw_output_filter(sheet: Sheet) -> None:
    """Draw the output filter."""
    _draw_filter_between(sheet, sheet.board.circuit.filter, "filter", ("octave", "filtered"))


def draw_direct_filter(sheet: Sheet) -> None:
    """Draw the filter that the direct signal has for itself."""
    low_pass = sheet.board.circuit.mix.direct_low_pass
    assert low_pass is not None
    _draw_filter_between(sheet, low_pass, "mix.direct_filter", ("note", DIRECT_FILTERED))


def _draw_filter_between(sheet: Sheet, chosen: FilterKind, path: str, nets: tuple[str, str]) -> None:
    """Draw a filter between the names of two nets, or list its parts."""
    wired = wiring_of(sheet, chosen, path)
    if wired is None:
        draw_listed(sheet, f"{path}.", (0.0, 0.0))
        return
    sheet.name(nets[0], (0.0, 0.0), side="left")
    sheet.name_right_of(nets[1], draw_wiring(sheet, wired, path, sheet.wire((0.0, 0.0), (0.4, 0.0))))


def draw_output(sheet: Sheet) -> None:
    """Draw mix and output."""
    mix = sheet.board.circuit.mix
    if mix.is_wire:
        _output(sheet, 0.0)
        return
    sheet.name(sheet.component("mix.octave_resistor").net("a"), (4.0, 0.0), side="left")
    _direct_pot(sheet, mix.direct_pot_there)
    sheet.name_right_of("mixed", draw_wiring(sheet, mix.wiring(), "mix", (0.0, 0.0)))
    _output(sheet, -8.0)


def _direct_pot(sheet: Sheet, there: DirectPot | None) -> None:
    """Draw the pot that lets the direct signal in, where there is one."""
    if there is None:
        return
    x, y = there.drawn
    sheet.name(sheet.component("mix.direct_pot").net("cw"), sheet.wire((x, y), (x, y + 0.4)), side="above")
    pot(sheet, "mix.direct_pot", there.drawn, wiper=there.led_to)
    sheet.drop(BIAS, (x, y - 3.0), by=0.2)


def _output(sheet: Sheet, y: float) -> None:
    """Draw coupling, trim, volume, buffer and what keeps the bias off the jack."""
    sheet.name(sheet.component("output.coupling").net("a"), (-1.2, y), side="left")
    top = sheet.part("output.coupling", (-1.2, y), (1.2, y))
    if sheet.has("output.trim_resistor"):
        top = sheet.part("output.trim_resistor", top, (3.8, y))
    top = sheet.wire(top, (4.6, y), (4.6, y - 0.4))
    wiper = (6.0, y - 1.9)
    pot(sheet, "output.pot", top, wiper=wiper)
    sheet.drop(BIAS, (4.6, y - 3.4), by=0.2)
    out = draw_wiring(sheet, sheet.board.circuit.output.wiring(), "output", wiper)
    end = sheet.wire(sheet.part("output.capacitor", out, (out[0] + 2.6, out[1])), (out[0] + 3.4, out[1]))
    sheet.part("output.pull_down", end, (end[0], end[1] - 2.2), side="left")
    sheet.drop(ZERO, (end[0], end[1] - 2.2), by=0.2)
    _output_jack(sheet, sheet.part("output.series_resistor", end, (end[0] + 2.6, end[1])))


def _output_jack(sheet: Sheet, point: Point) -> None:
    """Draw a pole of the footswitch and the output jack, below and to the left of a point."""
    x, y = point[0], point[1] - 4.6
    throws = (sheet.wire(point, (x, y)), (x, y - 0.8))
    pole(sheet, "footswitch.output", (x - 1.2, y), throws, label=(x - 0.6, y - 1.7), side="below")
    sheet.name("bypass", sheet.wire(throws[1], (x + 0.4, y - 0.8)), side="right")
    tip = sheet.wire((x - 1.2, y), (x - 3.0, y))
    jack(sheet, "output.jack", tip, side="right")
    sheet.drop(ZERO, sheet.wire((tip[0], y - 1.0), (tip[0] + 0.6, y - 1.0)))


def draw_packages(sheet: Sheet) -> None:
    """Draw each package's supply and the capacitor across it, and the sections that are left over."""
    parts = sheet.board.of_block("packages")
    packages = [part for part in parts if part.kind == "package"]
    column, row = 0, 0
    for part in packages:
        room = ceil((_width(part) + 1.9) / CELL)
        if column + room > CELLS:
            column, row = 0, row + 1
        _package(sheet, part, (column * CELL, -row * ROW))
        column += room
    for role in ("spare.op_amp", *SPARE):
        if sheet.has(role):
            if column + 1 > CELLS:
                column, row = 0, row + 1
            _spare(sheet, role, (column * CELL + 0.8, -row * ROW - 1.2))
            column += 1


def _package(sheet: Sheet, part: Component, point: Point) -> None:
    """Draw a package between the supply and 0 V."""
    x, y = point
    low = part.pins[1:]
    width = _width(part)
    sheet.rectangle(point, width, 2.6)
    middle = x + width / 2
    _middle_lines(sheet, part, (middle, y - 1.3), plain=len(low) == 1)
    sheet.mark_pins(part, (part.pins[0][0], (middle, y)))
    sheet.pin_number(part, part.pins[0][0], (middle, y - 0.02), side="right")
    left = middle - STEP / 2 * (len(low) - 1)
    ends = [(left + STEP * index, y - 2.6) for index in range(len(low))]
    for (pin, _), end in zip(low, ends, strict=True):
        sheet.mark_pins(part, (pin, end))
        sheet.pin_number(part, pin, (end[0], y - 3.02), side="right")
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


def _width(part: Component) -> float:
    """Return how wide a package is drawn: room for its pins below, and for the longest word of its name."""
    return max(STEP * (len(part.pins) - 1) + 1.7, CHARACTER * max(map(len, split_value(part.value))) + 0.18)


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
    left = SPARE[role]
    box(sheet, role, (x + 0.4, y + 1.0), (2.4, left[-1][1] + 0.5), left=left)
    grounded(sheet, tuple((x + 0.4, y + 1.0 - below) for _, below in left))
