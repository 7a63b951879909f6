"""The parts list: what to buy for a board."""

from __future__ import annotations

from dataclasses import dataclass

from sublatch.board.detector import SIGNAL_DIODE
from sublatch.board.input_and_supply import CLAMP
from sublatch.board.netlist import Board, Component
from sublatch.circuit.components.preferred import is_preferred
from sublatch.circuit.devices.catalogue import DIODES
from sublatch.circuit.origins import marked

RATINGS_V = (6.3, 10.0, 16.0, 25.0, 35.0, 50.0, 63.0, 100.0)
"""Voltages that capacitors are sold for (the tens of ISO 3 series; common practice, no source)."""
HEADROOM = 1.5
"""Rated voltage over supply; common practice, no source."""
POWER_RATING = "0.25 W"
"""Of every resistor: none has a tenth of it to bear."""
CERAMIC_BELOW_FARAD, FILM_UP_TO_FARAD = 1e-9, 2.2e-6
"""Between them a film capacitor is the plain choice; common practice, no source."""
DIODE_REMARKS = {
    SIGNAL_DIODE: "small-signal silicon",
    CLAMP: f"{' or '.join(DIODES['low-leakage'].types)} type: another's leakage would move the input",
}

ORDER = (
    "resistor",
    "pot",
    "capacitor",
    "electrolytic",
    "diode",
    "lamp",
    "package",
    "block",
    "switch",
    "jack",
    "battery",
)
"""The kinds in the order of a shopping list."""


@dataclass(frozen=True)
class Bought:
    """What a component is bought as.

    Attributes
    ----------
    kind
        What a shop calls it: ``resistor``, ``film capacitor``, …
    tolerance, rating
        Its tolerance, and the power or voltage that it must bear; empty where nobody asks.
    dielectric
        Of a ceramic capacitor.
    note
        What to mind.
    """

    kind: str
    tolerance: str = ""
    rating: str = ""
    dielectric: str = ""
    note: str = ""

    @property
    def remark(self) -> str:
        """All that there is besides kind and value, in a line."""
        figures = ", ".join(filter(None, (self.dielectric, self.tolerance, self.rating)))
        return "; ".join(filter(None, (figures, self.note)))


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
    lines: dict[tuple[str, str, str], list[str]] = {}
    for reference, part in to_buy(board):
        what = bought(part, supply_v=board.circuit.supply)
        remark = what.remark if part.path is None else marked(what.remark, board.circuit.origins, part.path)
        lines.setdefault((what.kind, part.value, remark), []).append(reference)
    return [
        PartLine(len(references), kind, value, remark, tuple(references))
        for (kind, value, remark), references in lines.items()
    ]


def to_buy(board: Board) -> list[tuple[str, Component]]:
    """Return each thing to buy once, by its designator, in the order of a shopping list.

    Of a package, a pot or a switch of several sections it is the package, or the first section.
    """
    found = [part for part in board.components if part.kind in ORDER]
    found.sort(key=lambda part: (ORDER.index(part.kind), part.amount or 0.0, *_words(part, board)))
    once: dict[str, Component] = {}
    for part in found:
        once.setdefault(part.package or part.reference, part)
    return list(once.items())


def _words(part: Component, board: Board) -> tuple[str, str, str]:
    """Return a component's kind, value and remark, by which those of one value are sorted."""
    what = bought(part, supply_v=board.circuit.supply)
    return what.kind, part.value, what.remark


def bought(part: Component, *, supply_v: float) -> Bought:
    """Return what a component is bought as, for a board with this supply."""
    if part.kind == "resistor":
        assert part.amount is not None
        return Bought("resistor", part.tolerance, POWER_RATING, note=_rarity(part.amount))
    if part.kind in ("capacitor", "electrolytic"):
        return _capacitor(part, supply_v=supply_v)
    names = {
        "package": "integrated circuit",
        "pot": "potentiometer",
        "block": "block of your own design",
        "lamp": "light-emitting diode",
    }
    if part.control == "trim":
        names["pot"] = "trimmer"
    notes = {"pot": part.note or "linear track", "battery": "or several in a row"}
    if part.kind == "diode" and not part.role.startswith("supply."):
        notes["diode"] = DIODE_REMARKS[part.value]  # one line for each value, whatever its diodes do
    return Bought(names.get(part.kind, part.kind), note=notes.get(part.kind, part.note))


def _capacitor(part: Component, *, supply_v: float) -> Bought:
    """Return a capacitor's dielectric, tolerance and rated voltage."""
    assert part.amount is not None
    rated = f"at least {_rating(supply_v):g} V"
    if part.kind == "electrolytic":
        return Bought("electrolytic capacitor", part.tolerance, rated)
    if part.role.startswith("decoupling."):
        return Bought("ceramic capacitor", part.tolerance, rated, "X7R")
    rare = "" if is_preferred(part.amount) else "no E24 value: two in parallel"
    if part.amount < CERAMIC_BELOW_FARAD:
        return Bought("ceramic capacitor", "5 %", rated, "C0G", rare)
    if part.amount > FILM_UP_TO_FARAD:
        return Bought("bipolar electrolytic capacitor", "20 %", rated, note=rare)
    return Bought("film capacitor", part.tolerance, rated, note=rare)


def _rarity(ohm: float) -> str:
    """Return a remark on a resistor that is not in every shop."""
    if is_preferred(ohm, "E24"):
        return ""
    return "E96 series" if is_preferred(ohm, "E96") else "no preferred value: two in series"


def _rating(supply_v: float) -> float:
    """Return the least voltage that is sold and leaves headroom over the supply."""
    wanted = HEADROOM * supply_v
    return next((rated for rated in RATINGS_V if rated >= wanted), wanted)
