"""The annealing itself: loops over arrays, plain Python that is compiled at the end.

A board has rows of copper, one a row of holes. Items (parts and wires) stand with their legs in holes. Legs of one net
beside each other in a row share a strip; between two nets a free hole is cut. What is then still apart is joined by
links down a column, the shortest first, by union-find. All lengths are in holes.
"""

from __future__ import annotations

from math import log, sqrt
from typing import NamedTuple

import numpy as np

from sublatch.arrays import Array, Whole

GAP = 0.2 / 2.54
"""The least air between bodies; `GAP_MM` in holes."""
PER_JUMP = 2
"""How much more an insulated wire from anywhere to anywhere costs than a bare link down a column."""
LONGEST_JUMP = 7
"""How far such a wire may reach, in holes."""
NEAR = 3.0
"""How far a decoupling capacitor's leg may lie from its chip's supply pin."""
PER_LENGTH, PER_LONGEST, PER_EDGE, PER_STANDING, PER_NEAR = 0.15, 0.1, 0.6, 0.15, 0.1
"""What costs what, in cuts or links: a hole of link, of the longest link, of a wire from the edge, a standing part, a
hole between decoupling capacitor and chip."""


class Problem(NamedTuple):
    """What is to be placed: items, the ways they can stand, and their nets.

    Attributes
    ----------
    first, count
        First way to stand of each item and how many there are.
    legs, leg
        Number of legs of each way, and their column and row.
    boxes, box
        Number of boxes of each way, and their left, top, right and bottom.
    shut, shut_at
        Number of holes that each way closes to links, and their column and row.
    margin
        Least room left, above, right and below of the first leg.
    upright
        1 for a standing part.
    net
        Net of each leg of each item; nets that are joined by nobody have numbers of their own.
    edge
        1 for an item that belongs to the edge.
    near
        Item, leg, item, leg of what must lie near to each other.
    """

    first: Whole
    count: Whole
    legs: Whole
    leg: Whole
    boxes: Whole
    box: Array
    shut: Whole
    shut_at: Whole
    margin: Whole
    upright: Whole
    net: Whole
    edge: Whole
    near: Whole


class Grid(NamedTuple):
    """Room to work in: what is in each hole, which strips reach it, the links, and how many there are.

    `size` has the number of links, of nets, and 1 for a board without strips. `links` has column, row and last row of
    each link, or both ends of each wire.
    """

    at: Whole
    strip: Whole
    left: Whole
    right: Whole
    closed: Whole
    parent: Whole
    links: Whole
    size: Whole
    legs: Whole


def draw(rng: Whole) -> float:
    """Return a random number from 0 to 1 (Park and Miller, Comm. ACM 31, 1988: the minimal standard, from memory)."""
    rng[0] = rng[0] * 48271 % 2147483647
    return float(rng[0]) / 2147483647.0


def root(parent: Whole, strip: int) -> int:
    """Return what stands for all strips joined to one."""
    while parent[strip] != strip:
        parent[strip] = parent[parent[strip]]
        strip = parent[strip]
    return strip


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


def fill(problem: Problem, spots: Whole, grid: Grid) -> int:
    """Put every leg into its hole, note what is closed to links, and return how many legs met another."""
    grid.at[:, :] = 0
    grid.closed[:, :] = 0
    clashes = 0
    for item in range(spots.shape[0]):
        way, x, y = spots[item, 0], spots[item, 1], spots[item, 2]
        for k in range(problem.legs[way]):
            column, row = x + problem.leg[way, k, 0], y + problem.leg[way, k, 1]
            if grid.at[row, column] == 0:
                grid.at[row, column] = problem.net[item, k] + 1
            else:
                clashes += 1
        for k in range(problem.shut[way]):
            column, row = x + problem.shut_at[way, k, 0], y + problem.shut_at[way, k, 1]
            if 0 <= row < grid.at.shape[0] and 0 <= column < grid.at.shape[1]:
                grid.closed[row, column] = 1
    return clashes


def divide(grid: Grid) -> tuple[int, int, int]:
    """Part every row into strips, and return how many strips, cuts, and places without room for a cut there are."""
    strips = cuts = shorts = 0
    for row in range(grid.at.shape[0]):
        last = -1
        for column in range(grid.at.shape[1]):
            net = grid.at[row, column]
            if net == 0:
                continue
            if last < 0 or grid.at[row, last] != net:
                if last >= 0:
                    cuts += 1
                    shorts += column == last + 1
                grid.parent[strips] = strips
                strips += 1
            grid.strip[row, column] = strips - 1
            last = column
        reach(grid, row)
    return strips, cuts, shorts


