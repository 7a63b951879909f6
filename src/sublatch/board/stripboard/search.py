"""The search for a board: sizes tried up and down, the copper of what is found proved before anything is drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil

import numpy as np

from sublatch.arrays import Whole
from sublatch.board.netlist import Board, Component
from sublatch.board.stripboard.annealing import compiled_anneal
from sublatch.board.stripboard.bodies import GAP_MM, PITCH_MM, SMALL_FILM_MM, Stance
from sublatch.board.stripboard.copper import Problem, joining
from sublatch.board.stripboard.drawing import draw
from sublatch.board.stripboard.extraction import faults
from sublatch.board.stripboard.problem import grid_of, problem_of
from sublatch.board.stripboard.records import Hole, Kind, Layout, Placed, Room
from sublatch.board.stripboard.soldered import Soldered, block_components, soldered
from sublatch.errors import CircuitError

Progress = Callable[[], None]
RUNS = 16
"""Annealings by default: fewer take less time and leave a larger board."""
STEPS, MORE_STEPS = 120_000, 10_000
"""Steps of one annealing, and how many more for each item."""
HEAT, COOL, FAULT, LAST_FAULT = 3.0, 0.3, 8.0, 14.0
"""Temperatures and costs of a fault, the first and the last, in cuts or links."""
POLISH_HEAT, POLISH_COOL, POLISH_FAULT = 0.5, 0.08, 20.0
SLIMMEST, WIDEST = 0.4, 2.6
"""Columns over rows."""
ROOMY = 1.5
"""Area of the first board tried over that of the parts."""
MOST_AREA = 6.0
"""Area of the largest board tried over that of the parts."""
FEWEST_GROWING = 10
"""Further annealings on ever larger boards, where all on smaller ones fail."""


@dataclass(frozen=True)
class Effort:
    """How long is searched.

    Attributes
    ----------
    runs
        Annealings; one of a single chip takes about a second.
    steps
        Steps of each; more for more parts when not given.
    progress
        Called after each annealing.
    """

    runs: int = RUNS
    steps: int | None = None
    progress: Progress = lambda: None


DEFAULT = Effort()


def layout_of(
    components: Sequence[Component],
    *,
    edge: Iterable[str] = (),
    room: Room | None = None,
    seed: int = 0,
    effort: Effort = DEFAULT,
    strips: bool = True,
) -> Layout:
    """Return the smallest board that is found for a netlist, proved.

    Parameters
    ----------
    components
        Parts, and sections of chips with or without their package; see `soldered`. Pots, switches, jacks and batteries
        stand off the board: their nets get wires.
    edge
        Nets that lead off the board besides; as a mapping, with the names of their wires.
    room
        What the board must fit into, lengthwise or crosswise.
    seed
        The same seed finds the same board.
    effort
        How long is searched.
    strips
        False for a perfboard, whose legs are joined by wires.

    Returns
    -------
    Layout
        The smallest found, by area, then cuts and links; there may be smaller ones. Its `proved` is true.

    Raises
    ------
    CircuitError
        When a part's body or pins are not known, or no board is found: in the room, with the nearest that works, or at
        all.
    """
    parts = soldered(components, edge=edge)
    if not parts:
        raise CircuitError("a layout needs parts with legs, got none")
    search = _Search(parts, seed=seed, effort=effort, strips=strips)
    found = search.smallest(_shapes(parts, room), effort.runs)
    if found is not None:
        return _proved(found)
    if room is None:
        raise CircuitError(f"no {search.kind} was found for {len(parts)} parts and wires")
    nearest = search.smallest(_shapes(parts, None), effort.runs)
    told = "none was found in any room"
    if nearest is not None:
        width, height = nearest.size_mm
        told = f"the nearest found is {nearest.columns} × {nearest.rows} holes, {width:.1f} × {height:.1f} mm"
    raise CircuitError(f"no {search.kind} for {len(parts)} parts and wires was found in a room of {room}; {told}")


class _Search:
    """One netlist under search, with the random numbers and the best board so far."""

    def __init__(self, parts: Sequence[Soldered], *, seed: int, effort: Effort, strips: bool) -> None:
        self.parts, self.seed, self.strips, self.progress = parts, seed, strips, effort.progress
        self.steps = STEPS + MORE_STEPS * len(parts) if effort.steps is None else effort.steps
        self.kind: Kind = "stripboard" if strips else "perfboard"
        self.problem, self.ways, self.nets = problem_of(parts)
        self.rng = np.array([1 + (seed * 7919 + 12345) % 2147483646])

    def smallest(self, shapes: Sequence[tuple[int, int]], runs: int) -> Layout | None:
        """Return the smallest clean board, by going down in size after a clean one and up after another."""
        start = next(
            (k for k, shape in enumerate(shapes) if _area(shape) >= ROOMY * needed(self.parts)), len(shapes) - 1
        )
        place, step, best = start, max(1, len(shapes) // 8), None
        top, tries = len(shapes), 0
        while shapes and tries < runs + (FEWEST_GROWING if best is None else 0):
            tries += 1
            spots = self.anneal(shapes[place], HEAT, COOL, stop=True)
            if spots is not None:
                best, top = (shapes[place], spots), place
                place = max(0, place - step)
            else:
                step = max(1, step * 2 // 3) if best is not None else step
                place = min(place + (1 if best is not None else step), len(shapes) - 1)
            if best is not None and place >= top:
                place = max(0, top - 1 - (tries % 3))
            if top == 0:
                break
        if best is None:
            return None
        return self.layout(best[0], self.polish(*best))

    def anneal(self, shape: tuple[int, int], heat: float, cool: float, *, stop: bool) -> Whole | None:
        """Return the places found on a board of one size, None for none without a fault."""
        spots = np.zeros((len(self.parts), 3), np.int64)
        spots[:, 0] = self.problem.first
        if not all(_fits(self.problem, item, shape) for item in range(len(spots))):
            return None
        for item in range(len(spots)):
            way = next(way for way in _ways(self.problem, item) if _has_room(self.problem, way, shape))
            spots[item] = way, self.problem.margin[way, 0], self.problem.margin[way, 1]
        return self._run(shape, spots, (heat, cool, FAULT, LAST_FAULT, float(stop)))

    def polish(self, shape: tuple[int, int], spots: Whole) -> Whole:
        """Return a clean board with fewer cuts and links where there is one nearby."""
        found = self._run(shape, spots.copy(), (POLISH_HEAT, POLISH_COOL, POLISH_FAULT, POLISH_FAULT, 0.0))
        return spots if found is None else found

    def _run(self, shape: tuple[int, int], spots: Whole, plan: tuple[float, ...]) -> Whole | None:
        """Anneal once and return the best places, None where they have a fault."""
        best = spots.copy()
        grid = grid_of(*shape, nets=self.nets, strips=self.strips)
        faulty, _ = compiled_anneal()(self.problem, spots, grid, self.rng, np.array([self.steps, *plan]), best)
        self.progress()
        return best if faulty == 0 else None

    def layout(self, shape: tuple[int, int], spots: Whole) -> Layout:
        """Return places as a layout, not yet proved."""
        grid = grid_of(*shape, nets=self.nets, strips=self.strips)
        joining(self.problem, spots, grid)
        links = tuple(((int(a), int(b)), (int(c), int(d))) for a, b, c, d in grid.links[: grid.size[0]])
        parts = tuple(
            _placed(part, self.ways[way], (int(x), int(y))) for part, (way, x, y) in zip(self.parts, spots, strict=True)
        )
        netlist = tuple((part.reference, leg, net) for part in self.parts for leg, net in part.legs)
        cuts = _cuts(self.problem, spots, grid.at) if self.strips else ()
        return Layout(self.kind, *shape, parts, cuts, links, netlist, proved=False, seed=self.seed)


def block_layout(
    board: Board,
    block: str,
    *,
    room: Room | None = None,
    seed: int = 0,
    effort: Effort = DEFAULT,
    strips: bool = True,
) -> Layout:
    """Return one block of a circuit as a board of its own: stripboard, or perfboard where none is found.

    Parameters
    ----------
    board
        The whole board.
    block
        One of its blocks; see `block_components`.
    room, seed, effort, strips
        As in `layout_of`.

    Raises
    ------
    CircuitError
        As `layout_of`, and when there is no such block.
    """
    components, edge = block_components(board, block)
    return either_layout(components, edge=edge, room=room, seed=seed, effort=effort, strips=strips)


def either_layout(
    components: Sequence[Component],
    *,
    edge: Iterable[str],
    room: Room | None = None,
    seed: int = 0,
    effort: Effort = DEFAULT,
    strips: bool = True,
) -> Layout:
    """Return a netlist on stripboard, or on perfboard where no stripboard is found; see `layout_of`.

    Raises
    ------
    CircuitError
        As `layout_of`.
    """
    soldered(components, edge=edge)  # what has no body has none on perfboard either
    try:
        return layout_of(components, edge=edge, room=room, seed=seed, effort=effort, strips=strips)
    except CircuitError:
        if not strips:
            raise
        return layout_of(components, edge=edge, room=room, seed=seed, effort=effort, strips=False)


def needed(parts: Sequence[Soldered]) -> int:
    """Return about how many holes parts cover, rods standing."""
    holes = 0
    for part in parts:
        body = part.body
        if body.standing_spans:
            holes += 2
        else:
            length = SMALL_FILM_MM if body.small_width_mm else body.length_mm
            width = body.small_width_mm or body.width_mm
            holes += ceil((length + GAP_MM) / PITCH_MM - 0.1) * ceil((width + GAP_MM) / PITCH_MM - 0.1)
    return holes


def _shapes(parts: Sequence[Soldered], room: Room | None) -> list[tuple[int, int]]:
    """Return the sizes to try, columns and rows, from small to large."""
    least, most = needed(parts), max(30.0, MOST_AREA * needed(parts))
    found = [
        (columns, rows)
        for columns in range(2, 60)
        for rows in range(2, 60)
        if least * 0.9 <= columns * rows <= most
        and SLIMMEST <= columns / rows <= WIDEST
        and (room is None or room.holds(columns, rows))
    ]
    return sorted(found, key=lambda shape: (_area(shape), abs(shape[0] - 1.4 * shape[1])))


def _area(shape: tuple[int, int]) -> int:
    """Return how many holes a board has."""
    return shape[0] * shape[1]


def _ways(problem: Problem, item: int) -> range:
    """Return the ways in which an item can stand."""
    return range(problem.first[item], problem.first[item] + problem.ways[item])


def _has_room(problem: Problem, way: int, shape: tuple[int, int]) -> bool:
    """Return whether a board is large enough for one way to stand."""
    left, top, right, bottom = problem.margin[way]
    return bool(left + right < shape[0] and top + bottom < shape[1])


def _fits(problem: Problem, item: int, shape: tuple[int, int]) -> bool:
    """Return whether a board is large enough for an item."""
    return any(_has_room(problem, way, shape) for way in _ways(problem, item))


def _placed(part: Soldered, way: Stance, place: Hole) -> Placed:
    """Return a part in its place."""
    x, y = place
    legs = tuple((name, (x + dx, y + dy)) for (name, _), (dx, dy) in zip(part.legs, way.legs, strict=True))
    shift = (x * PITCH_MM, y * PITCH_MM, x * PITCH_MM, y * PITCH_MM)
    boxes = tuple(tuple(side + by for side, by in zip(box, shift, strict=True)) for box in way.boxes_mm)
    return Placed(part.reference, part.value, part.body.outline, way.standing, legs, boxes)  # type: ignore[arg-type]


def _cuts(problem: Problem, spots: Whole, at: Whole) -> tuple[Hole, ...]:
    """Return a free hole between each two neighbours of different nets in a row: the middle of those there are."""
    cuts = []
    for row in range(at.shape[0]):
        legs = [column for column in range(at.shape[1]) if at[row, column] > 0]
        for one, other in pairwise(legs):
            if at[row, one] != at[row, other]:
                cuts.append(((one + other) // 2, row))
    return tuple(cuts)


def _proved(layout: Layout) -> Layout:
    """Return a layout as proved, after its drawings were read back.

    Raises
    ------
    AssertionError
        When they do not join what the netlist joins: a fault of this program, of which nothing is printed.
    """
    wrong = faults(draw(layout, "component"), draw(layout, "copper"), layout.netlist)
    if wrong:
        raise AssertionError(f"the layout that was found does not join its netlist: {'; '.join(wrong)}")
    return replace(layout, proved=True)
