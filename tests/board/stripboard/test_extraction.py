"""The proof against planted faults, judged by a general-purpose library: scipy's connected components."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from joined_legs import joined_legs, netlist_legs
from small_networks import SWEPT_EDGE, random_network, swept_filter
from sublatch.board.stripboard.drawing import draw, layout_svg
from sublatch.board.stripboard.extraction import faults
from sublatch.board.stripboard.records import Layout, Placed
from sublatch.board.stripboard.search import Effort, layout_of

FAULTS = ("missing cut", "cut one hole off", "link to another strip", "part turned", "leg on another strip", "no link")


@pytest.fixture(scope="module")
def boards() -> list[Layout]:
    networks = [(swept_filter(), SWEPT_EDGE), (swept_filter(divided=True), SWEPT_EDGE)]
    networks += [random_network(seed, most=14) for seed in (1, 2)]
    return [layout_of(parts, edge=edge, effort=Effort(1, 50_000)) for parts, edge in networks]


def found(layout: Layout) -> tuple[str, ...]:
    """Return what the proof finds wrong with a layout."""
    return faults(draw(layout, "component"), draw(layout, "copper"), layout.netlist)


def test_a_board_that_is_right_passes(boards: list[Layout]) -> None:
    for board in boards:
        assert board.proved
        assert found(board) == ()


def test_what_is_joined_is_what_the_netlist_joins(boards: list[Layout]) -> None:
    for board in boards:
        assert joined_legs(board) == netlist_legs(board)


@pytest.mark.parametrize("fault", FAULTS)
def test_a_planted_fault_is_caught_where_it_changes_what_is_joined_and_nowhere_else(
    boards: list[Layout], fault: str
) -> None:
    rng = np.random.default_rng(FAULTS.index(fault))
    harmful = 0
    for board in boards:
        for _ in range(15):
            wrong = planted(board, fault, rng)
            if wrong is None:
                continue
            changed = joined_legs(wrong) != joined_legs(board)
            harmful += changed
            assert bool(found(wrong)) == changed, (fault, wrong)
    assert harmful > 10


def test_a_leg_that_is_not_drawn_or_drawn_twice_is_told(boards: list[Layout]) -> None:
    board = boards[0]
    without = replace(board, parts=board.parts[1:])
    assert any("U1.1 is not drawn" in told for told in found(without))
    twice = replace(board, parts=(*board.parts, board.parts[-1]))
    assert any("drawn twice" in told for told in found(twice))
    more = replace(board, netlist=board.netlist[1:])
    assert any("not in the netlist" in told for told in found(more))


def test_nothing_is_drawn_unproved(boards: list[Layout]) -> None:
    with pytest.raises(ValueError, match="not proved"):
        layout_svg(replace(boards[0], proved=False), "copper")


def planted(board: Layout, fault: str, rng: np.random.Generator) -> Layout | None:
    """Return a board with one fault, None where there is nothing to spoil; holes that are in use stay single."""
    used = {hole for part in board.parts for _, hole in part.legs} | {hole for link in board.links for hole in link}
    if fault == "missing cut" and board.cuts:
        gone = board.cuts[rng.integers(len(board.cuts))]
        return replace(board, cuts=tuple(cut for cut in board.cuts if cut != gone))
    if fault == "cut one hole off" and board.cuts:
        k = int(rng.integers(len(board.cuts)))
        column, row = board.cuts[k]
        moved = (column + int(rng.choice([-1, 1])), row)
        legal = 0 <= moved[0] < board.columns
        return replace(board, cuts=(*board.cuts[:k], moved, *board.cuts[k + 1 :])) if legal else None
    if fault in ("link to another strip", "no link") and board.links:
        k = int(rng.integers(len(board.links)))
        column, row = board.links[k][1]
        if fault == "no link":
            return replace(board, links=(*board.links[:k], *board.links[k + 1 :]))
        moved = (column, row + int(rng.choice([-1, 1])))
        if not 0 <= moved[1] < board.rows or moved in used:
            return None
        return replace(board, links=(*board.links[:k], (board.links[k][0], moved), *board.links[k + 1 :]))
    if fault == "part turned":
        k = int(rng.integers(len(board.parts)))
        part = board.parts[k]
        names, holes = zip(*part.legs, strict=True)
        half = len(names) // 2
        legs = tuple(zip(names, (*holes[half:], *holes[:half]), strict=True))
        return with_part(board, k, replace(part, legs=legs)) if half else None
    if fault == "leg on another strip":
        k = int(rng.integers(len(board.parts)))
        part = board.parts[k]
        free = [(c, r) for c in range(board.columns) for r in range(board.rows) if (c, r) not in used]
        leg = int(rng.integers(len(part.legs)))
        hole = free[int(rng.integers(len(free)))]
        legs = (*part.legs[:leg], (part.legs[leg][0], hole), *part.legs[leg + 1 :])
        return with_part(board, k, replace(part, legs=legs))
    return None


def with_part(board: Layout, k: int, part: Placed) -> Layout:
    """Return a board with one part changed."""
    return replace(board, parts=(*board.parts[:k], part, *board.parts[k + 1 :]))
