"""Tables for a spreadsheet: comma-separated values that open as they are meant."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

MARK = "\ufeff"
"""Byte order mark, by which a spreadsheet knows UTF-8: Ω and µ are then read as they are."""
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What a cell must not begin with: a spreadsheet would take it for a formula, or strip it."""


def table_text(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return a table as comma-separated values (RFC 4180), with a byte order mark.

    Parameters
    ----------
    heads
        Name of each column.
    rows
        Cells of each row; a text that a spreadsheet would take for a formula gets an apostrophe ahead of it.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(heads)
    writer.writerows([plain_cell(cell) for cell in row] for row in rows)
    return MARK + text.getvalue()


def plain_cell(cell: object) -> object:
    """Return a cell that no spreadsheet works out; a number stays one."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA) else cell
