"""Which component of one board is which of another, by what it does, and which net is which."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import zip_longest

from sublatch.board.netlist import STILL, Board, Component

Shaft = tuple[Component, ...]
"""A pot or switch as its gangs or poles."""
Twins = tuple[tuple[Component, Component], ...]
HOUSEKEEPING = "packages"
"""The block of what goes with the packages: their supply pins, decoupling, sections that are left over."""


@dataclass(frozen=True)
class Match:
    """Two boards, one against the other.

    Attributes
    ----------
    before, after
        The boards.
    twins
        Components that do the same on both, whatever their value: soldered ones, sections, and gangs or poles of one
        control.
    gone, new
        Components on one board alone, but for controls and housekeeping.
    shafts
        Pots and switches of one function on both.
    gone_shafts, new_shafts
        Those on one board alone.
    nets
        For each net of the board after, its name in the names of the board before: that net's which it continues, or a
        name that no net there has.
    """

    before: Board
    after: Board
    twins: Twins
    gone: tuple[Component, ...]
    new: tuple[Component, ...]
    shafts: tuple[tuple[Shaft, Shaft], ...]
    gone_shafts: tuple[Shaft, ...]
    new_shafts: tuple[Shaft, ...]
    nets: Mapping[str, str]

    def there(self, part: Component) -> tuple[tuple[str, str], ...]:
        """Return the pins of a component of the board after, on nets as the board before names them."""
        return tuple((pin, self.nets[net]) for pin, net in part.pins)


def match(before: Board, after: Board) -> Match:
    """Return two boards, one against the other.

    Notes
    -----
    Soldered components and sections are matched by role, which says what they do, if they are of one kind; controls by
    what they control, and only then by their order. Nets are matched by the pins of twins that they have in common,
    most first, of equals those of the same name; a net that has no such pin is new.
    """
    shafts, gone_shafts, new_shafts = _shafts(before, after)
    old, fresh = ({part.role: part for part in _soldered(board)} for board in (before, after))
    twins = [(old[role], part) for role, part in fresh.items() if role in old and _alike(old[role], part)]
    matched = {part.role for part, _ in twins}
    gangs = [pair for one, other in shafts for pair in zip(one, other, strict=False)]
    together = (*twins, *gangs)
    return Match(
        before,
        after,
        together,
        tuple(part for role, part in old.items() if role not in matched),
        tuple(part for role, part in fresh.items() if role not in matched),
        shafts,
        gone_shafts,
        new_shafts,
        _nets(before, after, together),
    )


def shaft_name(shaft: Shaft) -> str:
    """Return the designator of a pot or switch as a whole."""
    return shaft[0].package or shaft[0].reference


def _soldered(board: Board) -> Iterable[Component]:
    """Return the components that are neither controls nor housekeeping."""
    return (part for part in board.components if part.control is None and part.block != HOUSEKEEPING)


def _alike(one: Component, other: Component) -> bool:
    """Return whether two components of one role can stand in each other's place."""
    return one.kind == other.kind and [pin for pin, _ in one.pins] == [pin for pin, _ in other.pins]


def _shafts(
    before: Board, after: Board
) -> tuple[tuple[tuple[Shaft, Shaft], ...], tuple[Shaft, ...], tuple[Shaft, ...]]:
    """Return the controls of both boards, of the first alone and of the second alone."""
    both: list[tuple[Shaft, Shaft]] = []
    gone: list[Shaft] = []
    new: list[Shaft] = []
    of_before, of_after = _by_function(before), _by_function(after)
    for function in dict.fromkeys((*of_before, *of_after)):
        for one, other in zip_longest(of_before.get(function, []), of_after.get(function, [])):
            if one and other:
                both.append((one, other))
            elif one:
                gone.append(one)
            else:
                new.append(other)
    return tuple(both), tuple(gone), tuple(new)


def _by_function(board: Board) -> dict[tuple[str, str], list[Shaft]]:
    """Return the pots and switches by kind and by what they control."""
    found: dict[tuple[str, str], list[Shaft]] = {}
    for shaft in (*board.ganged("pot"), *board.ganged("switch")):
        found.setdefault((shaft[0].kind, str(shaft[0].control)), []).append(tuple(shaft))
    return found


def _nets(before: Board, after: Board, twins: Twins) -> dict[str, str]:
    """Return the name before of each net after."""
    names_before, names_after = _net_names(before), _net_names(after)
    common = Counter((one.net(pin), net) for one, other in twins for pin, net in other.pins if pin in dict(one.pins))
    still = [net for net in STILL if net in names_before and net in names_after]
    found = dict(zip(still, still, strict=True))
    ranked = sorted(common, key=lambda pair: (-common[pair], pair[0] != pair[1], pair))
    for old, new in ranked:
        if new not in found and old not in found.values():
            found[new] = old
    taken = {*names_before, *found.values()}
    for name in names_after:
        if name not in found:
            found[name] = next(free for free in _names_like(name) if free not in taken)
            taken.add(found[name])
    return found


def _net_names(board: Board) -> dict[str, None]:
    """Return the nets of a board, in order."""
    return dict.fromkeys(net for part in board.components for _, net in part.pins)


def _names_like(name: str) -> Iterable[str]:
    """Give a name and others like it."""
    yield name
    number = 2
    while True:
        yield f"{name} ({number})"
        number += 1
