"""Parts as the arrays that the annealing works on."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import Any

import numpy as np

from sublatch.arrays import Whole
from sublatch.board.stripboard.bodies import GAP_MM, LEAD_MM, PITCH_MM, Body, Stance, stances
from sublatch.board.stripboard.copper import Grid, Problem
from sublatch.board.stripboard.soldered import Soldered

AROUND = 0.5
"""How far round a hole, in holes, nothing may stand where a link passes down the column."""
MOST_LEGS = 400
"""In one place, while parts still stand on each other."""


def problem_of(parts: Sequence[Soldered]) -> tuple[Problem, tuple[Stance, ...], int]:
    """Return the arrays of a list of parts, every way to stand in the order of their numbers, and how many nets."""
    bodies: dict[Body, tuple[int, int]] = {}
    ways: list[Stance] = []
    shuts: list[list[tuple[int, int]]] = []
    for part in parts:
        if part.body not in bodies:
            own = stances(part.body)
            bodies[part.body] = len(ways), len(own)
            ways += own
            shuts += [_shut(stance, under=part.body.outline == "chip") for stance in own]
    numbers = _net_numbers(parts)
    most = max(len(part.legs) for part in parts)
    net = np.zeros((len(parts), most), np.int64)
    for index, own_nets in enumerate(numbers):
        net[index, : len(own_nets)] = own_nets
    problem = Problem(
        first=np.array([bodies[part.body][0] for part in parts]),
        ways=np.array([bodies[part.body][1] for part in parts]),
        legs=np.array([len(way.legs) for way in ways]),
        leg=_padded([way.legs for way in ways], 2, np.int64),
        boxes=np.array([len(way.boxes_mm) for way in ways]),
        box=_padded([way.boxes_mm for way in ways], 4, np.float64) / PITCH_MM,
        shut=np.array([len(holes) for holes in shuts]),
        shut_at=_padded(shuts, 2, np.int64),
        margin=np.array([_margin(way) for way in ways]),
        upright=np.array([int(way.standing) for way in ways]),
        net=net,
        edge=np.array([int(part.body.outline == "wire") for part in parts]),
        near=_near(parts),
    )
    return problem, tuple(ways), len({number for own_nets in numbers for number in own_nets})


def grid_of(columns: int, rows: int, *, nets: int, strips: bool = True) -> Grid:
    """Return room to work in for a board of so many holes."""
    holes, most = np.zeros((rows, columns), np.int64), columns * rows + MOST_LEGS
    return Grid(
        at=holes,
        strip=holes.copy(),
        left=holes.copy(),
        right=holes.copy(),
        closed=holes.copy(),
        parent=np.zeros(most, np.int64),
        links=np.zeros((most, 4), np.int64),
        size=np.array([0, nets, int(not strips)]),
        legs=np.zeros((most, 3), np.int64),
    )


def _net_numbers(parts: Sequence[Soldered]) -> list[list[int]]:
    """Return the number of each leg's net, part by part; each leg without a net has one of its own."""
    known: dict[str, int] = {}
    numbers = []
    for part in parts:
        own = []
        for leg, net in part.legs:
            own.append(known.setdefault(net or f"\0{part.reference}.{leg}", len(known)))
        numbers.append(own)
    return numbers


def _near(parts: Sequence[Soldered]) -> Whole:
    """Return which legs must lie near to each other: a decoupling capacitor's and its chip's at the supply."""
    index = {part.reference: number for number, part in enumerate(parts)}
    pairs = []
    for number, part in enumerate(parts):
        if part.near is None:
            continue
        chip = parts[index[part.near]]
        its = next(k for k, (leg, _) in enumerate(chip.legs) if leg == chip.power)
        mine = [k for k, (_, net) in enumerate(part.legs) if net == chip.legs[its][1]]
        pairs += [(number, k, index[part.near], its) for k in mine[:1]]
    return np.array(pairs, np.int64).reshape(-1, 4)


def _padded(rows: Sequence[Sequence[Sequence[float]]], width: int, kind: type) -> Any:
    """Return lists of different lengths as one array, filled with zeros."""
    table: Any = np.zeros((len(rows), max(1, *(len(row) for row in rows)), width), kind)
    for index, row in enumerate(rows):
        if row:
            table[index, : len(row)] = row
    return table


def _margin(way: Stance) -> tuple[int, int, int, int]:
    """Return the holes that a stance needs left, above, right and below of its first leg, body and all."""
    left = min(min(x for x, _ in way.legs), min(box[0] for box in way.boxes_mm) / PITCH_MM + 0.5)
    top = min(min(y for _, y in way.legs), min(box[1] for box in way.boxes_mm) / PITCH_MM + 0.5)
    right = max(max(x for x, _ in way.legs), max(box[2] for box in way.boxes_mm) / PITCH_MM - 0.5)
    bottom = max(max(y for _, y in way.legs), max(box[3] for box in way.boxes_mm) / PITCH_MM - 0.5)
    return tuple(ceil(side - 1e-9) for side in (-left, -top, right, bottom))  # type: ignore[return-value]


def _shut(way: Stance, *, under: bool) -> list[tuple[int, int]]:
    """Return the holes through which no link can pass: those under a body; a chip stands in a socket."""
    if under:
        return []
    half = (LEAD_MM / 2 + GAP_MM) / PITCH_MM
    holes = set()
    for left, top, right, bottom in (tuple(side / PITCH_MM for side in box) for box in way.boxes_mm):
        for column in range(ceil(left - half - 1), ceil(right + half + 1)):
            for row in range(ceil(top - AROUND - 1), ceil(bottom + AROUND + 1)):
                if left < column + half and right > column - half and top < row + AROUND and bottom > row - AROUND:
                    holes.add((column, row))
    return sorted(holes - set(way.legs))
