"""What can be told of a board from its nets alone: drivers, ways for direct current, pins and their numbers."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from sublatch.board.builder import POWER
from sublatch.board.check.pin_list import pinout_of, section_of
from sublatch.board.filters import LOOSE_END
from sublatch.board.netlist import SUPPLY, ZERO, Board, Component

OUTPUTS = {"op-amp": ("out",), "flip-flop": ("Q", "/Q"), "block": ("out",)}
"""Pins that hold their net at a voltage; an open collector and a pair's current need a resistor for that."""
CURRENTS = {"comparator": ("out",), "transconductance amplifier": ("out", "buffer out")}
"""Pins that only push or pull a current."""
INPUTS = {
    "op-amp": ("+", "-"),
    "comparator": ("+", "-"),
    "flip-flop": ("D", "CLK", "S", "R"),
    "analogue switch": ("A",),
    "transconductance amplifier": ("+", "-", "control", "diodes", "buffer in"),
    "block": ("in",),
}
"""Pins that must never be left to themselves."""

BYPASS = "bypass"
"""The wire from jack to jack past the board."""


@dataclass(frozen=True)
class Fault:
    """What is wrong with a board.

    Attributes
    ----------
    kind
        In a few words, such as ``floating input``.
    part, net
        The designator and the net that it is found at; empty where it is of none.
    text
        What must hold and what is found.
    """

    kind: str
    part: str
    net: str
    text: str


def connection_faults(board: Board) -> list[Fault]:
    """Return what is wrong with a board's nets and pins, whatever its voltages."""
    return [
        *_pins(board),
        *_loose(board),
        *_outputs(board),
        *_inputs(board),
        *_popping(board),
        *_undriven(board),
        *_supply(board),
    ]


def _pins(board: Board) -> Iterator[Fault]:
    """Yield pins without a number, numbers that are used twice, inputs that are left open, wrong supply pins."""
    packages: dict[str, list[Component]] = defaultdict(list)
    for part in board.components:
        if pinout_of(board, part) is not None:
            packages[str(part.package)].append(part)
    for package, parts in packages.items():
        yield from _numbers(board, package, parts)


def _numbers(board: Board, package: str, parts: list[Component]) -> Iterator[Fault]:
    """Yield what is wrong with the pins of one package."""
    pinout = pinout_of(board, parts[0])
    assert pinout is not None
    used = Counter[int]()
    for part in parts:
        for pin, net in part.pins:
            if pin not in pinout.shared and pin not in pinout.sections.get(section_of(part), {}):
                yield Fault("pin without a number", part.reference, net, f"a {pinout.name} of this sort has no {pin}")
            else:
                used[pinout.number(section_of(part), pin)] += 1
    for number in (number for number, times in used.items() if times > 1):
        yield Fault("pin used twice", package, "", f"pin {number} must be used once")
    may_stay_open = {n for pins in pinout.sections.values() for pin, n in pins.items() if pin in pinout.outputs}
    for number in sorted(set(range(1, pinout.count + 1)) - set(used) - may_stay_open):
        yield Fault("pin left open", package, "", f"pin {number} is no output, so it must go to a net")
    kind = next(part.kind for part in parts if part.kind != "package")
    power = next((dict(part.pins) for part in parts if part.kind == "package"), {})
    for pin, net in POWER[kind]:
        if pin in power and power[pin] != net:
            yield Fault("wrong supply pin", package, power[pin], f"pin {pin} must be on {net}")


def _loose(board: Board) -> Iterator[Fault]:
    """Yield nets with a single pin that is not left open on purpose, and designators that two components have."""
    on = Counter(net for part in board.components for _, net in part.pins)
    for part in board.components:
        for pin, net in part.pins:
            if on[net] < 2 and not _may_stay_open(part, pin, net):
                yield Fault("loose net", part.reference, net, f"pin {pin} goes nowhere")
    for reference, times in Counter(part.reference for part in board.components).items():
        if times > 1:
            yield Fault("designator used twice", reference, "", "each component needs its own")


def _may_stay_open(part: Component, pin: str, net: str) -> bool:
    """Return whether a pin may be alone: a resistor's loose end, or one of a flip-flop's two outputs."""
    return net == LOOSE_END or (part.kind == "flip-flop" and pin in OUTPUTS[part.kind])


