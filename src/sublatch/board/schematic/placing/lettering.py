"""How much room letters take on a sheet, in units."""

from __future__ import annotations

from collections.abc import Sequence

LINE = 0.42
"""Distance between lines of text."""
CHARACTER = 0.22
"""Room that a letter takes, in units."""
LETTER = 0.34
"""Height of a line of letters, in units."""
BESIDE = 0.5
"""How far from the middle of a symbol its text begins."""


def width_of(lines: Sequence[str]) -> float:
    """Return the width of some lines."""
    return CHARACTER * max(map(len, lines), default=0)
