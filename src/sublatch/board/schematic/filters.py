"""The drawing of a filter, whatever its kind, and the list of parts in its stead where there are no places."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sublatch.board.netlist import BIAS, Component
from sublatch.board.schematic.canvas import Point, Sheet, split_value
from sublatch.board.schematic.placing.amplifier import NAME_AT
from sublatch.board.schematic.placing.place import HIGHEST, placed
from sublatch.board.schematic.symbols import amp, follower, pole, rheostat
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.parts import (
    GANG,
    STEP,
    Amplifier,
    CapacitorPair,
    FilterPart,
    Line,
    Nodes,
    Path,
    Rheostat,
    Wiring,
)
from sublatch.circuit.networks.elements import GROUND

START_BELOW = 2.9
"""How far below its gang a start resistor is drawn, the gang's designator and value in between."""
ROW = 0.7
COLUMNS = (0.0, 2.0, 7.2)
"""Height of a line of a list, and where its columns begin."""


def wiring_of(sheet: Sheet, chosen: FilterKind, path: str, *, highest: float = HIGHEST) -> Wiring | None:
    """Return a filter's parts with their places: its own, else those that a network of the user's gets here.

    None where there are none, or none within `highest` units; such a network is a list of its parts.
    """
    wired = chosen.wired
    if wired.end is not None:
        return wired
    known = sheet.own_names
    for part in wired.parts:
        known[f"{path}.{_bearer(part)}"] = part.name
    amplifiers = {part.role for part in wired.parts if isinstance(part, Amplifier)}

    def texts(role: str) -> list[str]:
        name = sheet.own_name(f"{path}.{role}")
        if role in amplifiers:
            return [" ".join(name)] if name else []
        part = sheet.component(f"{path}.{role}")
        return [part.reference, *split_value(part.value), *name]

    return placed(wired, texts, highest=highest)


def _bearer(part: FilterPart) -> str:
    """Return the role of the component that bears a part's name."""
    if isinstance(part, Rheostat):
        return part.gang
    return part.pole if isinstance(part, CapacitorPair) else part.role


def draw_wiring(sheet: Sheet, wired: Wiring, path: str, point: Point) -> Point:
    """Draw parts that have their places, and return the end of their output."""
    drawing = _Drawing(sheet, path, point)
    assert wired.end is not None
    drawing.wires(wired.wires)
    for part in wired.parts:
        drawing.part(part)
    for label in wired.labels:
        net = sheet.component(f"{path}.{label.role}").net(label.pin)
        if label.beside is None:
            sheet.name(net, drawing.at(label.place), side=label.side, text=label.text)
        else:
            sheet.name_beside(net, drawing.at(label.place), label.text, drawing.at(label.beside))
    return drawing.at(wired.end)


def draw_listed(sheet: Sheet, prefix: str, point: Point, *, parts: Iterable[Component] | None = None) -> float:
    """Write a list of parts with values and nets, and return the height below it: of those whose role begins so.

    The parts of the board, or those given.
    """
    x, y = point
    for heading, column in zip(("part", "value", "pins and nets"), COLUMNS, strict=True):
        sheet.text(heading, (x + column, y), side="right")
    y -= ROW
    sheet.stroke((x, y + ROW / 2), (x + 18.0, y + ROW / 2))
    for part in sheet.board.components if parts is None else parts:
        if not part.role.startswith(prefix):
            continue
        short = [(pin, net.removeprefix(prefix)) for pin, net in part.pins]
        pins = ", ".join(net if pin in "ab" else f"{pin}: {net}" for pin, net in short)
        for text, column in zip((part.reference, part.value or part.kind, pins), COLUMNS, strict=True):
            sheet.text(text, (x + column, y), side="right")
        for pin, net in part.pins:
            sheet.listed.append((part.reference, pin, net))
        y -= ROW
    return y


def to_bias(sheet: Sheet, role: str, point: Point, *, left: bool = False) -> None:
    """Draw a component down to the bias rail."""
    end = sheet.part(role, point, (point[0], point[1] - 2.0), side="left" if left else "right")
    sheet.drop(BIAS, end, by=0.2)


