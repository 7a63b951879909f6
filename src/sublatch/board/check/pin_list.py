"""Every pin of every package: its number, what it is, and what it goes to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sublatch.board.netlist import Board, Component
from sublatch.board.packages.pins import PINOUTS, Pinout


@dataclass(frozen=True)
class PackagePin:
    """One pin of a package.

    Attributes
    ----------
    number, name
        Its number, and what it is, of which section.
    component
        The designator of the section or package that it belongs to.
    net
        The net that it goes to; None where it stays open.
    """

    number: int
    name: str
    component: str
    net: str | None


@dataclass(frozen=True)
class PackagePins:
    """One package: its designator, what to order, as what it is sold, and its pins by their number."""

    reference: str
    value: str
    package: str
    pins: tuple[PackagePin, ...]


def pin_list(board: Board) -> list[PackagePins]:
    """Return every package of a board with all of its pins, those that stay open too.

    Parameters
    ----------
    board
        The board.

    Notes
    -----
    A pin that two components of the board claim is there twice, and one that no package has is left out: both are what
    the electrical check looks for.
    """
    return [
        PackagePins(str(part.package), part.value, _pinout_of(board, part).name, tuple(_pins(board, part)))
        for part in board.components
        if part.kind == "package"
    ]


def pin_number(board: Board, part: Component, pin: str) -> int | None:
    """Return the number of a component's pin; None where it is of no package."""
    pinout = pinout_of(board, part)
    return None if pinout is None else pinout.number(section_of(part), pin)


def pinout_of(board: Board, part: Component) -> Pinout | None:
    """Return the pinout of the package that a section, or the package itself, is of; None for anything else."""
    if part.kind == "package":
        kinds = (other.kind for other in board.components if other.package == part.package)
        return next((PINOUTS[kind] for kind in kinds if kind in PINOUTS), None)
    return PINOUTS.get(part.kind)


def section_of(part: Component) -> str:
    """Return the letter of a section: A for U3A."""
    return part.reference[-1]


def _pinout_of(board: Board, part: Component) -> Pinout:
    """Return the pinout of a package, of which every one has."""
    pinout = pinout_of(board, part)
    assert pinout is not None, f"{part.reference} has no section of a known kind"
    return pinout


def _pins(board: Board, package: Component) -> Iterator[PackagePin]:
    """Yield a package's pins by their number."""
    pinout = _pinout_of(board, package)
    parts = [part for part in board.components if part.package == package.package]
    used = [
        (pinout.number(section_of(part), pin), pin, part.reference, net) for part in parts for pin, net in part.pins
    ]
    taken = {number for number, *_ in used}
    named = [
        (number, pin, f"{package.package}{letter}")
        for letter, pins in pinout.sections.items()
        for pin, number in pins.items()
    ]
    named += [(number, pin, package.reference) for pin, number in pinout.shared.items()]
    open_pins = [(number, pin, reference, None) for number, pin, reference in named if number not in taken]
    yield from (PackagePin(*pin) for pin in sorted([*used, *open_pins], key=lambda pin: pin[0]))
