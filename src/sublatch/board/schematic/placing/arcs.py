"""What leads from one node of a row to another, over the top or below: a wire, a part, or a branch of several."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import product
from typing import Literal

from sublatch.board.schematic.placing.piece import Piece
from sublatch.board.schematic.placing.row import Joint, Row
from sublatch.circuit.filters.parts import Point

LANES, LANE = 32, 0.4
"""How many heights are tried, and the distance from one to the next."""
NEAREST = {"above": 1.6, "below": 2.0}
"""The first height above a row, and below it."""
PER_CROSSING, PER_SHIFT, BELOW = 3.0, 0.4, 1.5
"""What a crossing counts for, and a unit to a side of the middle, and going below, in units of height."""
STRETCH = 1.2
"""Wires beside a part that would be shorter than this in all are taken into its leads."""
ALONG = 0.8
"""Steps along a node at which a wire may begin."""
Side = Literal["above", "below"]


@dataclass(frozen=True)
class Load:
    """What an arc carries, from a left pin at the origin to a right one; nothing for a wire alone.

    Attributes
    ----------
    piece, length, rise
        What is drawn, and where its right pin is.
    stretched
        What is drawn at another length, where that may be.
    """

    piece: Piece
    length: float = 0.0
    rise: float = 0.0
    stretched: Callable[[float], Piece] | None = None


@dataclass(frozen=True)
class _Way:
    """Where an arc might go: its two ends, its height, and from where to where what it carries goes."""

    cost: float
    left: Point
    right: Point
    height: float
    start: float
    end: float


def join(
    row: Row, nodes: tuple[str, str], load: Load, *, ends: tuple[list[Joint], list[Joint]] | None = None
) -> Point | None:
    """Draw an arc from a node to another on its right, at the height that is best.

    Returns
    -------
    tuple or None
        Where what it carries begins; None where there is no room.
    """
    best: tuple[float, Piece, Point] | None = None
    for way in sorted(_ways(row, nodes, load, ends), key=lambda way: way.cost):
        if best is not None and way.cost >= best[0]:
            break
        piece = _drawn(way, nodes, load)
        crossings = row.piece.fits(piece)
        if crossings is not None and (best is None or way.cost + PER_CROSSING * crossings < best[0]):
            best = (way.cost + PER_CROSSING * crossings, piece, (way.start, way.height))
    if best is None:
        return None
    row.piece.add(best[1])
    return best[2]


def _ways(row: Row, nodes: tuple[str, str], load: Load, ends: tuple[list[Joint], list[Joint]] | None) -> Iterator[_Way]:
    """Yield all ways that an arc might go."""
    lefts, rights = ends or (row.joints[nodes[0]], row.joints[nodes[1]])
    for one, other in product(lefts, rights):
        for side in ("above", "below"):
            if not ((one.up and other.up) if side == "above" else (one.down and other.down)):
                continue
            sign = 1.0 if side == "above" else -1.0
            base = max(one.y, other.y) if side == "above" else min(one.y, other.y)
            for left, right in product(_places(one), _places(other)):
                spare = right - left - load.length
                if spare < (0.4 if not load.length else -1e-6):
                    continue
                length = right - left if load.stretched and spare < STRETCH else load.length
                spare = right - left - length
                shifts = _shifts(spare) if load.length else [spare / 2]
                for lane, shift in product(range(LANES), shifts):
                    up = NEAREST[side] * (1.0 if load.length else 0.6) + LANE * lane
                    cost = up + PER_SHIFT * abs(shift - spare / 2) + (0.0 if side == "above" else BELOW)
                    cost += 0.01 * (abs(left - one.left) + abs(right - other.left))
                    yield _Way(
                        cost,
                        (left, one.y),
                        (right, other.y),
                        round(base + sign * up, 4),
                        left + shift,
                        left + shift + length,
                    )


def _places(joint: Joint) -> list[float]:
    """Return where wires may meet a node."""
    count = int((joint.right - joint.left) / ALONG)
    return list(
        dict.fromkeys([joint.left, *(joint.left + ALONG * place for place in range(1, count + 1)), joint.right])
    )


def _shifts(spare: float) -> list[float]:
    """Return how far from the left end a part may begin, the middle first."""
    count = min(8, int(spare / 0.8))
    return [spare / 2, *(spare * place / count for place in range(count + 1) if count and 2 * place != count)]


def _drawn(way: _Way, nodes: tuple[str, str], load: Load) -> Piece:
    """Return an arc with what it carries."""
    length, end, height = round(way.end - way.start, 4), way.end, way.height
    piece = load.piece
    if load.stretched is not None and abs(length - load.length) > 1e-6:
        piece = load.stretched(length)
    piece = piece.moved(way.start, height)
    first = [way.left, (way.left[0], height), (way.start, height)]
    second = [(end, height + load.rise), (way.right[0], height + load.rise), way.right]
    if load.length:
        piece.wire(nodes[0], *map(_rounded, first))
        piece.wire(nodes[1], *map(_rounded, second))
    else:
        piece.wire(nodes[0], *map(_rounded, [*first[:2], *second[1:]]))
    return piece


def _rounded(point: Point) -> Point:
    """Return a point as it compares."""
    return round(point[0], 4), round(point[1], 4)
