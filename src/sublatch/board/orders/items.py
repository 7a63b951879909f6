"""One part as a shop has it: value, tolerance, rating, package, lead pitch, and the types that qualify.

Sizes of what stands on a board are those that layouts reckon with (`bodies`), pins and types those of the board's own
packages. What stands on the panel is common make, from memory.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from sublatch.board.builder import PACKAGES
from sublatch.board.input_and_supply import BATTERY_V, LAMP_A, LAMP_V, PROTECTION, battery_count
from sublatch.board.netlist import Board, Component
from sublatch.board.packages.pins import PINOUTS
from sublatch.board.packages.types import package_class, package_types
from sublatch.board.parts_list import bought
from sublatch.board.stripboard.bodies import CAN_V, PITCH_MM, body_of
from sublatch.circuit.components.sold import hard_pot
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.devices.catalogue import DIODES
from sublatch.circuit.model import Circuit
from sublatch.units import format_farads_with_unit, format_ohms_with_unit

LUGS = "solder lugs"
PROTECTION_TYPES, PROTECTION_RATING = ("1N5818", "1N5819"), "1 A, 30 V"
"""Of the diode in the supply: JEDEC types, data sheets from memory."""
CANNED = ("BAV45",)
"""Diodes that qualify but come in a metal can, TO-18 (data sheet, from memory), which no layout reckons with."""
KNOB_SHAFT = "round 6 mm shaft"
POT_BODY = f"carbon, 16 mm body, {KNOB_SHAFT}, 15 mm to 20 mm long, panel bush M7 (7 mm hole)"
POT_WATTS = "0.05 W"
TRIMMER = ("cermet, one turn, about 7 mm square, set from above", "2.54 mm, in a triangle 5.08 mm wide", "0.25 W")
"""Package, pitch and rating of a trimmer; from memory, as all that stands on the panel."""
POLES = {1: "one pole", 2: "two poles", 3: "three poles"}
SWITCHES = {
    False: ("toggle switch, on-on", "lever, panel bush M6 (6 mm hole)"),
    True: ("footswitch, latching, on-on", "push button, panel bush M12 (12 mm hole)"),
}
"""What a switch is and how it is mounted, a footswitch's second."""
SIGNAL_JACK = "panel bush 3/8 in (9.5 mm hole), open or closed, without switch contacts"
SUPPLY_JACK = "panel, 12 mm hole, plastic body: its sleeve is plus and must not touch the box"


@dataclass(frozen=True)
class Item:
    """What one part is ordered as.

    Attributes
    ----------
    kind, value
        What it is and its value, such as ``4.7 kΩ``.
    tolerance, rating
        Tolerance, and the power, voltage or supply that it bears.
    package, pitch
        Its body or case, and how far apart its leads are or what stands in their place.
    types
        Common industry types that qualify; empty where any make does.
    note
        What to mind.
    """

    kind: str
    value: str
    tolerance: str = ""
    rating: str = ""
    package: str = ""
    pitch: str = ""
    types: str = ""
    note: str = ""


def item_of(board: Board, part: Component, *, spans: Mapping[str, int]) -> Item:
    """Return what a component is ordered as.

    Parameters
    ----------
    board
        The board that it is on; what its circuit's classes of parts and its supply ask for counts.
    part
        A component, the first section of a pot or switch, or a package.
    spans
        How many holes apart the legs of parts stand on a layout, by designator; the usual pitch without.
    """
    made = ITEMS.get(part.kind)
    if made is None:
        return Item("block of your own design", part.value, note=f"no part to order: {part.note}")
    return made(board, part, spans.get(part.reference))


def listed(words: tuple[str, ...]) -> str:
    """Return words in a row, the last two joined by "or"."""
    *first, last = words
    return f"{', '.join(first)} or {last}" if first else last


def _resistor(board: Board, part: Component, span: int | None) -> Item:
    what, body = bought(part, supply_v=board.circuit.supply), body_of(part)
    assert part.amount is not None
    package = f"axial, body {body.length_mm:g} × {body.width_mm:g} mm"
    value = format_ohms_with_unit(part.amount)
    return Item("resistor, metal film", value, what.tolerance, what.rating, package, _axial(part), note=what.note)


def _axial(part: Component) -> str:
    """Return how far apart the leads of a rod are bent."""
    body = body_of(part)
    lying, standing = (PITCH_MM * spans[0] for spans in (body.spans, body.standing_spans))
    return f"{lying:g} mm or more lying, {standing:g} mm standing"


def _capacitor(board: Board, part: Component, span: int | None) -> Item:
    what, body = bought(part, supply_v=board.circuit.supply), body_of(part)
    assert part.amount is not None
    span = span or max(body.spans if body.outline == "box" and what.kind == "film capacitor" else body.spans[:1])
    length_mm, width_mm = body.sold_size_mm(span)
    polarised = part.kind == "electrolytic"
    kind = f"{what.kind}, {what.dielectric}" if what.dielectric else what.kind
    kind = f"{kind}, polarised" if polarised else kind
    box = "polyester box of 63 V" if what.kind == "film capacitor" else "several layers, dipped"
    package = f"{box}, body at most {length_mm:g} × {width_mm:g} mm"
    note = what.note
    if body.outline == "can":
        package = f"radial can, {body.length_mm:g} mm across"
        large = float(what.rating.split()[-2]) > CAN_V
        note = "; ".join(filter(None, (note, f"of more than {CAN_V:g} V it may be larger" if large else "")))
    pitch = f"{body.sold_pitch_mm(span):g} mm"
    return Item(kind, format_farads_with_unit(part.amount), what.tolerance, what.rating, package, pitch, note=note)


