"""A filter that nobody has drawn, such as a network of the user's own, as a list of its parts and nets."""

from __future__ import annotations

from collections.abc import Iterable

from sublatch.board.netlist import Component
from sublatch.board.schematic.canvas import Point, Sheet

ROW = 0.7
COLUMNS = (0.0, 2.0, 7.2)


def draw_listed(sheet: Sheet, prefix: str, place: Point, *, parts: Iterable[Component] | None = None) -> float:
    """Write each part whose role begins so, with its value and its nets, and return the height below the list.

    Of all parts of the board, or of those given.
    """
    x, y = place
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
