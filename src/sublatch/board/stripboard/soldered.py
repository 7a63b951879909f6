"""From a circuit's components to what is soldered: whole chips, and wires for what stands off the board."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sublatch.board.builder import PACKAGES
from sublatch.board.netlist import BIAS, SUPPLY, ZERO, Board, Component, Kind
from sublatch.board.stripboard.bodies import WIRE, Body, body_of, chip
from sublatch.errors import CircuitError

OFF_BOARD: tuple[Kind, ...] = ("pot", "switch", "jack", "battery")
"""What stands in the enclosure and is reached by wires."""


@dataclass(frozen=True)
class Pinout:
    """Pins of one kind of chip.

    Attributes
    ----------
    pins
        How many there are.
    power
        Number of each pin of the package itself.
    sections
        Number of each pin of each section, A first.
    spare
        Net for each pin of a section that nothing uses; pins without one stay open. ``own`` stands for a net of its
        own, which joins pins with each other.
    """

    pins: int
    power: Mapping[str, int]
    sections: tuple[Mapping[str, int], ...]
    spare: Mapping[str, str]


_TWO = ({"out": 1, "-": 2, "+": 3}, {"out": 7, "-": 6, "+": 5})
PINOUTS: dict[Kind, Pinout] = {
    "op-amp": Pinout(8, {"V+": 8, "V-": 4}, _TWO, {"+": BIAS, "-": "own", "out": "own"}),
    "comparator": Pinout(8, {"V+": 8, "V-": 4}, _TWO, {"+": ZERO, "-": ZERO}),
    "flip-flop": Pinout(
        14,
        {"VDD": 14, "VSS": 7},
        (
            {"Q": 1, "/Q": 2, "CLK": 3, "R": 4, "D": 5, "S": 6},
            {"Q": 13, "/Q": 12, "CLK": 11, "R": 10, "D": 9, "S": 8},
        ),
        {"CLK": ZERO, "R": ZERO, "D": ZERO, "S": ZERO},
    ),
    "analogue switch": Pinout(
        16,
        {"VDD": 16, "VSS": 8, "VEE": 7, "INH": 6, "B": 10, "C": 9},
        ({"A": 11, "0": 12, "1": 13, "common": 14},),
        {},
    ),
}
"""Data sheets of the 072, 393, 4013 and 4053 types, from memory. What a spare section is tied to is common practice: an
op-amp follows the bias, inputs of CMOS and of comparators go to 0 V, outputs stay open."""


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
        Nets that lead off the board, besides those of what stands off it.

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
    wires = [Soldered(f"W{number}", net, WIRE, (("end", net),)) for number, net in enumerate(nets, 1)]
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
    top, *low = pinout.power.values()
    nets = {top: SUPPLY} | dict.fromkeys(low, ZERO)
    for part in members:
        numbers = _numbers(part, pinout)
        nets |= {numbers[pin]: net for pin, net in part.pins}
    used = {part.reference for part in members}
    for letter, numbers in zip("AB", pinout.sections, strict=False):
        if len(pinout.sections) > 1 and name + letter not in used:
            own = f"{name}{letter} tied off"
            nets |= {numbers[pin]: own if net == "own" else net for pin, net in pinout.spare.items()}
    value = next((part.value for part in members if part.kind == "package"), PACKAGES[kind][0])
    legs = tuple((str(number), nets.get(number, "")) for number in range(1, pinout.pins + 1))
    return Soldered(name, value, chip(pinout.pins), legs, power=str(top))


def _numbers(part: Component, pinout: Pinout) -> Mapping[str, int]:
    """Return the number of each pin of a package or of one of its sections."""
    if part.kind == "package":
        numbers = pinout.power
    else:
        numbers = pinout.sections["AB".index(part.reference[-1]) if len(pinout.sections) > 1 else 0]
    for pin, _ in part.pins:
        if pin not in numbers:
            known = ", ".join(numbers)
            raise CircuitError(f"a layout needs known pins, got {pin!r} of {part.reference} (known: {known})")
    return numbers
