"""What joins the legs of items on a board: strips, cuts and links, or wires; loops over arrays that are compiled.

A board has rows of copper, one a row of holes. Items (parts and wires) stand with their legs in holes. Legs of one net
beside each other in a row share a strip; between two nets a free hole is cut. What is then still apart is joined by
links down a column, the shortest first, by union-find. All lengths are in holes.
"""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

from sublatch.arrays import Array, Whole

PER_LENGTH, PER_LONGEST = 0.15, 0.1
"""What a hole of link and of the longest link cost, in cuts or links."""
PER_JUMP = 2
"""How much more an insulated wire from anywhere to anywhere costs than a bare link down a column."""
LONGEST_JUMP, MOST_JUMPS = 5, 4
"""How far such a wire may reach, in holes, and how many a board may have."""


class Problem(NamedTuple):
    """What is to be placed: items, the ways they can stand, and their nets.

    Attributes
    ----------
    first, ways
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
    ways: Whole
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


def root(parent: Whole, strip: int) -> int:
    """Return what stands for all strips joined to one."""
    while parent[strip] != strip:
        parent[strip] = parent[parent[strip]]
        strip = parent[strip]
    return strip


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
        if 0 < apart <= MOST_JUMPS and spent + straight * (1.0 + PER_LENGTH) + apart * (PER_JUMP + 1.0) <= limit:
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
