"""Pots, switches and jacks: which lug goes where, and from which side they are seen."""

from __future__ import annotations

from dataclasses import dataclass

from sublatch.board.builder import LUGS, THROWS
from sublatch.board.netlist import Board, Component
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.units import format_ohms

RHEOSTAT = "Lugs 1 and 2 are joined: a variable resistor that falls as it is turned clockwise."
DIVIDER = "A divider: the further clockwise, the nearer the wiper to lug 3."
STEPS = (0.0, FULL_TURN / 2, FULL_TURN)


@dataclass(frozen=True)
class Lug:
    """One lug: its number or name, the net that it goes to, and what else hangs there."""

    name: str
    net: str
    leads: str


@dataclass(frozen=True)
class Gang:
    """One gang of a pot or one pole of a switch: its designator and its lugs in the order of the picture."""

    reference: str
    lugs: tuple[Lug, ...]


@dataclass(frozen=True)
class Pot:
    """A pot on the panel.

    Attributes
    ----------
    reference, control, value
        Its designator, its knob or that it is a trimmer, and what to buy.
    gangs
        The one nearest to the panel first.
    law
        What turning it does.
    check
        Ohms at the knob's ends and middle to find with a meter before it is wired, and between which lugs.
    between
        The lugs that these are measured between.
    """

    reference: str
    control: str
    value: str
    gangs: tuple[Gang, ...]
    law: str
    check: tuple[tuple[float, str], ...]
    between: str


@dataclass(frozen=True)
class Switch:
    """A switch on the panel, what its lever does, and its poles."""

    reference: str
    control: str
    value: str
    note: str
    poles: tuple[Gang, ...]


@dataclass(frozen=True)
class Wiring:
    """All that is wired off the board."""

    pots: tuple[Pot, ...]
    switches: tuple[Switch, ...]
    jacks: tuple[tuple[Component, tuple[Lug, ...]], ...]


def wiring(board: Board) -> Wiring:
    """Return which lug of each pot, switch, jack and battery goes where."""
    jacks = [part for part in board.components if part.kind in ("jack", "battery")]
    return Wiring(
        tuple(_pot(board, parts) for parts in board.ganged("pot")),
        tuple(_switch(board, parts) for parts in board.ganged("switch")),
        tuple((part, tuple(_lug(board, part, pin, _jack_pin(part, pin)) for pin, _ in part.pins)) for part in jacks),
    )


def _pot(board: Board, parts: list[Component]) -> Pot:
    """Return how a pot is wired."""
    first = parts[0]
    assert first.pot is not None
    gangs = tuple(
        Gang(part.reference, tuple(_lug(board, part, pin, str(number)) for pin, number in LUGS)) for part in parts
    )
    rheostat = first.net("ccw") == first.net("wiper")
    check = tuple((step, _ohms(first.pot.resistances(step)[1 if rheostat else 0])) for step in STEPS)
    return Pot(
        first.package or first.reference,
        "trimmer" if first.control == "trim" else f"{first.control} knob",
        first.value,
        gangs,
        RHEOSTAT if rheostat else DIVIDER,
        check,
        "2 and 3" if rheostat else "1 and 2",
    )


def _ohms(value_ohm: float) -> str:
    """Return a resistance in three digits, nothing where the wiper stands at the end."""
    return format_ohms(float(f"{value_ohm:.3g}")) if value_ohm >= 1.0 else "0R"


def _switch(board: Board, parts: list[Component]) -> Switch:
    """Return how a switch is wired."""
    first = parts[0]
    first_throw, second_throw = THROWS[str(first.control)]
    names = (("1", first_throw), ("common", "common"), ("2", second_throw))
    poles = tuple(Gang(part.reference, tuple(_lug(board, part, pin, name) for pin, name in names)) for part in parts)
    return Switch(first.package or first.reference, str(first.control), first.value, first.note, poles)


def _jack_pin(part: Component, pin: str) -> str:
    """Return what a builder calls a pin of a jack or battery."""
    if part.role == "supply.jack":
        return {"plus": "plus: sleeve", "minus": "minus: centre"}.get(pin, pin)
    return {"a": "plus", "b": "minus"}.get(pin, pin) if part.kind == "battery" else pin


def _lug(board: Board, part: Component, pin: str, name: str) -> Lug:
    """Return a lug with what it goes to."""
    net = part.net(pin)
    ends = {other.reference: end for other, end in board.on_net(net) if other.kind != "package" and other is not part}
    others = [f"{reference} {end}".removesuffix(" a").removesuffix(" b") for reference, end in ends.items()]
    return Lug(name, net, ", ".join(others[:2]) + (" …" if len(others) > 2 else ""))
