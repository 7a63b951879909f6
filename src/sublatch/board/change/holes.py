"""Controls and their holes: which one goes, which one comes, and what a switch that goes is joined to for good."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sublatch.board.builder import THROWS
from sublatch.board.change.match import Match, Shaft
from sublatch.board.netlist import Component

Lead = tuple[str, str]
"""Designator and pin."""
MOVING = ("wiper", "common")
"""The pin of a control that goes from one of its others to the next."""
TURNED = {"ccw": "fully anticlockwise", "cw": "fully clockwise"}


@dataclass(frozen=True)
class Hole:
    """A hole in the enclosure, with the control that leaves it and the one that comes into it.

    Attributes
    ----------
    gone, new
        The controls; None where the hole stays empty, or is a further one.
    joined
        Leads that were on the moving pin of the control that goes, and the nets that they go to: those of one of its
        other pins.
    at
        Where the control that goes stands for good, such as ``inverted``; empty where it is not joined.
    """

    gone: Shaft | None
    new: Shaft | None
    joined: Mapping[Lead, str]
    at: str = ""


def holes(found: Match, moves: Mapping[Lead, tuple[str, str]]) -> list[Hole]:
    """Return the holes whose controls change their function, with those of the leads in `moves` that belong to them.

    Notes
    -----
    A control that goes leaves its hole to the first new one of its sort, pot or switch.
    """
    waiting = list(found.new_shafts)
    made = []
    for gone in found.gone_shafts:
        new = next((one for one in waiting if one[0].kind == gone[0].kind), None)
        if new is not None:
            waiting.remove(new)
        joined, at = _joined(gone, moves)
        made.append(Hole(gone, new, joined, at))
    return [*made, *(Hole(None, new, {}) for new in waiting)]


def _joined(shaft: Shaft, moves: Mapping[Lead, tuple[str, str]]) -> tuple[dict[Lead, str], str]:
    """Return the leads that go from a control's moving pin to one of its others, and where it thus stands."""
    joined: dict[Lead, str] = {}
    at = ""
    for part in shaft:
        for pin, end in _ends(part):
            own = {lead: to for lead, (start, to) in moves.items() if (start, to) == (_moving(part), end)}
            joined |= own
            at = _position(part, pin) if own else at
    return joined, at


def _moving(part: Component) -> str:
    """Return the net of a control's moving pin."""
    return next(net for pin, net in part.pins if pin in MOVING)


def _ends(part: Component) -> Iterable[Lead]:
    """Give the other pins of a control, with their nets."""
    return ((pin, net) for pin, net in part.pins if pin not in MOVING and net != _moving(part))


def _position(part: Component, pin: str) -> str:
    """Return what a control is called where its moving pin meets another."""
    return TURNED[pin] if part.kind == "pot" else THROWS[str(part.control)][int(pin) - 1]
