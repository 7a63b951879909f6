"""From a circuit's components to what is soldered: whole chips, and wires for what stands off the board."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sublatch.board.builder import PACKAGES, POWER, SPARE
from sublatch.board.netlist import SUPPLY, Board, Component, Kind
from sublatch.board.packages.pins import PINOUTS
from sublatch.board.stripboard.bodies import WIRE, Body, body_of, chip
from sublatch.errors import CircuitError

OFF_BOARD: tuple[Kind, ...] = ("pot", "switch", "jack", "battery", "lamp")
"""What stands in the enclosure and is reached by wires."""


@dataclass(frozen=True)
class Soldered:
    """One thing with legs in holes.

    Attributes
    ----------
    reference, value
        Its designator and what it is; of a wire the net that it leads off the board.
    body
        What it takes up.
    legs
        Name of each leg and its net; an empty net is joined to nothing.
    near
        The reference of the chip that a decoupling capacitor belongs to.
    power
        The leg of a chip that takes the supply.
    """

    reference: str
    value: str
    body: Body
    legs: tuple[tuple[str, str], ...]
    near: str | None = None
    power: str = ""


def soldered(components: Sequence[Component], *, edge: Iterable[str] = ()) -> tuple[Soldered, ...]:
    """Return what is soldered: parts, whole chips with spare sections tied off, and a wire for each net at the edge.

    Parameters
    ----------
    components
        Parts and sections of chips, with or without the package that gives a chip its supply; pots, switches, jacks
        and batteries stand off the board.
    edge
        Nets that lead off the board, besides those of what stands off it; as a mapping, with the names of their wires.

    Raises
    ------
    CircuitError
        When a part's size or pins are not known.
    """
    chips = dict.fromkeys(part.package for part in components if part.package and part.kind not in OFF_BOARD)
    made = [_chip(str(name), [part for part in components if part.package == name]) for name in chips]
    for part in components:
        if part.kind not in OFF_BOARD and part.package is None:
            near = part.role.removeprefix("decoupling.") if part.role.startswith("decoupling.") else None
            made.append(Soldered(part.reference, part.value, body_of(part), part.pins, near if near in chips else None))
    on_board = dict.fromkeys(net for part in made for _, net in part.legs if net)
    led_off = {net for part in components if part.kind in OFF_BOARD for _, net in part.pins} | set(edge)
    nets = [net for net in on_board if net in led_off]
    names = edge if isinstance(edge, Mapping) else {}
    wires = [Soldered(names.get(net, f"W{number}"), net, WIRE, (("end", net),)) for number, net in enumerate(nets, 1)]
    return (*made, *wires)


def block_components(board: Board, block: str) -> tuple[tuple[Component, ...], tuple[str, ...]]:
    """Return the components of one block as a board of its own, and the nets that lead off it.

    Parameters
    ----------
    board
        The whole board.
    block
        One of its blocks.

    Raises
    ------
    CircuitError
        When there is no such block, or nothing of it stands on a board.

    Notes
    -----
    A chip of which one section belongs to the block is there whole, with its decoupling capacitor; its other section
    is tied off, since it serves another block on another board.
    """
    own = board.of_block(block)
    if not own:
        known = dict.fromkeys(part.block for part in board.components if part.block != "packages")
        raise CircuitError(f"the circuit has no block {block!r} (known: {', '.join(known)})")
    packages = {part.package for part in own if part.package and part.kind not in OFF_BOARD}
    roles = {f"{what}.{name}" for what in ("decoupling", "package") for name in packages}
    powered = [part for part in board.components if part.role in roles]
    parts = (*own, *powered)
    if all(part.kind in OFF_BOARD for part in parts):
        raise CircuitError(f"nothing of block {block!r} stands on a board: {', '.join(part.reference for part in own)}")
    taken = {part.reference for part in parts}
    outside = {net for part in board.components if part.reference not in taken for _, net in part.pins}
    return parts, tuple(sorted(outside))


def _chip(name: str, members: Sequence[Component]) -> Soldered:
    """Return a chip with all its pins, in the order of their numbers."""
    kind = next((part.kind for part in members if part.kind != "package"), members[0].kind)
    if kind not in PINOUTS:
        raise CircuitError(f"a layout needs chips of known pins, got {name} ({kind}); known are {', '.join(PINOUTS)}")
    pinout = PINOUTS[kind]
    power = {pinout.shared[pin]: net for pin, net in POWER[kind]}
    nets = dict(power)
    for part in members:
        numbers = pinout.shared if part.kind == "package" else pinout.sections[part.reference[-1]]
        _check_pins(part, numbers)
        nets |= {numbers[pin]: net for pin, net in part.pins}
    used = {part.reference for part in members}
    for letter, numbers in pinout.sections.items():
        if name + letter not in used:
            tied = ((numbers[pin], net) for pin, net in SPARE.get(kind, ()))
            nets |= {number: f"{name}{letter} tied off" if net == "spare" else net for number, net in tied}
    value = next((part.value for part in members if part.kind == "package"), PACKAGES[kind][0])
    legs = tuple((str(number), nets.get(number, "")) for number in range(1, pinout.count + 1))
    top = next(number for number, net in power.items() if net == SUPPLY)
    return Soldered(name, value, chip(pinout.count), legs, power=str(top))


def _check_pins(part: Component, numbers: Mapping[str, int]) -> None:
    """Refuse a package, or one of its sections, with a pin that has no number."""
    for pin, _ in part.pins:
        if pin not in numbers:
            known = ", ".join(numbers)
            raise CircuitError(f"a layout needs known pins, got {pin!r} of {part.reference} (known: {known})")