@dataclass(frozen=True)
class _Drawing:
    """A filter on a sheet: its path on the board, and where its input is."""

    sheet: Sheet
    path: str
    origin: Point

    def at(self, point: Point) -> Point:
        """Return a point on the sheet."""
        return (self.origin[0] + point[0], self.origin[1] + point[1])

    def wires(self, wires: tuple[Path, ...]) -> None:
        """Draw wires."""
        for wire in wires:
            self.sheet.wire(*(self.at(point) for point in wire))

    def part(self, part: FilterPart) -> None:
        """Draw a part where its filter has it."""
        assert part.drawn is not None, f"a filter with an end has a point for each part, and {part} has none"
        if isinstance(part, Amplifier):
            self._amplifier(part, part.drawn)
        elif isinstance(part, Rheostat):
            self._rheostat(part, part.drawn)
        elif isinstance(part, CapacitorPair):
            self._pair(part)
        else:
            self._line(part.role, part.drawn, part.between)

    def _line(self, role: str, line: Line, between: Nodes | None = None) -> None:
        """Draw a part of two pins with its wires, and the bias rail where one of its nodes is ground."""
        self.wires(line.wires)
        start, end = self.at(line.start), self.at(line.end)
        self.sheet.part(f"{self.path}.{role}", start, end, side=line.side)
        if between is not None and GROUND in between:
            self.sheet.drop(BIAS, end if between[1] == GROUND else start, by=0.2)

    def _amplifier(self, part: Amplifier, drawn: Point) -> None:
        """Draw an op-amp: a follower with what leads back, another alone but for a lower plus input at ground."""
        point, role = self.at(drawn), f"{self.path}.{part.role}"
        follows = part.minus == part.output
        middle = (point[0], point[1] - 0.5) if follows else point
        if name := self.sheet.own_name(role):
            self.sheet.text(" ".join(name), (middle[0] + NAME_AT[0], middle[1] + NAME_AT[1]), side="right")
        if follows:
            follower(self.sheet, role, point)
            return
        amp(self.sheet, role, point, plus_up=part.plus_up)
        if part.plus == GROUND:
            pin = (point[0], point[1] + (0.5 if part.plus_up else -0.5))
            self.sheet.drop(BIAS, self.sheet.wire(pin, (pin[0] - 0.4, pin[1])), by=0.5)

    def _rheostat(self, part: Rheostat, drawn: Point) -> None:
        """Draw a gang, its end resistor after it and its start resistor below."""
        x, y = drawn
        across, up = {"right": (1, 0), "left": (-1, 0), "down": (0, -1), "up": (0, 1)}[part.toward]
        joint = (x + GANG * across, y + GANG * up)
        rheostat(self.sheet, f"{self.path}.{part.gang}", self.at(drawn), self.at(joint))
        if part.start_ohm is not None:
            low = y - START_BELOW
            wires = ((drawn, (x, low)), ((joint[0], low), joint))
            self._line(part.start, Line((x, low), (joint[0], low), "below", wires))
        end = (joint[0] + STEP * across, joint[1] + STEP * up)
        self._line(part.end, Line(joint, end, None if across else "left"))
        if GROUND in part.between:
            self.sheet.drop(BIAS, self.at(end if part.between[1] == GROUND else drawn), by=0.2)

    def _pair(self, part: CapacitorPair) -> None:
        """Draw a pole and its two capacitors."""
        drawn = part.drawn
        assert drawn is not None
        self.wires((drawn.lead, *drawn.wires))
        first, second = (self.at(throw) for throw in drawn.throws)
        role, common = f"{self.path}.{part.pole}", self.at(drawn.lead[-1])
        pole(self.sheet, role, common, (first, second), label=self.at(drawn.label), side=drawn.label_side)
        if part.between[0] == GROUND:
            self.sheet.drop(BIAS, self.at(drawn.lead[0]), by=0.2)
        for throw, start, end, side in zip(("flat", "peaked"), drawn.throws, drawn.ends, drawn.sides, strict=True):
            self._line(f"{part.role}.{throw}", Line(start, end, side), ("", part.between[1]))
