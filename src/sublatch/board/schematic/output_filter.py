"""The drawings of the low-pass filters, each from a place on its input to the end of its output."""

from __future__ import annotations

from collections.abc import Callable

from sublatch.board.netlist import BIAS
from sublatch.board.schematic.canvas import Point, Sheet
from sublatch.board.schematic.symbols import follower, pole, rheostat
from sublatch.checked import Checked
from sublatch.circuit.filters.kinds import Filter, FirstOrder, NoFilter, SecondOrder, SweptSecondOrder, ThirdOrder

STEP = 2.6
"""Length of a resistor with its leads."""
START_BELOW = 2.9
"""How far below its gang a start resistor is drawn, the gang's designator and value in between."""


def has_drawing(chosen: Filter) -> bool:
    """Return whether somebody has drawn this kind of filter; another is a list of its parts."""
    return isinstance(chosen, (NoFilter, *(kind for kind, _ in _drawings())))


def draw_filter(sheet: Sheet, chosen: Filter, path: str, place: Point) -> Point:
    """Draw a filter that has a drawing of its own, and return the end of its output."""
    if isinstance(chosen, NoFilter):
        return place
    return next(draw for kind, draw in _drawings() if isinstance(chosen, kind))(sheet, path, place)


def _drawings() -> tuple[tuple[type[Checked], Callable[[Sheet, str, Point], Point]], ...]:
    """Return what draws each kind of filter."""
    return (
        (FirstOrder, _first_order),
        (SecondOrder, _second_order),
        (ThirdOrder, _third_order),
        (SweptSecondOrder, _swept),
    )


def to_bias(sheet: Sheet, role: str, place: Point, *, left: bool = False) -> None:
    """Draw a component down to the bias rail."""
    end = sheet.part(role, place, (place[0], place[1] - 2.0), side="left" if left else "right")
    sheet.drop(BIAS, end, by=0.2)


def _first_order(sheet: Sheet, path: str, place: Point) -> Point:
    """Draw a resistor, a capacitor to the bias and a follower."""
    x, y = place
    a = sheet.part(f"{path}.resistor", place, (x + STEP, y))
    to_bias(sheet, f"{path}.capacitor", a, left=True)
    return follower(sheet, f"{path}.follower", sheet.wire(a, (a[0] + 1.0, y)))


def _second_order(sheet: Sheet, path: str, place: Point) -> Point:
    """Draw a Sallen-Key low-pass."""
    x, y = place
    a = sheet.part(f"{path}.first_resistor", place, (x + STEP, y))
    b = sheet.part(f"{path}.second_resistor", a, (x + 2 * STEP, y))
    to_bias(sheet, f"{path}.ground_capacitor", b, left=True)
    out = follower(sheet, f"{path}.follower", sheet.wire(b, (b[0] + 1.0, y)))
    _over(sheet, f"{path}.feedback_capacitor", a, out)
    return out


def _third_order(sheet: Sheet, path: str, place: Point) -> Point:
    """Draw a third-order low-pass around one op-amp."""
    x, y = place
    a = sheet.part(f"{path}.first_resistor", place, (x + STEP, y))
    to_bias(sheet, f"{path}.first_ground_capacitor", a)
    b = sheet.part(f"{path}.second_resistor", a, (x + 2 * STEP, y))
    c = sheet.part(f"{path}.third_resistor", b, (x + 3 * STEP, y))
    to_bias(sheet, f"{path}.second_ground_capacitor", c, left=True)
    out = follower(sheet, f"{path}.follower", sheet.wire(c, (c[0] + 1.0, y)))
    _over(sheet, f"{path}.feedback_capacitor", b, out)
    return out


def _over(sheet: Sheet, role: str, start: Point, end: Point) -> None:
    """Draw a capacitor over the top, from a joint to an output."""
    height = start[1] + 1.6
    left, right = (start[0], height), (end[0], height)
    sheet.wire(start, left)
    sheet.part(role, left, right)
    sheet.wire(right, end)


def _swept(sheet: Sheet, path: str, place: Point) -> Point:
    """Draw a Sallen-Key low-pass with a dual-gang pot and a two-pole switch."""
    x, y = place
    gang = 3.0
    rheostat(sheet, f"{path}.first_gang", place, (x + gang, y))
    _across(sheet, f"{path}.first_start", place, (x + gang, y))
    a = sheet.part(f"{path}.first_end", (x + gang, y), (x + gang + STEP, y))
    second = (a[0] + gang, y)
    rheostat(sheet, f"{path}.second_gang", a, second)
    _across(sheet, f"{path}.second_start", a, second)
    b = sheet.part(f"{path}.second_end", second, (second[0] + STEP, y))
    _switched_down(sheet, path, b)
    out = follower(sheet, f"{path}.follower", sheet.wire(b, (b[0] + 1.8, y)))
    _switched_over(sheet, path, a, out)
    return out


def _across(sheet: Sheet, role: str, start: Point, end: Point) -> None:
    """Draw a resistor below a gang, from one end of its track to the other, where there is one."""
    if not sheet.has(role):
        return
    height = start[1] - START_BELOW
    left, right = (start[0], height), (end[0], height)
    sheet.wire(start, left)
    sheet.part(role, left, right, side="below")
    sheet.wire(right, end)


def _switched_down(sheet: Sheet, path: str, joint: Point) -> None:
    """Draw the pole and the two capacitors to the bias, lower down where start resistors need the room."""
    x, y = joint[0], joint[1] - (1.4 if sheet.has(f"{path}.second_start") else 0.0)
    common = sheet.wire(joint, (x, y - 2.4))
    throws = ((x - 0.7, y - 3.2), (x + 0.7, y - 3.2))
    pole(sheet, f"{path}.ground_pole", common, throws, label=(x - 1.1, y - 2.6), side="left")
    for throw, place in zip(("flat", "peaked"), throws, strict=True):
        end = sheet.part(
            f"{path}.ground_capacitor.{throw}",
            place,
            (place[0], y - 5.2),
            side="left" if throw == "flat" else "right",
        )
        sheet.drop(BIAS, end, by=0.2)


def _switched_over(sheet: Sheet, path: str, joint: Point, out: Point) -> None:
    """Draw the pole and the two capacitors that lead back from the output."""
    x, y = joint
    common = sheet.wire(joint, (x, y + 2.7), (x + 0.5, y + 2.7))
    throws = ((x + 1.5, y + 3.6), (x + 1.5, y + 1.8))
    pole(sheet, f"{path}.feedback_pole", common, throws, label=(x - 0.25, y + 2.7), side="left")
    for throw, place in zip(("flat", "peaked"), throws, strict=True):
        end = sheet.part(f"{path}.feedback_capacitor.{throw}", place, (out[0] - 3.0, place[1]))
        sheet.wire(end, (out[0], place[1]))
    sheet.wire((out[0], y + 3.6), (out[0], y + 1.8), out)
