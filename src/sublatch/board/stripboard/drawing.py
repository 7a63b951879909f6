"""The two sides of a layout as SVG, in millimetres, as large as the board or a round number of times as large."""

from __future__ import annotations

from math import hypot
from typing import Literal
from xml.sax.saxutils import escape, quoteattr

from sublatch.board.stripboard.bodies import PITCH_MM
from sublatch.board.stripboard.labels import Box, Label, place_labels
from sublatch.board.stripboard.records import Hole, Layout, Placed, is_insulated, strip_name

Side = Literal["component", "copper"]
STRIP_MM, CUT_MM, HOLE_MM, LEG_MM, LINK_MM = 2.1, 1.25, 0.4, 0.45, 0.6
"""Width of a strip, radius of a cut, of a hole and of a leg, and width of a link as drawn."""
MARGIN_MM = 3.2
"""Round the board, for the letters of the strips and the numbers of the columns."""
INSULATED_MM = 0.4
"""Width of an insulated link as drawn."""
INK, COPPER, BODY, LINK, BOARD = "#1b1b1b", "#d9a066", "#ffffff", "#1f5fae", "#f6efdd"


def layout_svg(layout: Layout, side: Side, *, scale: float = 1.0) -> str:
    """Return one side of a layout as SVG.

    Parameters
    ----------
    layout
        A proved layout.
    side
        The component side, or the copper side as it is seen from below: left and right have changed places.
    scale
        How many times as large as the board it is in print.

    Raises
    ------
    ValueError
        When the layout is not proved.
    """
    if not layout.proved:
        raise ValueError("a layout that is not proved is not drawn")
    return draw(layout, side, scale=scale)


def draw(layout: Layout, side: Side, *, scale: float = 1.0) -> str:
    """Return one side of a layout as SVG, proved or not; for the proof itself."""
    width, height = layout.size_mm
    whole = width + 2 * MARGIN_MM, height + 2 * MARGIN_MM
    alt = f"{side.capitalize()} side, {layout.columns} × {layout.rows} holes"
    view = f"{-MARGIN_MM:g} {-MARGIN_MM:g} {whole[0]:.2f} {whole[1]:.2f}"
    inside = _component_side(layout) if side == "component" else _copper_side(layout)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label={quoteattr(alt)} viewBox="{view}" '
        f'width="{whole[0] * scale:.2f}mm" height="{whole[1] * scale:.2f}mm" font-family="sans-serif">'
        f'<rect class="board" x="0" y="0" width="{width:.3f}" height="{height:.3f}" fill="{BOARD}" '
        f'stroke="{INK}" stroke-width="0.15"/>{"".join(inside)}{"".join(_axes(layout, side))}</svg>'
    )


def _component_side(layout: Layout) -> list[str]:
    """Return what is seen from above: bodies over links, legs over bodies, names over all."""
    made = [
        _line("link insulated" if is_insulated(layout, (one, other)) else "link", one, other, LINK)
        for one, other in layout.links
        if layout.kind == "stripboard"
    ]
    made = [*_holes(layout, "component"), *map(_body, layout.parts), *made]
    for part in layout.parts:
        for leg, hole in part.legs:
            x, y = _point(hole)
            made.append(
                f'<circle class="leg" data-leg={quoteattr(f"{part.reference}.{leg}")} cx="{x:.3f}" cy="{y:.3f}" '
                f'r="{LEG_MM}" fill="{BODY if part.outline == "wire" else INK}" stroke="{INK}" stroke-width="0.15"/>'
            )
    return made + [_text(label) for label in component_labels(layout)]


def _copper_side(layout: Layout) -> list[str]:
    """Return what is seen from below: strips with their cuts, and the end of every leg and link."""
    width, _ = layout.size_mm
    made = []
    if layout.kind == "stripboard":
        made += [
            f'<rect class="strip" x="0.2" y="{_point((0, row))[1] - STRIP_MM / 2:.3f}" width="{width - 0.4:.3f}" '
            f'height="{STRIP_MM}" fill="{COPPER}"/>'
            for row in range(layout.rows)
        ]
    made += [_dot("cut", _below(layout, hole), CUT_MM, BOARD, stroke=INK) for hole in layout.cuts]
    made += _holes(layout, "copper")
    made += [_cross(_below(layout, hole)) for hole in layout.cuts]
    for one, other in layout.links:
        if layout.kind == "perfboard":
            made.append(_line("under", _below(layout, one), _below(layout, other), LINK))
        else:
            made += [_dot("pad", _below(layout, hole), LEG_MM, LINK, stroke=LINK) for hole in (one, other)]
    for part in layout.parts:
        fill = BODY if part.outline == "wire" else INK
        made += [_dot("pad", _below(layout, hole), LEG_MM, fill, stroke=INK) for _, hole in part.legs]
    return made + [_text(label) for label in copper_labels(layout)]