def reach(grid: Grid, row: int) -> None:
    """Note for each hole of a row the leg on its left and on its right whose strip it can belong to: -1 for none."""
    width = grid.at.shape[1]
    last = -1
    for column in range(width):
        if grid.at[row, column] > 0:
            last = column
        grid.left[row, column] = last
    last = -1
    for column in range(width - 1, -1, -1):
        if grid.at[row, column] > 0:
            last = column
        left = grid.left[row, column]
        right = last
        if left >= 0 and right >= 0 and grid.at[row, left] == grid.at[row, right]:
            right = -1
        elif left >= 0 and right >= 0:  # one hole of those between must be left for the cut
            if column == right - 1:
                grid.left[row, column] = -1
            if column == left + 1:
                right = -1
        grid.right[row, column] = right


def join(grid: Grid, apart: int) -> int:
    """Join what is apart by links down a column, the shortest first, and return how much stays apart."""
    height, width = grid.at.shape
    for length in range(1, height):
        for column in range(width):
            for row in range(height - length):
                if apart == 0:
                    return 0
                if is_open(grid, column, row, row + length) and link(grid, column, row, column, row + length):
                    apart -= 1
                    for passed in range(row + 1, row + length):
                        grid.closed[passed, column] = 1
    return apart


def jump(grid: Grid, apart: int) -> int:
    """Join what is still apart by insulated wires from any free hole to any other, and return how much stays apart."""
    height, width = grid.at.shape
    for reach2 in range(1, LONGEST_JUMP**2 + 1):
        for dy in range(LONGEST_JUMP + 1):
            dx = int(sqrt(float(max(0, reach2 - dy * dy))) + 0.5)
            if dx * dx + dy * dy != reach2:
                continue
            for row in range(height - dy):
                for column in range(width):
                    for end in (column - dx, column + dx):
                        if apart == 0:
                            return 0
                        if (
                            0 <= end < width
                            and is_open(grid, column, row, row)
                            and is_open(grid, end, row + dy, row + dy)
                            and link(grid, column, row, end, row + dy)
                        ):
                            apart -= 1
    return apart


def is_open(grid: Grid, column: int, row: int, end: int) -> bool:
    """Return whether nothing is in the way of a link down a column."""
    for passed in range(row, end + 1):  # noqa: SIM110 - compiled as it stands
        if grid.at[passed, column] != 0 or grid.closed[passed, column] != 0:
            return False
    return True


def link(grid: Grid, column: int, row: int, other: int, end: int) -> bool:
    """Lay a link between two free holes where that joins a net, and return whether it did."""
    for i in range(2):
        above = grid.left[row, column] if i == 0 else grid.right[row, column]
        if above < 0:
            continue
        for j in range(2):
            below = grid.left[end, other] if j == 0 else grid.right[end, other]
            if below < 0 or grid.at[row, above] != grid.at[end, below]:
                continue
            one, two = root(grid.parent, grid.strip[row, above]), root(grid.parent, grid.strip[end, below])
            if one == two or (row == end and abs(column - other) < 2):
                continue
            grid.parent[one] = two
            solder(grid, column, row, above)
            solder(grid, other, end, below)
            note(grid, column, row, other, end)
            return True
    return False


def note(grid: Grid, column: int, row: int, other: int, end: int) -> None:
    """Add a link to the list."""
    count = grid.size[0]
    grid.links[count, 0], grid.links[count, 1] = column, row
    grid.links[count, 2], grid.links[count, 3] = other, end
    grid.size[0] += 1


def solder(grid: Grid, column: int, row: int, leg: int) -> None:
    """Put a link's end into a hole, on the strip of a leg in its row."""
    grid.at[row, column] = grid.at[row, leg]
    grid.strip[row, column] = grid.strip[row, leg]
    reach(grid, row)