def _pot(board: Board, part: Component, span: int | None) -> Item:
    pot = part.pot
    assert pot is not None
    tolerance, value = f"{100 * Tolerances().pot:g} %", format_ohms_with_unit(pot.value)
    if part.control == "trim":
        package, pitch, rating = TRIMMER
        return Item(f"trimmer, {pot.taper}", value, tolerance, rating, package, pitch, note=part.note)
    gangs = sum(one.package == part.package for one in board.components) if part.package else 1
    several = {1: "one gang", 2: "dual-gang"}.get(gangs, f"{gangs} gangs")
    hard = hard_pot(pot.value, taper=pot.taper, midpoint=pot.midpoint, gangs=gangs)
    note = "; ".join(filter(None, (part.note, f"hard to buy: {hard}" if hard else "")))
    return Item(f"potentiometer, {pot.taper}, {several}", value, tolerance, POT_WATTS, POT_BODY, LUGS, note=note)


def _diode(board: Board, part: Component, span: int | None) -> Item:
    what, body = bought(part, supply_v=board.circuit.supply), body_of(part)
    size = f"axial, body {body.length_mm:g} × {body.width_mm:g} mm"
    note = f"{what.note}; the stripe is the cathode"
    if part.value == PROTECTION:
        types = listed(PROTECTION_TYPES)
        return Item("diode", PROTECTION_TYPES[0], "", PROTECTION_RATING, f"DO-41, {size}", _axial(part), types, note)
    known = next(one for one in DIODES.values() if part.value in one.types)
    note += "".join(f"; {one} comes in a can, TO-18" for one in known.types if one in CANNED)
    types = listed(tuple(one for one in known.types if one not in CANNED))
    return Item("diode", part.value, "", f"{known.most_v:g} V", f"DO-35, {size}", _axial(part), types, note)


def _lamp(board: Board, part: Component, span: int | None) -> Item:
    rating = f"{LAMP_V:g} V at {1e3 * LAMP_A:g} mA"
    package = "5 mm, diffused, of high efficiency"
    return Item("light-emitting diode", "red", "", rating, package, f"{PITCH_MM:g} mm", note=part.note)


def _package(board: Board, part: Component, span: int | None) -> Item:
    kind = kind_of_package(board, part)
    types, bears = package_types(board.circuit, kind), package_class(board.circuit, kind)
    value, _, note = PACKAGES[kind]  # type: ignore[index]  # the kinds of sections are those of packages
    rating = f"{bears.least_v:g} V to {bears.most_v:g} V supply"
    pitch = f"{PITCH_MM:g} mm, rows {3 * PITCH_MM:g} mm apart"
    return Item(f"integrated circuit, {value}", types[0], "", rating, PINOUTS[kind].name, pitch, listed(types), note)


def kind_of_package(board: Board, part: Component) -> str:
    """Return the kind of the sections of a package."""
    kinds = (one.kind for one in board.components if one.package == part.package)
    return next(kind for kind in kinds if kind in PINOUTS)


def _switch(board: Board, part: Component, span: int | None) -> Item:
    poles = sum(one.package == part.package for one in board.components) if part.package else 1
    kind, package = SWITCHES[part.control == "bypass"]
    return Item(kind, f"changeover, {POLES[poles]}", "", "signal level, 30 V", package, LUGS, note=part.note)


def _jack(board: Board, part: Component, span: int | None) -> Item:
    if part.role == "supply.jack":
        return Item("supply jack", "5.5 mm × 2.1 mm, with switch contact", "", "1 A", SUPPLY_JACK, LUGS, note=part.note)
    return Item("jack", f"6.35 mm, {part.value.split()[0]}", "", "", SIGNAL_JACK, LUGS, note=part.note)


def _battery(board: Board, part: Component, span: int | None) -> Item:
    if battery_count(board.circuit.supply):
        return Item("battery", f"{BATTERY_V:g} V", "", "alkaline", "6LR61", "snap contacts")
    return Item("battery", part.value, note=f"no whole number of {BATTERY_V:g} V batteries: use a supply instead")


def quantity_of(circuit: Circuit, part: Component) -> int:
    """Return how many are ordered of what one designator stands for."""
    return max(1, battery_count(circuit.supply)) if part.kind == "battery" else 1


ITEMS: dict[str, Callable[[Board, Component, int | None], Item]] = {
    "resistor": _resistor,
    "capacitor": _capacitor,
    "electrolytic": _capacitor,
    "pot": _pot,
    "diode": _diode,
    "lamp": _lamp,
    "package": _package,
    "switch": _switch,
    "jack": _jack,
    "battery": _battery,
}
"""By the kind of the component."""
