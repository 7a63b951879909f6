"""The netlist as plain rows, one for each pin: net, designator, number and name of the pin."""

from __future__ import annotations

from collections.abc import Iterator

from sublatch.board.builder import LUGS, THROWS
from sublatch.board.check.pin_list import pin_number, section_of
from sublatch.board.netlist import Board, Component

HEADS = ("net", "designator", "pin", "pin name")
Row = tuple[str, str, str, str]
ENDS = {
    "electrolytic": {"a": "plus", "b": "minus"},
    "battery": {"a": "plus", "b": "minus"},
    "diode": {"a": "anode", "b": "cathode"},
    "lamp": {"a": "anode", "b": "cathode"},
}
"""Names of the two leads of what has a direction; those of resistors and capacitors have numbers alone."""
INPUTS = {"+": "in+", "-": "in−"}
"""Names that a spreadsheet would take for signs."""
SWITCH_LUGS = {"1": 1, "common": 2, "2": 3}
"""Of each pole, the common one in the middle (common practice, no source)."""


def pin_rows(board: Board) -> list[Row]:
    """Return every pin that is joined to something, in the order of nets, then of designators.

    Parameters
    ----------
    board
        The board.

    Returns
    -------
    list of tuple
        Net, designator, pin and its name. A package has the numbers of its own pins; a pot, switch or jack those of its
        lugs, with the gang's or pole's letter ahead where there are several. Pins that stay open have no row.
    """
    order = {net: place for place, net in enumerate(dict.fromkeys(n for p in board.components for _, n in p.pins))}
    rows = [row for part in board.components for row in _rows(board, part)]
    return sorted(rows, key=lambda row: order[row[0]])


def _rows(board: Board, part: Component) -> Iterator[Row]:
    """Yield the rows of one component."""
    for place, (pin, net) in enumerate(part.pins, start=1):
        number = pin_number(board, part, pin)
        if number is not None:
            section = "" if part.kind == "package" else f"{section_of(part)} "
            yield net, str(part.package), str(number), f"{section}{INPUTS.get(pin, pin)}"
        else:
            letter = section_of(part) if part.package else ""
            lug, name = _lug(part, pin, place)
            yield net, part.package or part.reference, f"{letter}{lug}", f"{letter} {name}".strip()


def _lug(part: Component, pin: str, place: int) -> tuple[int, str]:
    """Return number and name of a lead or lug."""
    if part.kind == "pot":
        return dict(LUGS)[pin], pin
    if part.kind == "switch":
        throws = dict(zip("12", THROWS[str(part.control)], strict=True))
        return SWITCH_LUGS[pin], throws.get(pin, pin)
    if part.kind in ("resistor", "capacitor"):
        return place, ""
    return place, ENDS.get(part.kind, {}).get(pin, pin)
