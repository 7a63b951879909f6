"""From a sheet to the text of its SVG."""

from __future__ import annotations

from collections import Counter
from xml.etree import ElementTree

from sublatch.board.schematic.canvas import FONT_PT, UNIT_MM, Box, Point, Sheet
from sublatch.board.schematic.placing.lettering import CHARACTER, LETTER

SVG = "http://www.w3.org/2000/svg"
MM_PER_PT = 25.4 / 72.0
MARGIN_PT = 3.0
UNIT_PT = UNIT_MM / MM_PER_PT
HALF_CAPITAL = 0.36
"""Half the height of a capital, in ems."""
SHADE = "#d9d9d9"
"""Of a shaded area; it stays light in print."""


def svg_text(sheet: Sheet) -> str:
    """Return a sheet as SVG, sized in millimetres, its title and its parts also told to those who cannot see it."""
    import schemdraw.elements as elm

    for point in junctions(sheet):
        sheet.drawing += elm.Dot(radius=0.08).at(point)
    ElementTree.register_namespace("", SVG)
    root = ElementTree.fromstring(sheet.drawing.get_imagedata("svg"))
    left, top, width, height = _frame(root, sheet)
    references = dict.fromkeys(reference for reference, _, _ in sheet.pins)
    root.attrib.clear()
    root.attrib |= {
        "viewBox": f"{left:.2f} {top:.2f} {width:.2f} {height:.2f}",
        "width": f"{width * MM_PER_PT:.2f}mm",
        "height": f"{height * MM_PER_PT:.2f}mm",
        "role": "img",
        "aria-label": f"{sheet.title}: {', '.join(references)}",
    }
    _clean(root)
    title = ElementTree.Element(f"{{{SVG}}}title")
    title.text = sheet.title
    paper = {"x": f"{left:.2f}", "y": f"{top:.2f}", "width": f"{width:.2f}", "height": f"{height:.2f}", "fill": "white"}
    root.insert(0, title)
    root.insert(1, ElementTree.Element(f"{{{SVG}}}rect", paper))
    for number, (x1, y1, x2, y2) in enumerate(sheet.shades, start=2):
        area = {"x": x1, "y": -y2, "width": x2 - x1, "height": y2 - y1}
        places = {name: f"{units * UNIT_PT:.2f}" for name, units in area.items()}
        root.insert(number, ElementTree.Element(f"{{{SVG}}}rect", {**places, "fill": SHADE}))
    _write(root, sheet)
    return ElementTree.tostring(root, encoding="unicode")


def junctions(sheet: Sheet) -> list[Point]:
    """Return where three or more ends meet, a wire that runs on counting as two."""
    ends = Counter(_rounded(point) for wire in sheet.wires for point in wire)
    ends.update(_rounded(point) for _, _, point in sheet.pins)
    return [point for point in ends if ends[point] + 2 * sum(runs_through(wire, point) for wire in sheet.wires) >= 3]


def runs_through(wire: tuple[Point, Point], point: Point) -> bool:
    """Return whether a point lies on a wire, but at neither end."""
    (x1, y1), (x2, y2) = (_rounded(end) for end in wire)
    x, y = _rounded(point)
    if x1 == x2 == x:
        return min(y1, y2) < y < max(y1, y2)
    return y1 == y2 == y and min(x1, x2) < x < max(x1, x2)


def _rounded(point: Point) -> Point:
    """Return a point to a thousandth of a unit, so that sums of decimals compare."""
    return round(point[0], 3) + 0.0, round(point[1], 3) + 0.0


def _clean(root: ElementTree.Element) -> None:
    """Drop what is not valid style."""
    for element in root.iter():
        style = element.get("style")
        if style is not None:
            element.set("style", style.replace("stroke-dasharray:-;", ""))


def _write(root: ElementTree.Element, sheet: Sheet) -> None:
    """Put the sheet's texts on the drawing, half the height of a capital below their points."""
    style = {"font-family": "sans-serif", "font-size": f"{FONT_PT:g}", "fill": "black"}
    for text, (x, y), anchor in sheet.texts:
        point = {"x": f"{x * UNIT_PT:.2f}", "y": f"{-y * UNIT_PT + HALF_CAPITAL * FONT_PT:.2f}", "text-anchor": anchor}
        ElementTree.SubElement(root, f"{{{SVG}}}text", point | style).text = text


def _frame(root: ElementTree.Element, sheet: Sheet) -> tuple[float, float, float, float]:
    """Return left, top, width and height of all that is drawn, with a margin, in points."""
    left, top, width, height = (float(number) for number in root.attrib["viewBox"].split())
    boxes = [(left, top, left + width, top + height)]
    boxes += [(x1 * UNIT_PT, -y2 * UNIT_PT, x2 * UNIT_PT, -y1 * UNIT_PT) for x1, y1, x2, y2 in text_boxes(sheet)]
    left, top = (min(box[side] for box in boxes) - MARGIN_PT for side in (0, 1))
    right, bottom = (max(box[side] for box in boxes) + MARGIN_PT for side in (2, 3))
    return left, top, right - left, bottom - top


def text_boxes(sheet: Sheet) -> list[Box]:
    """Return left, bottom, right and top of each text, in units, as an ordinary sans-serif font has it."""
    boxes = []
    for text, (x, y), anchor in sheet.texts:
        width = CHARACTER * len(text)
        left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        boxes.append((left, y - LETTER / 2, left + width, y + LETTER / 2))
    return boxes
