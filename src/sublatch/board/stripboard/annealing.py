"""The annealing itself: loops over arrays, plain Python that a last function compiles.

Items move one at a time, two change places; what costs more is taken the more seldom the cooler it is.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from hashlib import sha256
from math import log, sqrt
from pathlib import Path
from typing import Any

import numpy as np

from sublatch.arrays import Array, Whole
from sublatch.board.stripboard import copper
from sublatch.board.stripboard.bodies import GAP_MM, PITCH_MM
from sublatch.board.stripboard.copper import Grid, Problem, joining

GAP = GAP_MM / PITCH_MM
"""The least air between bodies, in holes."""
NEAR = 3.0
"""How far a decoupling capacitor's leg may lie from its chip's supply pin."""
PER_EDGE, PER_STANDING, PER_NEAR = 0.6, 0.15, 0.1
"""What costs what, in cuts or links: a hole of a wire from the edge, a standing part, a hole between decoupling
capacitor and chip."""


def draw(rng: Whole) -> float:
    """Return a random number from 0 to 1 (Park and Miller, Comm. ACM 31, 1988: the minimal standard, from memory)."""
    rng[0] = rng[0] * 48271 % 2147483647
    return float(rng[0]) / 2147483647.0


def overlaps(problem: Problem, spots: Whole, one: int) -> int:
    """Return with how many others an item's body collides."""
    found = 0
    for other in range(spots.shape[0]):
        if other != one and touch(problem, spots, one, other):
            found += 1
    return found


def touch(problem: Problem, spots: Whole, one: int, other: int) -> bool:
    """Return whether two items' bodies are nearer than the gap."""
    way, x, y = spots[one, 0], spots[one, 1], spots[one, 2]
    away, u, v = spots[other, 0], spots[other, 1], spots[other, 2]
    for i in range(problem.boxes[way]):
        left, top = problem.box[way, i, 0] + x - u - GAP, problem.box[way, i, 1] + y - v - GAP
        right, bottom = problem.box[way, i, 2] + x - u + GAP, problem.box[way, i, 3] + y - v + GAP
        for j in range(problem.boxes[away]):
            if (
                left < problem.box[away, j, 2]
                and right > problem.box[away, j, 0]
                and top < problem.box[away, j, 3]
                and bottom > problem.box[away, j, 1]
            ):
                return True
    return False


def comfort(problem: Problem, spots: Whole, grid: Grid) -> tuple[float, float]:
    """Return how far decoupling capacitors are too far off, and what wires and standing parts cost."""
    height, width = grid.at.shape
    cost, fault = 0.0, 0.0
    for item in range(spots.shape[0]):
        x, y = spots[item, 1], spots[item, 2]
        cost += PER_STANDING * problem.upright[spots[item, 0]]
        if problem.edge[item] > 0:
            cost += PER_EDGE * min(min(x, width - 1 - x), min(y, height - 1 - y))
    for k in range(problem.near.shape[0]):
        away = distance(problem, spots, problem.near[k])
        fault += max(0.0, away - NEAR)
        cost += PER_NEAR * away
    return fault, cost


def distance(problem: Problem, spots: Whole, pair: Whole) -> float:
    """Return how far two legs are apart."""
    dx = spots[pair[0], 1] + problem.leg[spots[pair[0], 0], pair[1], 0]
    dy = spots[pair[0], 2] + problem.leg[spots[pair[0], 0], pair[1], 1]
    dx -= spots[pair[2], 1] + problem.leg[spots[pair[2], 0], pair[3], 0]
    dy -= spots[pair[2], 2] + problem.leg[spots[pair[2], 0], pair[3], 1]
    return sqrt(float(dx * dx + dy * dy))


def settle(problem: Problem, spots: Whole, item: int, rng: Whole, bounds: Whole) -> None:
    """Give an item a random way to stand and a random place for it."""
    if draw(rng) < 0.5:
        spots[item, 0] = problem.first[item] + min(int(draw(rng) * problem.ways[item]), problem.ways[item] - 1)
        keep(problem, spots, item, bounds)
        if draw(rng) < 0.4:
            return
    way = spots[item, 0]
    for axis in range(2):
        low, high = problem.margin[way, axis], bounds[axis] - 1 - problem.margin[way, axis + 2]
        spots[item, 1 + axis] = low + min(int(draw(rng) * (high - low + 1)), high - low)


def keep(problem: Problem, spots: Whole, item: int, bounds: Whole) -> None:
    """Bring an item back onto the board, turned until it fits."""
    for _ in range(problem.ways[item]):
        way = spots[item, 0]
        if (
            problem.margin[way, 0] + problem.margin[way, 2] < bounds[0]
            and problem.margin[way, 1] + problem.margin[way, 3] < bounds[1]
        ):
            break
        spots[item, 0] = problem.first[item] + (way + 1 - problem.first[item]) % problem.ways[item]
    way = spots[item, 0]
    for axis in range(2):
        low, high = problem.margin[way, axis], bounds[axis] - 1 - problem.margin[way, axis + 2]
        spots[item, 1 + axis] = max(low, min(high, spots[item, 1 + axis]))


def pick(rng: Whole, count: int) -> int:
    """Return a random whole number from 0 on, below a count."""
    return min(int(draw(rng) * count), count - 1)


