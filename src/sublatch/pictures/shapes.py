"""A drawing of plain SVG shapes in millimetres as PNG, as large in print as it is drawn.

It knows the few shapes that the drawings of boards are made of: rectangles, circles, lines, paths of straight steps and
of half circles, texts, and drawings within drawings. It draws what the SVG says, so that both are one drawing.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from math import cos, pi, sin
from typing import Any
from xml.etree import ElementTree

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Circle, FancyBboxPatch, PathPatch
from matplotlib.path import Path
from matplotlib.textpath import TextPath
from matplotlib.transforms import Affine2D

DPI = 600
MM_PER_INCH, POINTS_PER_INCH = 25.4, 72.0
NARROWER = 0.88
"""Width of letters over those of the font that is at hand everywhere: boards' labels reckon with an ordinary one."""
ARC_STEPS = 24
Point = tuple[float, float]
_STEP = re.compile(r"([MmhvlaHVL])|(-?\d*\.?\d+)")
_ARGUMENTS = {"M": 2, "l": 2, "h": 1, "v": 1, "a": 7}


def shapes_png(svg: str, *, software: str) -> bytes:
    """Return an SVG drawing as PNG.

    Parameters
    ----------
    svg
        A drawing whose width and height are in mm, and whose units are too.
    software
        What is noted in the file as its maker.

    Raises
    ------
    ValueError
        When there is a shape in it that is not known.
    """
    root = ElementTree.fromstring(svg)
    width, height = (float(root.attrib[side].removesuffix("mm")) for side in ("width", "height"))
    figure = Figure(figsize=(width / MM_PER_INCH, height / MM_PER_INCH))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0.0, width), ylim=(height, 0.0))
    axes.axis("off")
    _draw(axes, root, (0.0, 0.0))
    FigureCanvasAgg(figure)
    data = io.BytesIO()
    figure.savefig(data, format="png", dpi=DPI, facecolor="white", metadata={"Software": software})
    return data.getvalue()


def _draw(axes: Axes, element: ElementTree.Element, origin: Point) -> None:
    """Draw an element and what is in it, from the place of a drawing's own zero on."""
    name = element.tag.rpartition("}")[2]
    if name == "title":
        return
    if name in SHAPES:
        SHAPES[name](axes, element, origin)
    elif name == "svg":
        left, top, *_ = (float(one) for one in element.get("viewBox", "0 0 0 0").split())
        x, y = (float(element.get(side, "0")) for side in ("x", "y"))
        origin = origin[0] + x - left, origin[1] + y - top
    elif name != "g":
        raise ValueError(f"a shape must be one of {', '.join(SHAPES)}, got {name!r}")
    if name in ("svg", "g"):
        for child in element:
            _draw(axes, child, origin)


def _look(element: ElementTree.Element) -> dict[str, Any]:
    """Return fill and stroke as the keywords of a patch."""
    fill, stroke = element.get("fill", "black"), element.get("stroke", "none")
    points = float(element.get("stroke-width", "1")) * POINTS_PER_INCH / MM_PER_INCH
    alpha = float(element.get("fill-opacity", "1"))
    face = "none" if fill == "none" else (fill, alpha)
    return {"facecolor": face, "edgecolor": stroke, "linewidth": 0.0 if stroke == "none" else points}


def _rectangle(axes: Axes, element: ElementTree.Element, origin: Point) -> None:
    x, y, width, height = (float(element.attrib[side]) for side in ("x", "y", "width", "height"))
    corner = float(element.get("rx", "0"))
    style = f"round,pad=0,rounding_size={corner}" if corner else "square,pad=0"
    place = origin[0] + x, origin[1] + y
    axes.add_patch(FancyBboxPatch(place, width, height, boxstyle=style, **_look(element)))


def _circle(axes: Axes, element: ElementTree.Element, origin: Point) -> None:
    x, y, radius = (float(element.attrib[side]) for side in ("cx", "cy", "r"))
    axes.add_patch(Circle((origin[0] + x, origin[1] + y), radius, **_look(element)))


def _line(axes: Axes, element: ElementTree.Element, origin: Point) -> None:
    ends = [(float(element.attrib[f"x{end}"]), float(element.attrib[f"y{end}"])) for end in "12"]
    _path_patch(axes, element, Path([(origin[0] + x, origin[1] + y) for x, y in ends]), fill=False)


def _path(axes: Axes, element: ElementTree.Element, origin: Point) -> None:
    points, codes = zip(*_steps(element.attrib["d"], origin), strict=True)
    _path_patch(axes, element, Path(points, codes), fill="a" in element.attrib["d"])


def _path_patch(axes: Axes, element: ElementTree.Element, path: Path, *, fill: bool) -> None:
    """Draw a path; one of straight steps alone has no inside."""
    look = _look(element) if fill else _look(element) | {"facecolor": "none"}
    cap = element.get("stroke-linecap", "butt")
    axes.add_patch(PathPatch(path, capstyle="round" if cap == "round" else "butt", **look))


def _steps(text: str, origin: Point) -> Iterator[tuple[Point, int]]:
    """Yield points and codes of a path."""
    words = [letter or float(number) for letter, number in _STEP.findall(text)]
    at, letter = origin, "M"
    while words:
        if isinstance(words[0], str):
            letter = str(words.pop(0))
        if letter not in _ARGUMENTS:
            raise ValueError(f"a step must be one of {', '.join(_ARGUMENTS)}, got {letter!r}")
        given = [float(words.pop(0)) for _ in range(_ARGUMENTS[letter])]
        if letter == "M":
            at = origin[0] + given[0], origin[1] + given[1]
            yield at, int(Path.MOVETO)
        elif letter == "a":
            yield from _half_circle(at, given)
            at = at[0] + given[5], at[1] + given[6]
        else:
            right, down = {"l": given, "h": [*given, 0.0], "v": [0.0, *given]}[letter][:2]
            at = at[0] + right, at[1] + down
            yield at, int(Path.LINETO)


def _half_circle(at: Point, given: list[float]) -> Iterator[tuple[Point, int]]:
    """Yield a half circle to the right as steps too small to see, above its ends or below as its sweep says."""
    radius, side = given[0], 1.0 if given[4] == 0.0 else -1.0
    for step in range(1, ARC_STEPS + 1):
        angle = pi * (1.0 - step / ARC_STEPS)
        yield (at[0] + radius * (1.0 + cos(angle)), at[1] + side * radius * sin(angle)), int(Path.LINETO)


def _text(axes: Axes, element: ElementTree.Element, origin: Point) -> None:
    size = float(element.attrib["font-size"])
    letters = TextPath((0.0, 0.0), element.text or "", size=size)
    width = NARROWER * letters.get_extents().width
    left = origin[0] + float(element.attrib["x"]) - (width / 2 if element.get("text-anchor") == "middle" else 0.0)
    start = NARROWER * letters.get_extents().x0
    place = Affine2D().scale(NARROWER, -1.0).translate(left - start, origin[1] + float(element.attrib["y"]))
    axes.add_patch(PathPatch(letters.transformed(place), facecolor=element.get("fill", "black"), linewidth=0.0))


SHAPES: dict[str, Callable[[Axes, ElementTree.Element, Point], None]] = {
    "rect": _rectangle,
    "circle": _circle,
    "line": _line,
    "path": _path,
    "text": _text,
}
"""What draws each sort of shape."""
