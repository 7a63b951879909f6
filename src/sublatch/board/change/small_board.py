"""The small board that a change adds: what stands on it laid out, its wires named by the points that they go to."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from sublatch.board.change.find import Change
from sublatch.board.change.points import Addition, addition, points
from sublatch.board.stripboard.records import Layout, Room
from sublatch.board.stripboard.search import Effort, Progress, either_layout
from sublatch.errors import CircuitError

RUNS = 4
"""Annealings: a change is to be told in seconds; `sublatch layout` searches longer."""


@dataclass(frozen=True)
class Wanted:
    """What is asked of the small board.

    Attributes
    ----------
    room
        What it must fit into; any when not given.
    seed
        The same seed finds the same board.
    progress
        Called after each step of the search.
    """

    room: Room | None = None
    seed: int = 0
    progress: Progress = field(default=lambda: None, compare=False)


@dataclass(frozen=True)
class SmallBoard:
    """The small board of a change.

    Attributes
    ----------
    layout
        Its layout, proved; None where none was found.
    why_none
        Why there is none, in words; empty where there is one.
    """

    layout: Layout | None
    why_none: str = ""


def small_board(change: Change, wanted: Wanted) -> SmallBoard | None:
    """Return the small board of a change; None where nothing is soldered on one.

    Parameters
    ----------
    change
        The change.
    wanted
        Room and seed.

    Notes
    -----
    A wire to point C is called wC, since strips and points both have letters.
    """
    added = addition(change)
    if not added.components:
        return None
    names = _edge_names(change, added)
    edge = {names[net]: f"w{letter}" for letter, net in added.edge}
    parts = tuple(
        replace(part, pins=tuple((pin, names.get(net, net)) for pin, net in part.pins)) for part in added.components
    )
    effort = Effort(RUNS, progress=wanted.progress)
    try:
        layout = either_layout(parts, edge=edge, room=wanted.room, seed=wanted.seed, effort=effort)
    except CircuitError as problem:
        return SmallBoard(None, str(problem))
    return SmallBoard(layout)


def _edge_names(change: Change, added: Addition) -> dict[str, str]:
    """Return what each net at the board's edge is called there: its point, and a lead on it that is elsewhere."""
    own = {part.reference for part in added.components}
    names = {}
    for point in points(change):
        lead = next((one for one in point.leads if one.split()[0] not in own), "")
        names[point.net] = f"point {point.letter}{f' ({lead})' if lead else ''}"
    return names
