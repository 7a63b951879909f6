"""Operations as data: components as they are taken and as they are put, applied to a netlist and undone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from sublatch.board.netlist import Component
from sublatch.errors import CircuitError

Kind = Literal[
    "lift",
    "bridge",
    "cut",
    "hardwire",
    "swap",
    "replace",
    "move",
    "insert",
    "use",
    "tie off",
    "add",
    "join",
    "free",
]
BACK: dict[Kind, Kind] = {
    "lift": "add",
    "add": "lift",
    "bridge": "insert",
    "insert": "bridge",
    "cut": "join",
    "join": "cut",
    "hardwire": "free",
    "free": "hardwire",
    "swap": "swap",
    "replace": "replace",
    "move": "move",
    "use": "tie off",
    "tie off": "use",
}
"""What undoes each kind."""


@dataclass(frozen=True)
class Operation:
    """One step of the work.

    Attributes
    ----------
    kind
        ``lift`` a part out; ``bridge``, a part out and a wire in its place; ``cut`` a wire or track; ``hardwire`` a
        control, what it switched joined for good; ``swap`` one control for another in its hole; ``replace`` a part by
        one of another value; ``move`` a lead to another place; ``insert`` a part into a wire; ``use`` a section of a
        package that is free; ``tie off`` one that becomes free; ``add`` parts. ``join`` undoes a cut, ``free`` a
        hardwired control.
    taken
        The components that it takes or alters, as they are on the board before.
    put
        The components that it puts or leaves altered. One that is in both by its designator stays where it is and has
        another value or other nets.
    singly
        The same part by part, where it is many small steps; else empty.
    """

    kind: Kind
    taken: tuple[Component, ...]
    put: tuple[Component, ...]
    singly: tuple[Operation, ...] = ()

    @property
    def moves(self) -> dict[tuple[str, str], tuple[str, str]]:
        """Return, by designator and pin, the nets from and to which each lead of a part that stays goes."""
        was = {(part.reference, pin): net for part in self.taken for pin, net in part.pins}
        now = {(part.reference, pin): net for part in self.put for pin, net in part.pins}
        return {lead: (was[lead], net) for lead, net in now.items() if was.get(lead, net) != net}

    @property
    def out(self) -> tuple[Component, ...]:
        """The components that leave the board, one that is replaced among them."""
        return _without(self.taken, self.put)

    @property
    def new(self) -> tuple[Component, ...]:
        """The components that come onto the board, one that replaces another among them."""
        return _without(self.put, self.taken)


def apply(operations: Iterable[Operation], components: Iterable[Component]) -> tuple[Component, ...]:
    """Return a netlist with operations done to it, one after the other.

    Parameters
    ----------
    operations
        What is done.
    components
        The netlist.

    Raises
    ------
    CircuitError
        When a component that an operation takes is not there as it takes it, or one that it puts is there already.
    """
    board = {part.reference: part for part in components}
    for operation in operations:
        for part in operation.taken:
            if board.get(part.reference) != part:
                raise CircuitError(
                    f"to {operation.kind}, the board must have {part.reference} ({part.value or part.kind}) on "
                    f"{_nets(part)}, got {_found(board.get(part.reference))}; were the operations done in order?"
                )
        put = {part.reference for part in operation.put}
        for part in operation.taken:
            if part.reference not in put:
                del board[part.reference]
        taken = {part.reference for part in operation.taken}
        for part in operation.put:
            if part.reference in board and part.reference not in taken:
                raise CircuitError(f"to {operation.kind}, {part.reference} must not be on the board yet, but it is")
            board[part.reference] = part
    return tuple(board.values())


def inverse(operations: Sequence[Operation]) -> tuple[Operation, ...]:
    """Return what undoes operations, in the order in which it is done: the last one first."""
    return tuple(
        Operation(BACK[one.kind], taken=one.put, put=one.taken, singly=inverse(one.singly))
        for one in reversed(operations)
    )


def _without(parts: tuple[Component, ...], others: tuple[Component, ...]) -> tuple[Component, ...]:
    """Return the components that are not among others as the same thing with the same value."""
    return tuple(
        part for part in parts if not any(one.reference == part.reference and same_thing(one, part) for one in others)
    )


def same_thing(one: Component, other: Component) -> bool:
    """Return whether two components would be bought as the same; a midpoint counts for the log tapers alone."""
    if (one.kind, one.value) != (other.kind, other.value):
        return False
    pots = one.pot, other.pot
    return all(pot is None or pot.taper == "linear" for pot in pots) or pots[0] == pots[1]


def _nets(part: Component) -> str:
    """Return a component's pins with their nets, in words."""
    return ", ".join(f"{pin}: {net}" for pin, net in part.pins)


def _found(part: Component | None) -> str:
    """Return what is there in a component's place, in words."""
    return "nothing there" if part is None else f"{part.value or part.kind} on {_nets(part)}"
