"""What the pictures of tracking share: measures in inches, colours, and names that always fit."""

from __future__ import annotations

import unicodedata

from matplotlib.axes import Axes
from matplotlib.figure import Figure

WIDTH, LEFT, RIGHT = 11.0, 0.75, 0.75
"""Width of the paper and of its margins in inches, as all lengths here."""
TITLE_POINTS, TEXT_POINTS, SMALL_POINTS = 11.0, 9.0, 7.5
INK, GRID = "#1a1a1a", "#d9d9d9"
POINT = 1.0 / 72.0


class Paper:
    """A figure whose places are given in inches from the top left."""

    def __init__(self, height: float) -> None:
        self.figure = Figure(figsize=(WIDTH, height))
        self.height = height

    def axes(self, left: float, top: float, width: float, height: float, *, share_x: Axes | None = None) -> Axes:
        """Return axes with their top left corner at a place."""
        rectangle = (left / WIDTH, 1.0 - (top + height) / self.height, width / WIDTH, height / self.height)
        axes = self.figure.add_axes(rectangle, sharex=share_x)
        axes.tick_params(labelsize=SMALL_POINTS, length=2.5, color=INK, labelcolor=INK)
        for edge in axes.spines.values():
            edge.set(color=INK, linewidth=0.6)
        return axes

    def text(
        self,
        left: float,
        top: float,
        text: str,
        *,
        points: float = TEXT_POINTS,
        bold: bool = False,
        align: str = "left",
    ) -> None:
        """Write a line with its left end, or as `align` says its middle or right end, at a place."""
        self.figure.text(
            left / WIDTH,
            1.0 - top / self.height,
            text,
            size=points,
            color=INK,
            weight="bold" if bold else "normal",
            horizontalalignment=align,
            verticalalignment="top",
            parse_math=False,
        )


def fitting(name: str, width: float, *, points: float = TEXT_POINTS) -> str:
    """Return a name as it is shown, on one line, cut short where it is wider than the room for it in inches."""
    clean = "".join("\ufffd" if unicodedata.category(c) in ("Cc", "Cs", "Co", "Cn") else c for c in name)
    if _width(clean, points) <= width:
        return clean
    while clean and _width(clean + "…", points) > width:
        clean = clean[:-1]
    return clean.rstrip() + "…"


def _width(text: str, points: float) -> float:
    """Return about how wide a text is in inches, rather too wide than too narrow."""
    full_width = sum(unicodedata.east_asian_width(character) in "WF" for character in text)
    return points * POINT * (0.62 * (len(text) - full_width) + 1.1 * full_width)