def component_labels(layout: Layout) -> list[Label]:
    """Return the names on the component side: each part's, each wire's, and a 1 at the first pin of each chip."""
    ends = [hole for link in layout.links for hole in link]
    taken = [_round(_point(hole)) for part in layout.parts for _, hole in part.legs]
    taken += [_round(_point(hole)) for hole in ends]
    if layout.kind == "stripboard":
        taken += [box for one, other in layout.links for box in _along(_point(one), _point(other))]
    names = []
    for part in sorted(layout.parts, key=lambda part: -len(part.legs)):
        if part.outline == "chip":
            names.append(("1", *_towards(part)))
        left, top, right, bottom = part.boxes_mm[0]
        names.append((part.reference, (left + right) / 2 + PITCH_MM / 2, (top + bottom) / 2 + PITCH_MM / 2))
    return place_labels(names, taken=taken, board=_board(layout))


def copper_labels(layout: Layout) -> list[Label]:
    """Return the names on the copper side: a chip's first pin and each wire."""
    taken = [_round(_point(_below(layout, hole))) for part in layout.parts for _, hole in part.legs]
    taken += [_round(_point(_below(layout, hole))) for link in layout.links for hole in link]
    taken += [_round(_point(_below(layout, hole)), CUT_MM) for hole in layout.cuts]
    names = []
    for part in layout.parts:
        if part.outline in ("chip", "wire"):
            x, y = _point(_below(layout, part.legs[0][1]))
            names.append((f"{part.reference}.1" if part.outline == "chip" else part.reference, x, y))
    return place_labels(names, taken=taken, board=_board(layout))


def _body(part: Placed) -> str:
    """Return a part's body and its leads."""
    shapes = []
    for index in reversed(range(len(part.boxes_mm))):
        left, top, right, bottom = (side + PITCH_MM / 2 for side in part.boxes_mm[index])
        look = f'fill="{BODY}" fill-opacity="0.85" stroke="{INK}" stroke-width="0.15"'
        if index:
            look = f'fill="{INK}" fill-opacity="0.5"'
        if index == 0 and (part.standing or part.outline in ("can", "wire")):
            shapes.append(
                f'<circle class="body" cx="{(left + right) / 2:.3f}" cy="{(top + bottom) / 2:.3f}" '
                f'r="{(right - left) / 2:.3f}" {look}/>'
            )
        else:
            corner = 0.6 if part.outline == "rod" and index == 0 else 0.0
            shapes.append(
                f'<rect class="{"lead" if index else "body"}" x="{left:.3f}" y="{top:.3f}" width="{right - left:.3f}" '
                f'height="{bottom - top:.3f}" rx="{corner}" {look}/>'
            )
    if part.outline == "chip":
        shapes.append(_notch(part))
    if part.outline == "can":
        shapes.append(_plus(part))
    return f"<g><title>{escape(f'{part.reference} {part.value}')}</title>{''.join(shapes)}</g>"


def _notch(part: Placed) -> str:
    """Return the notch of a chip, at the end of pin 1."""
    first, last = _point(part.legs[0][1]), _point(part.legs[-1][1])
    x = (first[0] + last[0]) / 2
    down = part.legs[1][1][1] > part.legs[0][1][1]
    y = (part.boxes_mm[0][1] if down else part.boxes_mm[0][3]) + PITCH_MM / 2
    return (
        f'<path class="notch" d="M{x - 0.8:.3f} {y:.3f}a0.8 0.8 0 0 {0 if down else 1} 1.6 0" fill="{BOARD}" '
        f'stroke="{INK}" stroke-width="0.15"/>'
    )


def _plus(part: Placed) -> str:
    """Return the plus sign of an electrolytic capacitor, beside its first leg and away from the second."""
    (x, y), (u, v) = (_point(hole) for _, hole in part.legs)
    away = max(abs(x - u), abs(y - v))
    x, y = x + (x - u) / away * 0.85, y + (y - v) / away * 0.85
    return (
        f'<path class="plus" d="M{x - 0.3:.3f} {y:.3f}h0.6M{x:.3f} {y - 0.3:.3f}v0.6" stroke="{INK}" '
        'stroke-width="0.15"/>'
    )


