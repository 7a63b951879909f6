"""What stands on a drawn sheet, read again from its own coordinates, and the checks that every sheet must pass."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from itertools import combinations, pairwise
from xml.etree import ElementTree

from sublatch.board.netlist import Component
from sublatch.board.schematic.canvas import Point, Sheet
from sublatch.board.schematic.svg import runs_through

SVG = "{http://www.w3.org/2000/svg}"
LETTER_WIDTH = 0.55
"""Mean width of a letter of an ordinary sans-serif font, in ems."""
Box = tuple[float, float, float, float]
Stroke = tuple[Point, Point]


def check_every_component_once(parts: Sequence[Component], svgs: Sequence[str]) -> None:
    """Assert that each component's designator stands once, its value in the lines below."""
    drawn = [text for svg in svgs for text in texts_of(svg)]
    first = [text.split()[0] for text, _ in drawn]
    for part in parts:
        assert first.count(part.reference) == 1, part.reference
        if not part.value:
            continue
        place = first.index(part.reference)
        lines_at = drawn[place : place + 1 + len(part.value.split())]
        written = " ".join(text for text, _ in lines_at)
        assert written.startswith(f"{part.reference} {part.value}"), written
        lines = written[: len(part.reference) + len(part.value) + 1].split()
        assert lines[0] == part.reference
        for (_, above), (text, below) in pairwise(lines_at):
            if text in part.value:
                assert abs(above[1] - below[1]) < 12.0, "a value must stand in the line below its designator"


def check_joined_as_on_the_board(parts: Sequence[Component], drawn: Sequence[Sheet]) -> None:
    """Assert that the pins of some components are drawn once each, and joined as their nets say, by wires or names."""
    net_of = {(part.reference, pin): net for part in parts for pin, net in part.pins}
    found: list[tuple[str, str]] = []
    islands: dict[str, list[bool]] = defaultdict(list)
    for sheet in drawn:
        for pins, names in joined_on(sheet):
            nets = {net_of[pin] for pin in pins} | names
            assert len(nets) == 1, f"{sheet.title}: {sorted(nets)} are drawn as one net"
            islands[nets.pop()].append(bool(names))
            found += pins
        for reference, pin, net in sheet.listed:
            assert net_of[(reference, pin)] == net
            islands[net].append(True)
            found.append((reference, pin))
    assert Counter(found) == Counter(list(net_of))
    unnamed = [net for net, named in islands.items() if len(named) > 1 and not all(named)]
    assert not unnamed, "a net in several places must be named at each"


def check_nothing_is_written_over(title: str, svg: str) -> None:
    """Assert that no text stands on another or is struck through."""
    texts, strokes = texts_of(svg), strokes_of(svg)
    over = [(one, two) for (one, a), (two, b) in combinations(texts, 2) if overlap(a, b)]
    assert not over, f"{title}: texts over each other"
    struck = [text for text, box in texts for stroke in strokes if crosses(stroke, box)]
    assert not struck, f"{title}: lines through texts"


def check_straight_and_apart(sheet: Sheet) -> None:
    """Assert that wires and parts run straight, and that none runs through a part."""
    parts = two_pins(sheet)
    slanting = [line for line in [*sheet.wires, *parts.values()] if not is_straight(line)]
    assert not slanting, f"{sheet.title}: neither across nor up and down"
    run_through = [name for name, part in parts.items() if any(meet_inside(wire, part) for wire in sheet.wires)]
    assert not run_through, f"{sheet.title}: a wire runs through {run_through}"
    pairs = combinations(parts.items(), 2)
    crossed = [(one, two) for (one, a), (two, b) in pairs if meet_inside(a, b) or meet_inside(b, a)]
    assert not crossed, f"{sheet.title}: parts upon each other"


def check_fits_on_paper(title: str, svg: str) -> None:
    """Assert that a sheet fits on paper, can be read, and holds all its texts."""
    root = ElementTree.fromstring(svg)
    left, top, width, height = (float(number) for number in root.attrib["viewBox"].split())
    width_mm = float(root.attrib["width"].removesuffix("mm"))
    assert width_mm <= 180.0
    assert float(root.attrib["height"].removesuffix("mm")) <= 260.0
    sizes = {float(text.attrib["font-size"]) for text in root.iter(f"{SVG}text")}
    assert min(sizes) * width_mm / width >= 2.5
    assert root.attrib["role"] == "img"
    assert root.attrib["aria-label"].startswith(title)
    assert root.findtext(f"{SVG}title") == title
    for _, box in texts_of(svg):
        assert left <= box[0] <= box[2] <= left + width
        assert top <= box[1] <= box[3] <= top + height


