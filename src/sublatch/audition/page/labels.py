"""Names, lines of text and colours, as all pictures of the listening page have them."""

from __future__ import annotations

import unicodedata

TEXT_SIZE, LINE_HEIGHT = 12.0, 16.0
"""In pixels."""
LONGEST_NAME = 60
"""Characters of a name that are shown."""
COLOURS = ("#0072b2", "#d55e00", "#009e73", "#bd6495", "#bd8200", "#3a98d3")
"""Okabe and Ito's set, which the colour-blind can tell apart (from memory), without its yellow, and three of them
darkened: each has a contrast of 3:1 with white."""


def shown(name: str) -> str:
    """Return a name as it is shown: not too long, and without characters that no document may hold."""
    clean = "".join("\ufffd" if unicodedata.category(c) in ("Cc", "Cs") or c in "\ufffe\uffff" else c for c in name)
    return clean if len(clean) <= LONGEST_NAME else clean[: LONGEST_NAME - 1].rstrip() + "…"


def in_lines(text: str, width: float, *, most: int | None = None) -> list[str]:
    """Return a text in lines of a width in pixels, at most so many."""
    lines = [""]
    for word in text.split(" "):
        if width_px(f"{lines[-1]} {word}") <= width:
            lines[-1] = f"{lines[-1]} {word}".strip()
            continue
        if lines[-1]:
            lines.append("")
        for character in word:
            if width_px(lines[-1] + character) > width:
                lines.append("")
            lines[-1] += character
    if most is not None and len(lines) > most:
        lines = [*lines[: most - 1], lines[most - 1][:-1].rstrip() + "…"]
    return lines


def width_px(text: str, *, size: float = TEXT_SIZE) -> float:
    """Return about how wide a text of a size in pixels is, rather too wide than too narrow."""
    full_width = sum(unicodedata.east_asian_width(character) in "WF" for character in text)
    return size * (0.6 * (len(text) - full_width) + 1.15 * full_width)
