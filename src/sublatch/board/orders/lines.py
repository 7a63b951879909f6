"""The order list: one line for each distinct part with all of its designators, then hardware."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sublatch.board.netlist import Board
from sublatch.board.orders.hardware import copies_on, hardware
from sublatch.board.orders.items import Item, item_of, quantity_of
from sublatch.board.parts_list import to_buy
from sublatch.board.stripboard.records import Layout

HEADS = ("quantity", "part", "value", "tolerance", "rating", "package", "lead pitch", "types", "designators", "note")


@dataclass(frozen=True)
class OrderLine:
    """One line of the order list.

    Attributes
    ----------
    quantity
        How many to order.
    item
        What to order.
    designators
        Its designators on the drawing; none of hardware, whose note tells what it is for.
    note
        Why there are more than designators.
    """

    quantity: int
    item: Item
    designators: tuple[str, ...]
    note: str = ""

    @property
    def cells(self) -> tuple[int | str, ...]:
        """The cells of its row, in the order of `HEADS`."""
        item = self.item
        figures = (item.kind, item.value, item.tolerance, item.rating, item.package, item.pitch, item.types)
        note = "; ".join(filter(None, (item.note, self.note)))
        return (self.quantity, *figures, ", ".join(self.designators), note)


def order_lines(board: Board, *, layouts: Sequence[Layout] = (), whole: bool = True) -> list[OrderLine]:
    """Return what to order for a board.

    Parameters
    ----------
    board
        The board, or what a change adds to one.
    layouts
        Layouts that are to be built of it: capacitors are ordered with the lead pitch that they have there, and a chip
        whose sections serve several of them once for each, with its decoupling capacitors.
    whole
        Whether it is a whole box, with an enclosure.

    Returns
    -------
    list of OrderLine
        Parts in the order of the parts list, those that a shop has as one on one line, and the hardware after them.
    """
    spans = {part.reference: part.span for one in layouts for part in one.parts if part.outline == "box"}
    copies = copies_on(layouts)
    lines: dict[Item, list[str]] = {}
    count: dict[Item, int] = {}
    for reference, part in to_buy(board):
        item = item_of(board, part, spans=spans)
        lines.setdefault(item, []).append(reference)
        count[item] = count.get(item, 0) + quantity_of(board.circuit, part) * copies.get(reference, 1)
    parts = [
        OrderLine(count[item], item, tuple(references), _copied(references, copies))
        for item, references in lines.items()
    ]
    wares = hardware(board, layouts=layouts, whole=whole)
    return parts + [
        OrderLine(quantity, Item(kind, value, "", "", package, pitch, note=note), ())
        for quantity, kind, value, package, pitch, note in wares
    ]


def _copied(references: Sequence[str], copies: Mapping[str, int]) -> str:
    """Return which of some parts stand on several boards, in words."""
    return ", ".join(f"{name} on {copies[name]} boards" for name in references if copies.get(name, 1) > 1)