def texts_of(svg: str) -> list[tuple[str, Box]]:
    """Return each text of a drawing with the box that it takes, in points."""
    boxes = []
    for element in ElementTree.fromstring(svg).iter(f"{SVG}text"):
        text, size = element.text or "", float(element.attrib["font-size"])
        width = LETTER_WIDTH * size * len(text)
        left = (
            float(element.attrib["x"])
            - {"start": 0.0, "middle": 0.5, "end": 1.0}[element.attrib["text-anchor"]] * width
        )
        base = float(element.attrib["y"])
        boxes.append((text, (left, base - 0.75 * size, left + width, base + 0.02 * size)))
    return boxes


def strokes_of(svg: str) -> list[Stroke]:
    """Return every straight line of a drawing, those of triangles too, in points."""
    strokes: list[Stroke] = []
    for element in ElementTree.fromstring(svg).iter():
        if element.tag == f"{SVG}path":
            last: Point | None = None
            for command, x, y in re.findall(r"([ML])\s*(-?[\d.e-]+)[ ,](-?[\d.e-]+)", element.attrib["d"]):
                place = (float(x), float(y))
                if command == "L" and last is not None:
                    strokes.append((last, place))
                last = place
        elif element.tag == f"{SVG}polygon":
            corners = [tuple(map(float, pair.split(","))) for pair in element.attrib["points"].split()]
            places = [(x, y) for x, y in corners]
            strokes += pairwise([*places, places[0]])
    assert strokes
    return strokes


def overlap(a: Box, b: Box) -> bool:
    """Return whether two boxes share any room."""
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def crosses(stroke: Stroke, box: Box) -> bool:
    """Return whether a stroke passes through a box (Liang and Barsky's clipping)."""
    (x1, y1), (x2, y2) = stroke
    enters, leaves = 0.0, 1.0
    for step, room in ((x1 - x2, x1 - box[0]), (x2 - x1, box[2] - x1), (y1 - y2, y1 - box[1]), (y2 - y1, box[3] - y1)):
        if abs(step) < 1e-9:
            if room <= 0.0:
                return False
        elif step < 0.0:
            enters = max(enters, room / step)
        else:
            leaves = min(leaves, room / step)
    return enters < leaves


def two_pins(sheet: Sheet) -> dict[str, Stroke]:
    """Return from where to where each part of two pins runs, by its designator."""
    places: dict[str, dict[str, Point]] = defaultdict(dict)
    for reference, pin, place in sheet.pins:
        places[reference][pin] = place
    return {reference: (pins["a"], pins["b"]) for reference, pins in places.items() if set(pins) == {"a", "b"}}


def is_straight(stroke: Stroke) -> bool:
    """Return whether a stroke runs across or up and down, and has a length."""
    (x1, y1), (x2, y2) = stroke
    return (abs(x1 - x2) < 1e-6) != (abs(y1 - y2) < 1e-6)


def meet_inside(one: Stroke, part: Stroke) -> bool:
    """Return whether a straight stroke comes upon a straight part elsewhere than at its ends."""
    (x1, y1), (x2, y2) = one
    ends = [sorted(axis) for axis in zip(*part, strict=True)]
    room = [(low + 1e-6, high - 1e-6) if high - low > 1e-6 else (low - 1e-6, high + 1e-6) for low, high in ends]
    (left, right), (bottom, top) = room
    return min(x1, x2) < right and max(x1, x2) > left and min(y1, y2) < top and max(y1, y2) > bottom


def joined_on(sheet: Sheet) -> list[tuple[list[tuple[str, str]], set[str]]]:
    """Return the pins and names on each group of places that wires join; wires that merely cross do not."""
    group: dict[Point, Point] = {}

    def root(place: Point) -> Point:
        place = (round(place[0], 3) + 0.0, round(place[1], 3) + 0.0)
        while group.setdefault(place, place) != place:
            place = group[place]
        return place

    places = [*(end for wire in sheet.wires for end in wire), *(place for _, _, place in sheet.pins)]
    places += [place for _, place in sheet.names]
    for wire in sheet.wires:
        group[root(wire[0])] = root(wire[1])
        for place in places:
            if runs_through(wire, place):
                group[root(place)] = root(wire[0])
    joined: dict[Point, tuple[list[tuple[str, str]], set[str]]] = defaultdict(lambda: ([], set()))
    for reference, pin, place in sheet.pins:
        joined[root(place)][0].append((reference, pin))
    for net, place in sheet.names:
        joined[root(place)][1].add(net)
    return list(joined.values())