def gather(problem: Problem, spots: Whole, item: int, rng: Whole, bounds: Whole) -> None:
    """Put one of an item's legs into a row that has a leg of the same net, in any column."""
    if draw(rng) < 0.5:
        spots[item, 0] = problem.first[item] + pick(rng, problem.ways[item])
    leg = pick(rng, problem.legs[spots[item, 0]])
    for _ in range(12):
        other = pick(rng, spots.shape[0])
        its = pick(rng, problem.legs[spots[other, 0]])
        if other != item and problem.net[other, its] == problem.net[item, leg]:
            row = spots[other, 2] + problem.leg[spots[other, 0], its, 1]
            spots[item, 1] = pick(rng, bounds[0]) - problem.leg[spots[item, 0], leg, 0]
            spots[item, 2] = row - problem.leg[spots[item, 0], leg, 1]
            break
    keep(problem, spots, item, bounds)


def change(problem: Problem, spots: Whole, rng: Whole, bounds: Whole, moved: Whole) -> None:
    """Move one item, or exchange two, and note which."""
    one = pick(rng, spots.shape[0])
    moved[0], moved[1] = one, -1
    kind = draw(rng)
    if kind < 0.3:
        axis = 1 + pick(rng, 2)
        spots[one, axis] += 1 - 2 * pick(rng, 2)
        keep(problem, spots, one, bounds)
    elif kind < 0.7:
        gather(problem, spots, one, rng, bounds)
    elif kind < 0.85:
        settle(problem, spots, one, rng, bounds)
    else:
        other = pick(rng, spots.shape[0])
        if other != one:
            moved[1] = other
            for axis in range(1, 3):
                spots[one, axis], spots[other, axis] = spots[other, axis], spots[one, axis]
            keep(problem, spots, one, bounds)
            keep(problem, spots, other, bounds)


def collisions(problem: Problem, spots: Whole, moved: Whole) -> int:
    """Return how many bodies collide with those that are moved."""
    found = overlaps(problem, spots, moved[0])
    if moved[1] >= 0:
        found += overlaps(problem, spots, moved[1]) - touch(problem, spots, moved[0], moved[1])
    return found


def all_collisions(problem: Problem, spots: Whole) -> int:
    """Return how many pairs of bodies collide."""
    found = 0
    for item in range(spots.shape[0]):
        found += overlaps(problem, spots, item)
    return found // 2


def anneal(problem: Problem, spots: Whole, grid: Grid, rng: Whole, plan: Array, best: Whole) -> tuple[float, float]:
    """Change the places of all items step by step, ever more choosy, and keep the best clean board.

    Parameters
    ----------
    problem, grid
        What is to be placed, and room to work in.
    spots
        Way, column and row of each item, shape (items, 3); ends where the search does.
    rng
        State of the random numbers, shape (1,).
    plan
        Steps, first and last temperature, first and last cost of a fault, and whether the first clean board will do.
    best
        As `spots`: the best board found.

    Returns
    -------
    tuple
        Faults of the best board, and its cost without them.
    """
    height, width = grid.at.shape
    bounds, moved, kept = np.array([width, height]), np.array([0, -1]), spots.copy()
    body = all_collisions(problem, spots)
    joined, cost = joining(problem, spots, grid)
    far, more = comfort(problem, spots, grid)
    faults, cost = body + joined + far, cost + more
    best_faults, best_cost = faults, cost
    new_faults, new_cost = faults, cost
    best[:, :] = spots
    steps = int(plan[0])
    for step in range(steps):
        done = step / steps
        heat = plan[1] * (plan[2] / plan[1]) ** done
        dear = plan[3] + (plan[4] - plan[3]) * done
        kept[:, :] = spots
        change(problem, spots, rng, bounds, moved)
        limit = dear * faults + cost - heat * log(max(draw(rng), 1e-12))
        new_body = body + collisions(problem, spots, moved) - collisions(problem, kept, moved)
        far, more = comfort(problem, spots, grid)
        left = limit - dear * (new_body + far) - more
        if left >= 0.0:
            joined, new_cost = joining(problem, spots, grid, dear, left)
            new_faults, new_cost = new_body + joined + far, new_cost + more
        if left < 0.0 or dear * new_faults + new_cost > limit:
            spots[:, :] = kept
            continue
        body, faults, cost = new_body, new_faults, new_cost
        if faults < best_faults or (faults == best_faults and cost < best_cost):
            best_faults, best_cost = faults, cost
            best[:, :] = spots
            if faults == 0 and plan[5] > 0:
                break
    return best_faults, best_cost


STEPS = (
    *(copper.root, copper.fill, copper.divide, copper.reach, copper.join, copper.jump, copper.is_open, copper.link),
    *(copper.note, copper.solder, copper.copper, copper.wiring, copper.tree, copper.joining, draw, overlaps, touch),
    *(comfort, distance, settle, keep, pick, gather, change, collisions, all_collisions),
)
"""What the annealing calls."""


@cache
def compiled_anneal() -> Callable[..., tuple[float, float]]:
    """Return `anneal` as machine code, kept on disk for the next time where there is a place for it."""
    from numba import njit
    from numba.extending import register_jitable

    for step in (*STEPS, anneal):
        register_jitable(step)
    stamped = _stamped(sha256(Path(copper.__file__).read_bytes()).hexdigest())
    try:
        made: Any = njit(cache=True)(stamped)
    except RuntimeError:  # no folder to keep it in
        made = njit(stamped)
    return made  # type: ignore[no-any-return]


def _stamped(stamp: str) -> Callable[..., tuple[float, float]]:
    """Return `anneal` bound to a text: what is kept on disk is taken again only for the same text and this module."""

    def run(problem: Problem, spots: Whole, grid: Grid, rng: Whole, plan: Array, best: Whole) -> tuple[float, float]:
        return anneal(problem, spots, grid, rng, plan, best) if stamp else (-1.0, 0.0)

    return run
