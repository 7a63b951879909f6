"""Where names stand on a drawing: inside the board, over no hole in use, link or other name."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

Box = tuple[float, float, float, float]
SIZES_MM = (1.5, 1.3, 1.1, 0.95)
"""Heights of letters, the first that fits."""
CHARACTER, CAPITAL = 0.6, 0.74
"""Width of a letter or digit, and height of a capital, in ems of an ordinary sans-serif font; rather too large."""
WIDE = {"W": 0.95, "M": 0.85, "m": 0.85, "w": 0.75}
"""Width of the letters that are wider."""
STEP_MM = 0.254
FARTHEST_MM = 12.0


@dataclass(frozen=True)
class Label:
    """A name in its place: its middle, and the height of its letters, in millimetres."""

    text: str
    x: float
    y: float
    size_mm: float

    @property
    def box(self) -> Box:
        """What it takes up."""
        width = self.size_mm * sum(WIDE.get(letter, CHARACTER) for letter in self.text)
        height = CAPITAL * self.size_mm
        return self.x - width / 2, self.y - height / 2, self.x + width / 2, self.y + height / 2


def place_labels(names: Sequence[tuple[str, float, float]], *, taken: Iterable[Box], board: Box) -> list[Label]:
    """Return a label for each name, as near to its point as nothing else is.

    Parameters
    ----------
    names
        Text and the point it belongs to.
    taken
        What no name may cover.
    board
        What every name lies within.

    Raises
    ------
    ValueError
        When there is no room for a name within 12 mm of its point.
    """
    busy, labels = list(taken), []
    for text, x, y in names:
        label = next(
            found for size in SIZES_MM if (found := _placed(text, (x, y), size, busy, board, last=size == SIZES_MM[-1]))
        )
        busy.append(label.box)
        labels.append(label)
    return labels


def _placed(
    text: str, point: tuple[float, float], size: float, busy: Sequence[Box], board: Box, *, last: bool
) -> Label | None:
    """Return the nearest free place, for all but the smallest letters only one close by."""
    reach = int((FARTHEST_MM if last else 2.0) / STEP_MM)
    steps = sorted(
        ((i, j) for i in range(-reach, reach + 1) for j in range(-reach, reach + 1)),
        key=lambda step: (step[0] ** 2 + step[1] ** 2, step),
    )
    for i, j in steps:
        label = Label(text, point[0] + i * STEP_MM, point[1] + j * STEP_MM, size)
        box = label.box
        inside = box[0] > board[0] and box[1] > board[1] and box[2] < board[2] and box[3] < board[3]
        if inside and not any(_meet(box, other) for other in busy):
            return label
    if last:
        raise ValueError(f"no room for the name {text}")
    return None


def _meet(one: Box, other: Box) -> bool:
    """Return whether two boxes overlap."""
    return one[0] < other[2] and one[2] > other[0] and one[1] < other[3] and one[3] > other[1]
