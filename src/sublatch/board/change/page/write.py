"""The change sheet, as one printable HTML file that needs nothing else."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sublatch.circuit.model import Circuit
from sublatch.files.own_files import OwnFiles

if TYPE_CHECKING:
    from sublatch.board.change.find import Change
    from sublatch.board.change.page.words import Step
    from sublatch.board.change.points import Point
    from sublatch.board.change.small_board import SmallBoard, Wanted
    from sublatch.board.orders.files import OrderFiles
    from sublatch.board.parts_list import PartLine

CHANGE_SHEETS = OwnFiles("change sheets", "<!-- sublatch change sheet ", " -->\n", (".html", ".htm"))


@dataclass(frozen=True)
class ChangeReport:
    """What a written change sheet is of.

    Attributes
    ----------
    output
        The file.
    before, after
        The circuits' titles.
    operations
        What is done, in the order of work.
    parts
        What is to be bought.
    points
        Where it ties in.
    small_board
        The board of what is added, or why there is none; None where nothing is added.
    kept, altered
        How many components stay as they are, and how many of the board before are taken, moved or replaced.
    """

    output: str
    before: str
    after: str
    operations: tuple[Step, ...]
    parts: tuple[PartLine, ...]
    points: tuple[Point, ...]
    small_board: SmallBoard | None
    kept: int
    altered: int

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: of the small board its layout, and why there is none."""
        from sublatch.board.stripboard.words import layout_document

        board = self.small_board
        layout = None if board is None or board.layout is None else layout_document(board.layout)
        fields = {name: value for name, value in vars(self).items() if name != "small_board"}
        return fields | {"layout": layout, "why_no_layout": None if board is None else board.why_none or None}


def change_sheet(before: Circuit, after: Circuit, *, board: Wanted | None = None) -> str:
    """Return the change sheet from one circuit to another.

    Parameters
    ----------
    before, after
        The box as it is, and what it shall be; a volume at unity is set where the effect is as loud as the tone of
        `tone_take`.
    board
        What is asked of the small board that the change adds; any room when not given.

    Returns
    -------
    str
        An HTML document without scripts that asks for no other file. The same circuits give the same text.

    Raises
    ------
    CircuitError
        When a circuit has no board (see `board`), the two are the same, or share no part.
    """
    return CHANGE_SHEETS.with_check(_sheet(before, after, board)[0])


def write_change(
    before: Circuit,
    after: Circuit,
    output: str | Path,
    *,
    inputs: Iterable[str | Path] = (),
    overwrite: bool = False,
    orders: OrderFiles | None = None,
    board: Wanted | None = None,
) -> ChangeReport:
    """Write the change sheet from one circuit to another, whole or not at all.

    Parameters
    ----------
    before, after
        The circuits.
    output
        The file; it ends in ``.html``.
    inputs
        Files that must never be replaced, whatever `overwrite` says.
    overwrite
        Replace a file that is no change sheet of this program, or that was changed since.
    orders
        Where order list and netlist of what is new are written besides.
    board
        As for `change_sheet`.

    Raises
    ------
    OutputError
        When a file cannot be written, or must not be replaced.
    CircuitError
        As of `change_sheet`.
    """
    from sublatch.board.change.find import fresh_board
    from sublatch.board.change.page.page import parts_to_buy
    from sublatch.board.change.page.words import steps
    from sublatch.board.change.points import points

    inputs = list(inputs)
    CHANGE_SHEETS.guard(output, inputs=inputs, overwrite=overwrite)
    if orders is not None:
        orders.guard(inputs=inputs, overwrite=overwrite)
    text, change, small = _sheet(before, after, board)
    CHANGE_SHEETS.write(output, text)
    if orders is not None:
        layouts = [] if small is None or small.layout is None else [small.layout]
        orders.write(fresh_board(change), layouts=layouts, whole=False)
    altered = {part.reference for one in change.operations for part in one.taken}
    kept = [part for part in change.before.components if part.reference not in altered]
    return ChangeReport(
        output=str(output),
        before=before.title,
        after=after.title,
        operations=steps(change),
        parts=tuple(parts_to_buy(change)),
        points=points(change),
        small_board=small,
        kept=len(kept),
        altered=len(change.before.components) - len(kept),
    )


def _sheet(before: Circuit, after: Circuit, wanted: Wanted | None) -> tuple[str, Change, SmallBoard | None]:
    """Return the sheet, without the line that tells whether it was changed since, the change and its small board."""
    from sublatch.board.assemble import board
    from sublatch.board.change.find import find_change
    from sublatch.board.change.page.page import page
    from sublatch.board.change.shared import check_shared
    from sublatch.board.change.small_board import Wanted, small_board
    from sublatch.board.check.electrical_check import must_be_sound
    from sublatch.board.sheet.write import with_volume

    change = find_change(board(with_volume(before)), board(with_volume(after)))
    check_shared(change)
    for one in (change.before, change.changed):
        must_be_sound(one)
    small = small_board(change, wanted or Wanted())
    return page(change, board=small), change, small
