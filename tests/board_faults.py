"""Boards with something planted in them that must not be there."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from sublatch.board.netlist import Board, Component


def with_pins(board: Board, part: Component, **nets: str) -> Board:
    """Return a board one of whose components has pins, named as in PINS, on other nets."""
    moved = {PINS.get(name, name): net for name, net in nets.items()}
    pins = tuple((pin, moved.get(pin, net)) for pin, net in part.pins)
    return _replaced(board, part, (replace(part, pins=pins),))


PINS = {"plus": "+", "minus": "-"}


def turned_round(board: Board, part: Component) -> Board:
    """Return a board one of whose diodes or electrolytics is the wrong way round."""
    return with_pins(board, part, a=part.net("b"), b=part.net("a"))


def exchanged(board: Board, part: Component) -> Board:
    """Return a board one of whose op-amps, comparators or pairs has its inputs exchanged."""
    return with_pins(board, part, plus=part.net("-"), minus=part.net("+"))


def without(board: Board, part: Component) -> Board:
    """Return a board that lacks a component."""
    return _replaced(board, part, ())


Plant = Callable[[Board, Component], Board]
SORTS: dict[str, tuple[tuple[str, ...], Plant]] = {
    "polarity": (("diode", "electrolytic", "lamp"), turned_round),
    "inputs": (("op-amp", "comparator", "transconductance amplifier"), exchanged),
    "missing resistor": (("resistor",), without),
}
"""Kinds of component that a fault can be planted in, and how."""


def planted(board: Board, sort: str) -> Iterator[tuple[Component, Board]]:
    """Yield each component in which such a fault can be planted, and the board with it."""
    kinds, plant = SORTS[sort]
    for part in board.components:
        if part.kind in kinds and not (part.role.startswith("spare.") and part.net("+") == part.net("-")):
            yield part, plant(board, part)


def _replaced(board: Board, part: Component, by: tuple[Component, ...]) -> Board:
    """Return a board with others in a component's place."""
    place = board.components.index(part)
    return replace(board, components=(*board.components[:place], *by, *board.components[place + 1 :]))
