"""The parts list: what to buy for a board."""

from __future__ import annotations

from dataclasses import dataclass

from sublatch.board.netlist import Board, Component
from sublatch.circuit.components.preferred import is_preferred
from sublatch.circuit.origins import marked

RATINGS_V = (6.3, 10.0, 16.0, 25.0, 35.0, 50.0, 63.0, 100.0)
"""Voltages that capacitors are sold for (the tens of ISO 3 series; common practice, no source)."""
HEADROOM = 1.5
"""Rated voltage over supply; common practice, no source."""
CERAMIC_BELOW_FARAD, FILM_UP_TO_FARAD = 1e-9, 2.2e-6
"""Between them a film capacitor is the plain choice; common practice, no source."""

ORDER = (
    "resistor",
    "pot",
    "capacitor",
    "electrolytic",
    "diode",
    "package",
    "block",
    "switch",
    "jack",
    "battery",
)
"""The kinds in the order of a shopping list."""


@dataclass(frozen=True)
class PartLine:
    """One line of the parts list.

    Attributes
    ----------
    quantity
        How many to buy.
    kind
        What it is: ``resistor``, ``film capacitor``, …
    value
        What to order.
    remark
        Tolerance, voltage rating, what to mind, and where its value comes from where the circuit says it.
    references
        The designators on the drawing.
    """

    quantity: int
    kind: str
    value: str
    remark: str
    references: tuple[str, ...]


def parts_list(board: Board) -> list[PartLine]:
    """Return what to buy for a board, parts of one kind and value on one line.

    Parameters
    ----------
    board
        The board.

    Returns
    -------
    list of PartLine
        Resistors first, then pots, capacitors, semiconductors and hardware; within a kind from small to large.
    """
    lines: dict[tuple[int, float, str, str, str], dict[str, None]] = {}
    for part in board.components:
        if part.kind not in ORDER:
            continue
        kind, remark = _bought(part, supply_v=board.circuit.supply)
        remark = remark if part.path is None else marked(remark, board.circuit.origins, part.path)
        key = (ORDER.index(part.kind), part.amount or 0.0, kind, part.value, remark)
        lines.setdefault(key, {})[part.package or part.reference] = None
    return [
        PartLine(len(references), kind, value, remark, tuple(references))
        for (_, _, kind, value, remark), references in sorted(lines.items(), key=lambda line: line[0])
    ]


def _bought(part: Component, *, supply_v: float) -> tuple[str, str]:
    """Return a component's name in a shop, and what to mind."""
    if part.kind == "resistor":
        assert part.amount is not None
        return "resistor", f"{part.tolerance}, 0.25 W{_rarity(part.amount)}"
    if part.kind in ("capacitor", "electrolytic"):
        return _capacitor(part, supply_v=supply_v)
    names = {"package": "integrated circuit", "pot": "potentiometer", "block": "block of your own design"}
    notes = {"pot": part.note or "linear track", "battery": "or several in a row"}
    if part.kind == "diode" and not part.role.startswith("supply."):
        notes["diode"] = "small-signal silicon"  # one kind for all, whatever each does
    return names.get(part.kind, part.kind), notes.get(part.kind, part.note)


def _capacitor(part: Component, *, supply_v: float) -> tuple[str, str]:
    """Return a capacitor's dielectric, tolerance and rated voltage."""
    assert part.amount is not None
    rated = f"at least {_rating(supply_v):g} V"
    if part.kind == "electrolytic":
        return "electrolytic capacitor", f"{part.tolerance}, {rated}"
    if part.role.startswith("decoupling."):
        return "ceramic capacitor", f"X7R, {part.tolerance}, {rated}"
    rare = "" if is_preferred(part.amount) else "; no E24 value: two in parallel"
    if part.amount < CERAMIC_BELOW_FARAD:
        return "ceramic capacitor", f"C0G, 5 %, {rated}{rare}"
    if part.amount > FILM_UP_TO_FARAD:
        return "bipolar electrolytic capacitor", f"20 %, {rated}{rare}"
    return "film capacitor", f"{part.tolerance}, {rated}{rare}"


def _rarity(ohm: float) -> str:
    """Return a remark on a resistor that is not in every shop."""
    if is_preferred(ohm, "E24"):
        return ""
    return ", E96 series" if is_preferred(ohm, "E96") else "; no preferred value: two in series"


def _rating(supply_v: float) -> float:
    """Return the least voltage that is sold and leaves headroom over the supply."""
    wanted = HEADROOM * supply_v
    return next((rated for rated in RATINGS_V if rated >= wanted), wanted)