def _outputs(board: Board) -> Iterator[Fault]:
    """Yield nets on which two outputs meet."""
    strong: dict[str, list[str]] = {SUPPLY: ["the supply"], ZERO: ["0 V"]}
    for part in board.components:
        for pin, net in part.pins:
            if pin in OUTPUTS.get(part.kind, ()):
                strong.setdefault(net, []).append(part.reference)
    for part in board.components:
        for pin, net in part.pins:
            if pin in CURRENTS.get(part.kind, ()) and net in strong:
                strong[net].append(part.reference)
    for net, names in strong.items():
        if len(names) > 1:
            text = f"only one output may drive a net, and here are {' and '.join(names)}"
            yield Fault("output against output", names[-1], net, text)


def _inputs(board: Board) -> Iterator[Fault]:
    """Yield inputs that nothing holds, whatever the switches do, and while they change over."""
    held = _reached(board, switches=False)
    for part in board.components:
        for pin, net in part.pins:
            if pin in INPUTS.get(part.kind, ()) and net not in held:
                text = f"input {pin} needs a driver or a resistor, also while a switch changes over"
                yield Fault("floating input", part.reference, net, text)


def _popping(board: Board) -> Iterator[Fault]:
    """Yield nets that the footswitch takes on and that nothing holds at 0 V meanwhile."""
    held = _reached(board, switches=False)
    for part in board.components:
        if part.control == "bypass":
            other = {part.net(pin) for pin in "12"} - {BYPASS}
            for net in sorted(other - held):
                text = "what the footswitch takes on needs a resistor that holds it, or it pops"
                yield Fault("no path for direct current", part.reference, net, text)


def _undriven(board: Board) -> Iterator[Fault]:
    """Yield nets without any way for direct current to a driver; a string of diodes lets it through."""
    reached = _reached(board, switches=True)
    conducted = _reached(board, switches=True, diodes=True)
    for part in board.components:
        for pin, net in part.pins:
            between_diodes = all(other.kind == "diode" for other, _ in board.on_net(net))
            if net not in (conducted if between_diodes else reached):
                text = f"no direct current reaches pin {pin}: a driver or a resistor is missing"
                yield Fault("no path for direct current", part.reference, net, text)


def _supply(board: Board) -> Iterator[Fault]:
    """Yield a supply that the jack and the battery do not reach through a diode the right way round."""
    for part in board.components:
        if part.kind == "jack" and "plus" in dict(part.pins):
            fed = _reached(board, switches=False, start={part.net("plus")}, diodes=True)
            if SUPPLY not in fed:
                diodes = [other.reference for other, _ in board.on_net(SUPPLY) if other.kind == "diode"]
                named = [one for one in diodes if one in {other.reference for other in board.of_block(part.block)}]
                text = "the supply jack's plus must reach the supply through a diode with its cathode there"
                yield Fault("supply not fed", " and ".join([part.reference, *named]), SUPPLY, text)


def _reached(board: Board, *, switches: bool, start: set[str] | None = None, diodes: bool = False) -> set[str]:
    """Return the nets that direct current reaches from drivers, or from some nets on, through what conducts."""
    ways: dict[str, set[str]] = defaultdict(set)
    reached = set(start or (ZERO, SUPPLY))
    for part in board.components:
        for a, b in _ways(part, switches=switches, diodes=diodes):
            ways[a].add(b)
        if start is None:
            reached |= {net for pin, net in part.pins if pin in OUTPUTS.get(part.kind, ())}
            reached |= {net for pin, net in part.pins if (part.role, pin) == ("input.jack", "tip")}
    waiting = list(reached)
    while waiting:
        net = waiting.pop()
        if start is not None and net == ZERO:
            continue
        for other in ways[net] - reached:
            reached.add(other)
            waiting.append(other)
    return reached


def _ways(part: Component, *, switches: bool, diodes: bool) -> Iterator[tuple[str, str]]:
    """Yield from which net to which a component lets direct current pass."""
    nets = dict(part.pins)
    both: list[tuple[str, str]] = []
    if part.kind in ("resistor", "battery", "lamp"):
        both = [(nets["a"], nets["b"])]
    elif part.kind == "pot":
        both = [(nets["ccw"], nets["wiper"]), (nets["wiper"], nets["cw"])]
    elif part.kind == "switch" and switches:
        both = [(nets["common"], nets["1"]), (nets["common"], nets["2"])]
    elif part.kind == "analogue switch":
        both = [(nets["common"], nets["1"]), (nets["common"], nets["0"])]
    elif part.kind == "jack":
        both = [(nets[a], nets[b]) for a, b in (("ring", "sleeve"), ("switch", "plus")) if a in nets]
    elif part.kind == "diode" and diodes:
        yield nets["a"], nets["b"]
    for a, b in both:
        yield a, b
        yield b, a
