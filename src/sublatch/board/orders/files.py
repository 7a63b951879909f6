"""Order list and netlist as files for a spreadsheet or a shop: refused ahead of the work, written whole."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from sublatch.board.netlist import Board
from sublatch.board.orders import pins
from sublatch.board.orders.lines import HEADS, order_lines
from sublatch.board.stripboard.records import Layout
from sublatch.errors import OutputError
from sublatch.files.own_files import OwnFiles
from sublatch.files.tables import table_text

ORDERS = OwnFiles("order lists", "# sublatch order list ", "\r\n", (".csv",))
NETLISTS = OwnFiles("netlists", "# sublatch netlist ", "\r\n", (".csv",))


@dataclass(frozen=True)
class OrderFiles:
    """Where order list and netlist are written.

    Attributes
    ----------
    parts, netlist
        The files, which end in ``.csv``; None where one is not asked for.
    """

    parts: Path | None = None
    netlist: Path | None = None

    @property
    def asked(self) -> list[tuple[OwnFiles, Path]]:
        """What is asked for."""
        both = ((ORDERS, self.parts), (NETLISTS, self.netlist))
        return [(sort, path) for sort, path in both if path is not None]

    def guard(self, *, inputs: Iterable[str | Path] = (), overwrite: bool = False) -> None:
        """Refuse, ahead of the work, what must not be written; see `OwnFiles.guard`.

        Raises
        ------
        OutputError
            When one of the files must not be written, or both are one.
        """
        inputs = list(inputs)
        for sort, path in self.asked:
            sort.guard(path, inputs=inputs, overwrite=overwrite)
        if len({os.path.realpath(path) for _, path in self.asked}) < len(self.asked):
            raise OutputError(f"order list and netlist must be two files, got {self.parts} for both")

    def write(self, board: Board, *, layouts: Sequence[Layout] = (), whole: bool = True) -> None:
        """Write what is asked for of a board; see `order_lines` and `pin_rows`.

        Raises
        ------
        OutputError
            When a file cannot be written.
        """
        for sort, path in self.asked:
            sort.write(path, order_text(board, layouts=layouts, whole=whole) if sort is ORDERS else pins_text(board))


def order_text(board: Board, *, layouts: Sequence[Layout] = (), whole: bool = True) -> str:
    """Return the order list of a board as comma-separated values."""
    return table_text(HEADS, (line.cells for line in order_lines(board, layouts=layouts, whole=whole)))


def pins_text(board: Board) -> str:
    """Return the netlist of a board as comma-separated values."""
    return table_text(pins.HEADS, pins.pin_rows(board))
