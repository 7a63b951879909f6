"""The proof of a layout: what its two drawings join, read back from their shapes, against the netlist.

This module shares nothing with the search. It knows millimetres, not holes: a strip is a rectangle, a cut a disc that
parts it, a leg a point, a link a line from point to point. The copper side is drawn as it is seen from below, so its
left is the component side's right.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from xml.etree import ElementTree

Point = tuple[float, float]
NEAR_MM = 0.3
"""How near a point must lie to another to be the same hole."""


@dataclass
class Copper:
    """What is joined so far: things by number, each with another that stands for it."""

    parent: list[int] = field(default_factory=list)

    def add(self) -> int:
        """Return the number of a new thing, joined to nothing."""
        self.parent.append(len(self.parent))
        return len(self.parent) - 1

    def root(self, thing: int) -> int:
        """Return what stands for all that a thing is joined to."""
        while self.parent[thing] != thing:
            thing = self.parent[thing]
        return thing

    def join(self, one: int, other: int) -> None:
        """Join two things."""
        self.parent[self.root(one)] = self.root(other)


@dataclass(frozen=True)
class Shapes:
    """What both drawings show, all seen from the component side, in millimetres.

    Attributes
    ----------
    strips
        Left, top, right and bottom of each strip.
    cuts
        Middle and radius of each cut.
    links
        Both ends of each link or wire.
    legs
        Part and leg, as in ``U1.3``, and its point.
    """

    strips: tuple[tuple[float, float, float, float], ...]
    cuts: tuple[tuple[float, float, float], ...]
    links: tuple[tuple[Point, Point], ...]
    legs: tuple[tuple[str, Point], ...]


def faults(component_svg: str, copper_svg: str, netlist: Iterable[tuple[str, str, str]]) -> tuple[str, ...]:
    """Return what is wrong with a layout: nothing where its drawings join what the netlist joins, and no more.

    Parameters
    ----------
    component_svg, copper_svg
        Both drawings.
    netlist
        Reference, leg and net; a leg with an empty net must be joined to nothing.

    Returns
    -------
    tuple of str
        A sentence for each net that is open, each pair of nets that is shorted, and each leg that is missing.
    """
    return compared(joined(shapes(component_svg, copper_svg)), netlist)


def shapes(component_svg: str, copper_svg: str) -> Shapes:
    """Return the shapes of two drawings, the copper side's turned over."""
    above, below = ElementTree.fromstring(component_svg), ElementTree.fromstring(copper_svg)
    left, width = _board(below)
    mirror = 2 * left + width
    shift = _board(above)[0] - left
    strips = []
    for element in _of(below, "strip"):
        x, y, w, h = (float(element.get(name, "nan")) for name in ("x", "y", "width", "height"))
        strips.append((mirror - x - w + shift, y, mirror - x + shift, y + h))
    cuts = []
    for element in _of(below, "cut"):
        x, y, radius = (float(element.get(name, "nan")) for name in ("cx", "cy", "r"))
        cuts.append((mirror - x + shift, y, radius))
    links = [_ends(element) for element in _of(above, "link")]
    for element in _of(below, "under"):
        (x, y), (u, v) = _ends(element)
        links.append(((mirror - x + shift, y), (mirror - u + shift, v)))
    legs = [
        (element.get("data-leg", ""), (float(element.get("cx", "nan")), float(element.get("cy", "nan"))))
        for element in _of(above, "leg")
    ]
    return Shapes(tuple(strips), tuple(cuts), tuple(links), tuple(legs))


def joined(found: Shapes) -> list[list[str]]:
    """Return the legs that are joined, group by group."""
    copper = Copper()
    pieces = [
        (strip[1], strip[3], start, end, copper.add())
        for strip in found.strips
        for start, end in _pieces(strip, found.cuts)
    ]
    points: list[tuple[Point, int]] = []

    def at(point: Point) -> int:
        """Return the thing at a point: what already ends there, and the copper that it is soldered to."""
        for there, thing in points:
            if abs(there[0] - point[0]) < NEAR_MM and abs(there[1] - point[1]) < NEAR_MM:
                return thing
        thing = copper.add()
        points.append((point, thing))
        for top, bottom, start, end, piece in pieces:
            if top < point[1] < bottom and start < point[0] < end:
                copper.join(thing, piece)
        return thing

    for one, other in found.links:
        copper.join(at(one), at(other))
    groups: dict[int, list[str]] = {}
    for name, thing in [(name, at(point)) for name, point in found.legs]:
        groups.setdefault(copper.root(thing), []).append(name)
    return list(groups.values())


def compared(groups: Sequence[Sequence[str]], netlist: Iterable[tuple[str, str, str]]) -> tuple[str, ...]:
    """Return where groups of joined legs differ from the netlist."""
    net_of = {f"{part}.{leg}": net or f"nothing ({part}.{leg})" for part, leg, net in netlist}
    drawn = [name for group in groups for name in group]
    found = [f"{name} is not drawn" for name in net_of if name not in drawn]
    found += [f"{name} is drawn but not in the netlist" for name in drawn if name not in net_of]
    found += [f"{name} is drawn twice" for name in dict.fromkeys(drawn) if drawn.count(name) > 1]
    places: dict[str, int] = {}
    for group in groups:
        nets = dict.fromkeys(net_of[name] for name in group if name in net_of)
        if len(nets) > 1:
            found.append(f"short: {' and '.join(nets)} are joined")
        for net in nets:
            places[net] = places.get(net, 0) + 1
    found += [f"open: {net} is in {count} pieces" for net, count in places.items() if count > 1]
    return tuple(found)


def _pieces(
    strip: tuple[float, float, float, float], cuts: Sequence[tuple[float, float, float]]
) -> Iterable[tuple[float, float]]:
    """Yield start and end of what cuts leave of a strip; a cut parts what it covers from edge to edge."""
    left, top, right, bottom = strip
    middle, start = (top + bottom) / 2, left
    for x, y, radius in sorted(cuts):
        reach = (radius**2 - ((bottom - top) / 2 + abs(y - middle)) ** 2) if top < y < bottom else -1.0
        if reach >= 0.0 and left < x < right:
            yield start, x - radius
            start = x + radius
    yield start, right


def _of(root: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    """Return the elements of a class."""
    return [element for element in root.iter() if name in (element.get("class") or "").split()]


def _board(root: ElementTree.Element) -> tuple[float, float]:
    """Return left and width of the board's outline."""
    (outline,) = _of(root, "board")
    return float(outline.get("x", "nan")), float(outline.get("width", "nan"))


def _ends(element: ElementTree.Element) -> tuple[Point, Point]:
    """Return both ends of a line."""
    x, y, u, v = (float(element.get(name, "nan")) for name in ("x1", "y1", "x2", "y2"))
    return (x, y), (u, v)