def _towards(part: Placed) -> tuple[float, float]:
    """Return the point beside a chip's first pin, towards its middle."""
    (x, y), (u, _) = _point(part.legs[0][1]), _point(part.legs[-1][1])
    return x + (1.1 if u > x else -1.1), y


def _holes(layout: Layout, side: Side) -> list[str]:
    """Return every hole; the strips below show faintly on the component side."""
    made = []
    if side == "component" and layout.kind == "stripboard":
        for row in range(layout.rows):
            y = _point((0, row))[1]
            made.append(
                f'<rect x="0.2" y="{y - STRIP_MM / 2:.3f}" width="{layout.size_mm[0] - 0.4:.3f}" '
                f'height="{STRIP_MM}" fill="{COPPER}" fill-opacity="0.22"/>'
            )
    for row in range(layout.rows):
        made += [_dot("hole", (column, row), HOLE_MM, "#fff", stroke="#999") for column in range(layout.columns)]
    return made


def _axes(layout: Layout, side: Side) -> list[str]:
    """Return the strips' letters and the columns' numbers round the board."""
    width, height = layout.size_mm
    made = []
    for row in range(layout.rows):
        y = _point((0, row))[1]
        made += [_text(Label(strip_name(row), x, y, 1.5)) for x in (-1.5, width + 1.5)]
    for column in range(layout.columns):
        x = _point((column, 0))[0]
        number = str(layout.columns - column if side == "copper" else column + 1)
        made += [_text(Label(number, x, y, 1.5)) for y in (-1.4, height + 1.4)]
    return made


def _point(hole: Hole) -> tuple[float, float]:
    """Return the middle of a hole on the drawing."""
    return (hole[0] + 0.5) * PITCH_MM, (hole[1] + 0.5) * PITCH_MM


def _below(layout: Layout, hole: Hole) -> Hole:
    """Return where a hole is seen from below."""
    return layout.columns - 1 - hole[0], hole[1]


def _board(layout: Layout) -> Box:
    """Return the board's outline."""
    return 0.0, 0.0, *layout.size_mm


def _round(point: tuple[float, float], radius: float = LEG_MM + 0.1) -> Box:
    """Return the box round a disc."""
    return point[0] - radius, point[1] - radius, point[0] + radius, point[1] + radius


def _along(one: tuple[float, float], other: tuple[float, float]) -> list[Box]:
    """Return boxes along a link that cover it from end to end."""
    steps = 1 + int(hypot(other[0] - one[0], other[1] - one[1]) / LINK_MM)
    shares = [step / steps for step in range(steps + 1)]
    points = [(one[0] + (other[0] - one[0]) * share, one[1] + (other[1] - one[1]) * share) for share in shares]
    return [_round(point, LINK_MM / 2) for point in points]


def _dot(name: str, hole: Hole, radius: float, fill: str, *, stroke: str) -> str:
    """Return a disc on a hole."""
    x, y = _point(hole)
    return (
        f'<circle class="{name}" cx="{x:.3f}" cy="{y:.3f}" r="{radius}" fill="{fill}" stroke="{stroke}" '
        'stroke-width="0.1"/>'
    )


def _line(name: str, one: Hole, other: Hole, colour: str) -> str:
    """Return a line from hole to hole."""
    (x, y), (u, v) = _point(one), _point(other)
    width = INSULATED_MM if "insulated" in name else LINK_MM
    return (
        f'<line class="{name}" x1="{x:.3f}" y1="{y:.3f}" x2="{u:.3f}" y2="{v:.3f}" stroke="{colour}" '
        f'stroke-width="{width}" stroke-linecap="round"/>'
    )


def _cross(hole: Hole) -> str:
    """Return the cross that marks a cut."""
    x, y = _point(hole)
    return (
        f'<path d="M{x - 0.7:.3f} {y - 0.7:.3f}l1.4 1.4M{x - 0.7:.3f} {y + 0.7:.3f}l1.4 -1.4" stroke="{INK}" '
        'stroke-width="0.25"/>'
    )


def _text(label: Label) -> str:
    """Return a name."""
    return (
        f'<text x="{label.x:.3f}" y="{label.y + 0.36 * label.size_mm:.3f}" font-size="{label.size_mm:g}" '
        f'text-anchor="middle" fill="{INK}">{escape(label.text)}</text>'
    )
