"""The schematic of a change: what is added, shaded, with the points where it ties in; and what goes into a wire."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import cos, hypot, pi, sin

from sublatch.board.change.find import Change
from sublatch.board.change.match import HOUSEKEEPING
from sublatch.board.change.points import Point as TiePoint
from sublatch.board.change.points import lead_name
from sublatch.board.netlist import STILL, Component
from sublatch.board.schematic.blocks import sheets
from sublatch.board.schematic.canvas import Box, Point, Sheet
from sublatch.board.schematic.svg import svg_text, text_boxes

RADIUS, LETTER_GAP = 0.3, 0.12
"""Of the circle around a point's letter, and how far it keeps from everything else, in units."""
DISTANCES, TURNS = (0.55, 0.75, 1.0, 1.3, 1.6, 2.0), 16
"""How far from its place a letter may stand, and in how many directions."""
NEAR = 1.0
"""How far the sign of a rail may be from the pin that it belongs to."""
SHADE_AROUND = 0.5
"""How far a shade reaches beyond the pins."""


def change_svg(change: Change, points: Sequence[TiePoint]) -> list[tuple[str, str]]:
    """Return title and SVG of each drawing of a change.

    Parameters
    ----------
    change
        The change.
    points
        Its points (see `points`).

    Returns
    -------
    list of tuple
        The sheets of the schematic after the change on which parts are added, then what goes into wires.
    """
    steps = (one for one in change.operations if one.kind in ("add", "use"))
    soldered = [part for one in steps for part in one.new or one.put if part.control is None]
    shaded = {part.reference for one in change.operations if one.kind != "replace" for part in one.new}
    blocks = {part.block for part in soldered if part.block != HOUSEKEEPING}
    own = {part.reference for part in change.changed.components if part.block in blocks}
    fresh = {part.reference for part in soldered}
    drawn = [sheet for sheet in sheets(change.changed) if _references(sheet) & own & fresh]
    letters = {change.net_after(point.net): point.letter for point in points}
    for sheet in drawn:
        _shade(sheet, shaded)
        _mark(sheet, letters, shaded)
    inserted = _series(change, letters)
    return [(sheet.title, svg_text(sheet)) for sheet in (*drawn, *inserted)]


def _references(sheet: Sheet) -> set[str]:
    """Return the designators of all that stands on a sheet."""
    return {reference for reference, _, _ in sheet.pins} | {reference for reference, _, _ in sheet.listed}


def _shade(sheet: Sheet, fresh: set[str]) -> None:
    """Shade what is added."""
    for reference in dict.fromkeys(reference for reference, _, _ in sheet.pins if reference in fresh):
        sheet.shades.append(_around(sheet, reference))


def _around(sheet: Sheet, reference: str) -> Box:
    """Return the area of a component: that of its pins and a little more across them."""
    xs, ys = zip(*(point for one, _, point in sheet.pins if one == reference), strict=True)
    wide = 0.0 if max(xs) - min(xs) > SHADE_AROUND else SHADE_AROUND
    high = 0.0 if max(ys) - min(ys) > SHADE_AROUND else SHADE_AROUND
    return (min(xs) - wide, min(ys) - high, max(xs) + wide, max(ys) + high)


def _series(change: Change, letters: dict[str, str]) -> list[Sheet]:
    """Return a drawing of what goes into wires, one part below the other; none where nothing does."""
    inserts = [one for one in change.operations if one.kind == "insert"]
    if not inserts:
        return []
    sheet = Sheet(change.changed, "Parts in series with a wire")
    for row, operation in enumerate(inserts):
        y = -2.0 * row
        (part,) = operation.new
        part = next(one for one in change.changed.components if one.reference == part.reference)
        sheet.wire((-0.8, y), (0.0, y))
        sheet.part(part.role, (0.0, y), (2.6, y))
        sheet.wire((2.6, y), (3.4, y))
        for x, side, net in ((-0.8, "left", part.net("a")), (3.4, "right", part.net("b"))):
            letter = letters.get(net, "")
            sheet.circle((x + (RADIUS if side == "right" else -RADIUS), y), RADIUS)
            sheet.text(letter, (x + (RADIUS if side == "right" else -RADIUS), y))
            sheet.text(_others(change, net, part), (x + (0.8 if side == "right" else -0.8), y), side=side)
    _shade(sheet, {part.reference for one in inserts for part in one.new})
    return [sheet]


def _others(change: Change, net: str, part: Component) -> str:
    """Return the other leads on a net, in words."""
    leads = (lead_name(one, pin) for one, pin in change.changed.on_net(net) if one.reference != part.reference)
    return ", ".join(dict.fromkeys(leads))


def _mark(sheet: Sheet, letters: dict[str, str], fresh: set[str]) -> None:
    """Write each point's letter in a circle beside its net, where there is room; a rail's where something is added."""
    nets = {(part.reference, pin): net for part in sheet.board.components for pin, net in part.pins}
    for net, letter in letters.items():
        pins = [(reference, point) for reference, pin, point in sheet.pins if nets[reference, pin] == net]
        names = [point for name, point in sheet.names if name == net]
        if net in STILL:
            added = [point for reference, point in pins if reference in fresh]
            names = [name for name in names if any(hypot(name[0] - x, name[1] - y) < NEAR for x, y in added)]
            pins = []
        if places := [*names, *(point for _, point in pins)]:
            _letter(sheet, letter, places)


def _letter(sheet: Sheet, letter: str, places: Sequence[Point]) -> None:
    """Write a letter in a circle at the first of some places that has room, with a line to it."""
    boxes = [*text_boxes(sheet), *_bodies(sheet)]
    for distance, place, turn in product(DISTANCES, places, range(TURNS)):
        angle = 2.0 * pi * (turn + 2) / TURNS
        centre = (place[0] + distance * cos(angle), place[1] + distance * sin(angle))
        if _is_free(sheet, centre, boxes):
            edge = 1.0 - RADIUS / distance
            sheet.stroke(place, (place[0] + edge * (centre[0] - place[0]), place[1] + edge * (centre[1] - place[1])))
            sheet.circle(centre, RADIUS)
            sheet.text(letter, centre)
            return


def _is_free(sheet: Sheet, centre: Point, boxes: Sequence[Box]) -> bool:
    """Return whether a circle meets no text, symbol, wire or pin."""
    reach = RADIUS + LETTER_GAP
    x, y = centre
    if any(left - reach < x < right + reach and bottom - reach < y < top + reach for left, bottom, right, top in boxes):
        return False
    ends = [(point, point) for _, _, point in sheet.pins] + [(point, point) for _, point in sheet.names]
    return all(_distance(centre, *wire) > reach for wire in (*sheet.wires, *ends))


def _bodies(sheet: Sheet) -> Iterator[Box]:
    """Yield the areas of all symbols."""
    for reference in dict.fromkeys(reference for reference, _, _ in sheet.pins):
        yield _around(sheet, reference)


def _distance(point: Point, start: Point, end: Point) -> float:
    """Return how far a point is from a straight wire."""
    (x, y), (x1, y1), (x2, y2) = point, start, end
    length = (x2 - x1) ** 2 + (y2 - y1) ** 2
    share = 0.0 if length == 0.0 else min(1.0, max(0.0, ((x - x1) * (x2 - x1) + (y - y1) * (y2 - y1)) / length))
    return hypot(x - x1 - share * (x2 - x1), y - y1 - share * (y2 - y1))
