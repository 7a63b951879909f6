"""The manual's pages for a terminal: Markdown as plain text, its lines filled and its tables in columns."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import zip_longest
from textwrap import wrap

WIDEST = 100
"""Characters of a line that is easily read; code is never broken."""
NARROWEST_COLUMN = 16
GAP = "  "


def plain_text(markdown: str, *, width: int = WIDEST) -> str:
    """Return a page of the manual as plain text.

    Parameters
    ----------
    markdown
        The page: headings, paragraphs, numbered lists, tables, and code between fences or indented.
    width
        Characters in a line, for all but code.
    """
    blocks = _blocks(re.sub(r"<!--.*?-->\n*", "", markdown))
    return "\n\n".join(_block(block, width) for block in blocks) + "\n"


def _blocks(markdown: str) -> list[str]:
    """Return what stands between empty lines, code between fences in one piece."""
    pieces = re.split(r"^(```.*?^```)$", markdown, flags=re.MULTILINE | re.DOTALL)
    blocks = []
    for piece in pieces:
        blocks += [piece] if piece.startswith("```") else re.split(r"\n\s*\n", piece.strip("\n"))
    return [block for block in blocks if block.strip()]


def _block(block: str, width: int) -> str:
    """Return one block as plain text."""
    lines = block.splitlines()
    if block.startswith("```"):
        return "\n".join(f"    {line}".rstrip() for line in lines[1:-1])
    if block.startswith("    "):
        return block
    if block.startswith("|"):
        return _table(lines, width)
    if block.startswith("#"):
        return _heading(block, width)
    items = re.split(r"\n(?=\d+\. |- )", block)
    return "\n".join(_item(item, width) for item in items)


def _heading(text: str, width: int) -> str:
    """Return a heading, filled, and underlined where it is one of the first two sorts."""
    marks, _, title = text.partition(" ")
    lines = _filled(_inline(title), width)
    underline = {"#": "=", "##": "-"}.get(marks)
    return "\n".join([*lines, *([underline * max(map(len, lines))] if underline else [])])


def _item(text: str, width: int) -> str:
    """Return a paragraph or an item of a list, filled."""
    mark = re.match(r"\d+\. |- ", text)
    indent = " " * len(mark[0]) if mark else ""
    return "\n".join(_filled(_inline(text), width, indent))


def _filled(text: str, width: int, indent: str = "") -> list[str]:
    """Return a text as lines, words never broken."""
    return wrap(text, width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False) or [""]


def _inline(text: str) -> str:
    """Return a text on one line: links name the topic they lead to, emphasis stands by itself, code stays in quotes.

    Of a picture there is what it shows.
    """
    text = re.sub(r"!\[([^]]+)\]\([^)]+\)", r"(Picture: \1)", text)
    text = re.sub(r"\[([^]]+)\]\(([\w-]+)\.md\)", r"\1 (sublatch manual \2)", " ".join(text.split()))
    pieces = re.split(r"`([^`]+)`", text)
    emphasis = r"\*\*(.+?)\*\*|\*(.+?)\*"
    pieces[::2] = [re.sub(emphasis, lambda match: match[1] or match[2], piece) for piece in pieces[::2]]
    pieces[1::2] = [f"`{code}`" for code in pieces[1::2]]
    return "".join(pieces).replace("\\|", "|")


def _cell(text: str) -> str:
    """Return a table's cell; one that is all code stands without quotes, to be copied."""
    plain = _inline(text)
    return plain.strip("`") if re.fullmatch(r"`[^`]+`", plain) else plain


def _table(lines: list[str], width: int) -> str:
    """Return a table in columns, the last of them filled where it is too wide."""
    rows = [[_cell(cell) for cell in re.split(r"(?<!\\)\|", line.strip("|"))] for line in lines]
    del rows[1]
    columns = _widths(rows, width)
    lines = []
    for row in rows:
        cells = [_filled(cell.strip(), column) for cell, column in zip(row, columns, strict=True)]
        lines += [_line(parts, columns) for parts in zip_longest(*cells, fillvalue="")]
    return "\n".join([*lines[:1], _line(["-" * column for column in columns], columns), *lines[1:]])


def _line(cells: Sequence[str], columns: list[int]) -> str:
    """Return one line of a table."""
    return GAP.join(f"{cell:<{column}}" for cell, column in zip(cells, columns, strict=True)).rstrip()


def _widths(rows: list[list[str]], width: int) -> list[int]:
    """Return the width of each column: the widest give way until the table fits, or none can give any more."""
    widths = [max(len(cell.strip()) for cell in column) for column in zip(*rows, strict=True)]
    while sum(widths) + len(GAP) * (len(widths) - 1) > width:
        widest = max(range(len(widths)), key=widths.__getitem__)
        if widths[widest] <= NARROWEST_COLUMN:
            break
        widths[widest] -= 1
    return widths
