"""A layout in words: what it measures, the parts' holes, and a list strip by strip for the meter."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sublatch.board.stripboard.bodies import SOLD_PITCH_MM
from sublatch.board.stripboard.records import Hole, Layout, Placed, hole_name, is_insulated


@dataclass(frozen=True)
class Strip:
    """One piece of copper between cuts.

    Attributes
    ----------
    name
        Its first and last hole, such as ``C1–C4``.
    net
        What it carries; empty where nothing stands on it, or only a leg that is joined to nothing.
    ends
        The legs, wires and links on it, each with its hole.
    """

    name: str
    net: str
    ends: tuple[str, ...]


def size_words(layout: Layout) -> str:
    """Return the board's size in holes and millimetres, with what it takes."""
    width, height = layout.size_mm
    joints = f"{_count(len(layout.cuts), 'cut')}, {_count(len(layout.links), 'link')}"
    if layout.kind == "perfboard":
        joints = f"{len(layout.links)} wires below"
    return f"{layout.columns} × {layout.rows} holes, {width:.1f} × {height:.1f} mm, {joints}; the smallest found"


def layout_document(layout: Layout) -> dict[str, Any]:
    """Return a layout for JSON: size, cuts, links, and the hole of each leg."""
    return {
        "kind": layout.kind,
        "columns": layout.columns,
        "rows": layout.rows,
        "width_mm": round(layout.size_mm[0], 2),
        "height_mm": round(layout.size_mm[1], 2),
        "cuts": cut_rows(layout),
        "links": [[hole_name(one), hole_name(other)] for one, other in layout.links],
        "parts": [
            {
                "reference": part.reference,
                "value": part.value,
                "legs": {leg: hole_name(hole) for leg, hole in part.legs},
            }
            for part in layout.parts
        ],
        "proved": layout.proved,
        "seed": layout.seed,
    }


def part_rows(layout: Layout) -> list[tuple[str, str, str]]:
    """Return reference, value with what to mind, and holes of each part, wires last."""
    return [
        (part.reference, _value(part), ", ".join(_leg(part, leg, hole) for leg, hole in _told(part)))
        for part in layout.parts
    ]


def link_rows(layout: Layout) -> list[str]:
    """Return both ends of each link, an insulated one with a star."""
    return [
        f"{hole_name(one)}–{hole_name(other)}"
        + ("*" if layout.kind == "stripboard" and is_insulated(layout, (one, other)) else "")
        for one, other in layout.links
    ]


def cut_rows(layout: Layout) -> list[str]:
    """Return the holes at which strips are cut."""
    return [hole_name(hole) for hole in sorted(layout.cuts, key=lambda hole: (hole[1], hole[0]))]


def strips(layout: Layout) -> list[Strip]:
    """Return every piece of copper between cuts, with what stands on it, row by row."""
    nets = {(reference, leg): net for reference, leg, net in layout.netlist}
    at: dict[Hole, list[tuple[str, str]]] = {}
    for part in layout.parts:
        for leg, hole in part.legs:
            name = part.reference if part.outline == "wire" else f"{part.reference}.{leg}"
            at.setdefault(hole, []).append((name, nets[part.reference, leg]))
    for number, ends in enumerate(layout.links, 1):
        for hole in ends:
            at.setdefault(hole, []).append((f"link {number}", ""))
    found = []
    for row in range(layout.rows):
        for start, end in _pieces(layout, row):
            here = [(name, hole, net) for hole in _row(row, start, end) for name, net in at.get(hole, [])]
            net = next((net for _, _, net in here if net), "")
            name = f"{hole_name((start, row))}–{hole_name((end, row))}" if end > start else hole_name((start, row))
            found.append(Strip(name, net, tuple(f"{name} {hole_name(hole)}" for name, hole, _ in here)))
    return found


def net_rows(layout: Layout) -> list[tuple[str, tuple[str, ...]]]:
    """Return each net with all that a meter must find joined: its legs and wires, each with its hole."""
    nets: dict[str, list[str]] = {}
    of = {(reference, leg): net for reference, leg, net in layout.netlist}
    for part in layout.parts:
        for leg, hole in part.legs:
            if net := of[part.reference, leg]:
                name = part.reference if part.outline == "wire" else f"{part.reference}.{leg}"
                nets.setdefault(net, []).append(f"{name} {hole_name(hole)}")
    return [(net, tuple(ends)) for net, ends in sorted(nets.items())]


def _pieces(layout: Layout, row: int) -> Iterator[tuple[int, int]]:
    """Yield first and last column of each piece of a row's strip."""
    start = 0
    for cut in [*sorted(column for column, line in layout.cuts if line == row), layout.columns]:
        if cut > start:
            yield start, cut - 1
        start = cut + 1


def _row(row: int, start: int, end: int) -> list[Hole]:
    """Return the holes of a piece."""
    return [(column, row) for column in range(start, end + 1)]


def _told(part: Placed) -> tuple[tuple[str, Hole], ...]:
    """Return the legs that tell where a part stands: the first and last of a chip's first row."""
    return part.legs if part.outline != "chip" else (part.legs[0], part.legs[len(part.legs) // 2 - 1])


def _leg(part: Placed, leg: str, hole: Hole) -> str:
    """Return a leg and its hole."""
    name = {"chip": f"pin {leg} ", "can": "plus " if leg == "a" else "minus "}.get(part.outline, "")
    if part.outline == "rod" and part.reference.startswith("D"):
        name = "anode " if leg == "a" else "cathode "
    return name + hole_name(hole)


def _value(part: Placed) -> str:
    """Return a part's value, and how it stands where there is a choice."""
    if part.outline == "wire":
        return f"wire to {part.value}"
    if part.outline == "rod":
        return f"{part.value}, standing" if part.standing else part.value
    if part.outline == "box":
        return f"{part.value}, legs {SOLD_PITCH_MM * part.span:g} mm apart"
    if part.outline == "chip":
        return f"{part.value}, in a socket"
    return part.value


def _count(number: int, name: str) -> str:
    """Return a number of things."""
    return f"{number or 'no'} {name}{'' if number == 1 else 's'}"
