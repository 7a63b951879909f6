"""The drawings of a change, read back from their SVG: letters stand free, and shades lie under what is added."""

from __future__ import annotations

from functools import cache
from math import hypot
from xml.etree import ElementTree

import pytest

from board_cases import circuit_of
from sublatch.board import board
from sublatch.board.change.find import Change, find_change
from sublatch.board.change.page.drawing import change_svg
from sublatch.board.change.points import points

SVG = "{http://www.w3.org/2000/svg}"
LETTER_WIDTH = 0.55
"""Mean width of a letter of an ordinary sans-serif font, in ems."""
LEAST_RADIUS = 4.0
"""Of a circle around a letter, in points; a smaller one is a dot at the end of a wire."""
PAIRS = [
    ("gated-first-order", "hardwired"),
    ("hardwired", "gated-first-order"),
    ("gated-open", "polarity-third-order"),
    ("polarity-third-order-zero-crossing", "swept-with-a-start"),
    ("gated-first-order", "swept-state-variable"),
    ("gated-open", "gated-open-overtone"),
]
every_pair = pytest.mark.parametrize("pair", PAIRS)


@cache
def change_of(pair: tuple[str, str]) -> Change:
    return find_change(*(board(circuit_of(case)) for case in pair))


@cache
def drawings(pair: tuple[str, str]) -> list[tuple[str, str]]:
    return change_svg(change_of(pair), points(change_of(pair)))


def circles(svg: str) -> list[tuple[float, float, float]]:
    """Return centre and radius of the circles around letters."""
    found = [
        tuple(float(element.attrib[name]) for name in ("cx", "cy", "r"))
        for element in ElementTree.fromstring(svg).iter(f"{SVG}circle")
    ]
    return [(x, y, radius) for x, y, radius in found if radius > LEAST_RADIUS]


def texts(svg: str) -> list[tuple[str, tuple[float, float, float, float]]]:
    """Return each text with left, top, right and bottom of the box that it takes, in points."""
    boxes = []
    for element in ElementTree.fromstring(svg).iter(f"{SVG}text"):
        text, size = element.text or "", float(element.attrib["font-size"])
        width = LETTER_WIDTH * size * len(text)
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[element.attrib["text-anchor"]]
        left, base = float(element.attrib["x"]) - share * width, float(element.attrib["y"])
        boxes.append((text, (left, base - 0.75 * size, left + width, base)))
    return boxes


def distance(x: float, y: float, box: tuple[float, float, float, float]) -> float:
    """Return how far a point is from a box."""
    left, top, right, bottom = box
    return hypot(max(left - x, 0.0, x - right), max(top - y, 0.0, y - bottom))


@every_pair
def test_every_letter_stands_alone_in_its_circle(pair) -> None:
    letters = {point.letter for point in points(change_of(pair))}
    for _, svg in drawings(pair):
        for x, y, radius in circles(svg):
            near = [text for text, box in texts(svg) if distance(x, y, box) < radius]
            assert len(near) == 1, near
            assert near[0] in letters
        for number, (x, y, radius) in enumerate(circles(svg)):
            assert all(hypot(x - u, y - v) > radius + r for u, v, r in circles(svg)[number + 1 :])


@every_pair
def test_what_is_added_is_drawn_and_shaded(pair) -> None:
    """One shade for each part that has a place on the drawing."""
    change = change_of(pair)
    added = {
        part.reference
        for one in change.operations
        if one.kind in ("add", "insert")
        for part in one.new
        if part.block != "packages" and part.control is None
    }
    drawn = {text for _, svg in drawings(pair) for text, _ in texts(svg)}
    assert added <= drawn
    shades = sum(
        element.attrib.get("fill") == "#d9d9d9"
        for _, svg in drawings(pair)
        for element in ElementTree.fromstring(svg).iter(f"{SVG}rect")
    )
    assert shades >= len(added)


def test_the_points_of_the_hand_written_change_are_on_its_drawings() -> None:
    """Those of the filter and of the trim; the drive switch and the direct pot are joined with a wire, not drawn."""
    letters = {text for _, svg in drawings(PAIRS[0]) for text, _ in texts(svg)}
    assert {"C", "D", "E", "G", "H"} <= letters


def test_a_change_of_a_value_has_no_drawing() -> None:
    before = circuit_of("gated-open")
    change = find_change(board(before), board(circuit_of("gated-open", output__ground_resistor="12k")))
    assert change_svg(change, points(change)) == []