def copper(problem: Problem, spots: Whole, grid: Grid, dear: float, limit: float) -> tuple[int, float]:
    """Return how many clashes, shorts and opens there are, and what cuts and links cost.

    Once it is certain that they cost more than a limit, each fault at its price, what is apart is counted as open.
    """
    clashes = fill(problem, spots, grid)
    strips, cuts, shorts = divide(grid)
    apart = strips - grid.size[1]
    grid.size[0] = 0
    spent = dear * (clashes + shorts) + cuts
    if spent + (1.0 + PER_LENGTH) * max(apart, 0) <= limit:
        apart = join(grid, apart)
        straight = grid.size[0]
        if apart > 0 and spent + straight * (1.0 + PER_LENGTH) + apart * (PER_JUMP + 1.0) <= limit:
            apart = jump(grid, apart)
        cuts += PER_JUMP * (grid.size[0] - straight)
    cost = float(cuts + grid.size[0])
    longest = 0.0
    for k in range(grid.size[0]):
        across, down = grid.links[k, 2] - grid.links[k, 0], grid.links[k, 3] - grid.links[k, 1]
        length = sqrt(float(across * across + down * down))
        cost += PER_LENGTH * length
        longest = max(longest, length)
    return clashes + shorts + max(apart, 0), cost + PER_LONGEST * longest


def wiring(problem: Problem, spots: Whole, grid: Grid) -> tuple[int, float]:
    """Return how many clashes there are, and what wires cost that join each net the shortest way, leg to leg."""
    clashes = fill(problem, spots, grid)
    cost = 0.0
    grid.size[0] = 0
    for net in range(grid.size[1]):
        legs = 0
        for item in range(spots.shape[0]):
            for k in range(problem.legs[spots[item, 0]]):
                if problem.net[item, k] == net:
                    grid.legs[legs, 0] = spots[item, 1] + problem.leg[spots[item, 0], k, 0]
                    grid.legs[legs, 1] = spots[item, 2] + problem.leg[spots[item, 0], k, 1]
                    legs += 1
        cost += tree(grid, legs)
    return clashes, cost


def tree(grid: Grid, legs: int) -> float:
    """Lay the shortest wires that join so many legs (Prim's tree), and return their length."""
    length = 0.0
    for leg in range(legs):
        grid.legs[leg, 2] = 0
    for _ in range(legs - 1):
        grid.legs[0, 2] = 1
        best, near, far = 1e18, 0, 0
        for one in range(legs):
            if grid.legs[one, 2] == 0:
                continue
            for other in range(legs):
                if grid.legs[other, 2] == 0:
                    dx, dy = grid.legs[one, 0] - grid.legs[other, 0], grid.legs[one, 1] - grid.legs[other, 1]
                    if float(dx * dx + dy * dy) < best:
                        best, near, far = float(dx * dx + dy * dy), one, other
        grid.legs[far, 2] = 1
        for axis in range(2):
            grid.links[grid.size[0], axis] = grid.legs[near, axis]
            grid.links[grid.size[0], axis + 2] = grid.legs[far, axis]
        grid.size[0] += 1
        length += sqrt(best)
    return length


def joining(problem: Problem, spots: Whole, grid: Grid, dear: float = 1.0, limit: float = 1e9) -> tuple[int, float]:
    """Return the faults and the cost of what joins the legs: strips and links, or wires."""
    if grid.size[2] > 0:
        return wiring(problem, spots, grid)
    return copper(problem, spots, grid, dear, limit)


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
        spots[item, 0] = problem.first[item] + min(int(draw(rng) * problem.count[item]), problem.count[item] - 1)
        keep(problem, spots, item, bounds)
        if draw(rng) < 0.4:
            return
    way = spots[item, 0]
    for axis in range(2):
        low, high = problem.margin[way, axis], bounds[axis] - 1 - problem.margin[way, axis + 2]
        spots[item, 1 + axis] = low + min(int(draw(rng) * (high - low + 1)), high - low)


def keep(problem: Problem, spots: Whole, item: int, bounds: Whole) -> None:
    """Bring an item back onto the board, turned until it fits."""
    for _ in range(problem.count[item]):
        way = spots[item, 0]
        if (
            problem.margin[way, 0] + problem.margin[way, 2] < bounds[0]
            and problem.margin[way, 1] + problem.margin[way, 3] < bounds[1]
        ):
            break
        spots[item, 0] = problem.first[item] + (way + 1 - problem.first[item]) % problem.count[item]
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
        spots[item, 0] = problem.first[item] + pick(rng, problem.count[item])
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
