"""A board as data: components, their pins, and the nets that join them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from sublatch.circuit.components.controls import Pot
from sublatch.circuit.model import Circuit

ZERO = "0V"
"""The supply's negative end, and every screen."""
BIAS = "bias"
"""What the circuit file calls ground for the signal: a buffered share of the supply."""
SUPPLY = "supply"
"""The supply's positive end after its protection."""
STILL = (ZERO, BIAS, SUPPLY)
"""Nets without signal."""

Kind = Literal[
    "resistor",
    "capacitor",
    "electrolytic",
    "diode",
    "lamp",
    "op-amp",
    "comparator",
    "flip-flop",
    "analogue switch",
    "transconductance amplifier",
    "package",
    "pot",
    "switch",
    "jack",
    "battery",
    "block",
]
Control = Literal["tone", "volume", "direct", "direct tone", "peak", "drive", "bypass", "trim"]


@dataclass(frozen=True)
class Component:
    """One thing to solder or, of a dual or ganged one, one section of it.

    Attributes
    ----------
    reference
        Its designator, such as ``R3``, ``U1A`` or ``RV2B``.
    kind
        What it is.
    value
        What to order, as written on the drawing; empty for a section whose package carries it.
    role
        What it is for, unique on the board; the dotted path of a setting where one component stands for it.
    block
        The part of the circuit that it belongs to.
    pins
        Pin name and net, in the order in which they are drawn.
    path
        Dotted path of the setting that it comes from; None for a choice of this project.
    note
        Why it is there or what to mind; never empty without a path.
    tolerance
        Its tolerance, where there is a choice.
    package
        The designator of the package that it is a section of.
    amount
        Ohms or farads, of a resistor or capacitor.
    pot, control
        Of a pot: its track. Of a pot or switch: the knob, trimmer or switch that it is.
    left_ohm
        Of a pot: what it leaves at the anticlockwise and the clockwise end of its travel, nothing on a drawing.
    """

    reference: str
    kind: Kind
    value: str
    role: str
    block: str
    pins: tuple[tuple[str, str], ...]
    path: str | None = None
    note: str = ""
    tolerance: str = ""
    package: str | None = None
    amount: float | None = None
    pot: Pot | None = None
    control: Control | None = None
    left_ohm: tuple[float, float] = (0.0, 0.0)

    @property
    def on_panel(self) -> bool:
        """Whether it sits in a hole of the enclosure: a knob's pot or a switch, but no trimmer."""
        return self.control not in (None, "trim")

    def net(self, pin: str) -> str:
        """Return the net that a pin is on."""
        return dict(self.pins)[pin]


@dataclass(frozen=True)
class Board:
    """A circuit's components, and what a builder must know of them.

    Attributes
    ----------
    circuit
        The circuit that it was made from.
    components
        Every component, block by block.
    notes
        What the drawing settles that the circuit file leaves open, and where the two differ.
    left_out
        What was left out on purpose, and why.
    """

    circuit: Circuit
    components: tuple[Component, ...]
    notes: tuple[str, ...]
    left_out: tuple[str, ...] = ()

    def component(self, role: str) -> Component:
        """Return the component with a role."""
        return next(part for part in self.components if part.role == role)

    def ganged(self, kind: Kind) -> list[list[Component]]:
        """Return every pot or switch as its gangs or poles."""
        shafts: dict[str, list[Component]] = {}
        for part in self.components:
            if part.kind == kind:
                shafts.setdefault(part.package or part.reference, []).append(part)
        return list(shafts.values())

    def of_block(self, block: str) -> tuple[Component, ...]:
        """Return the components of one block."""
        return tuple(part for part in self.components if part.block == block)

    def on_net(self, net: str) -> Iterator[tuple[Component, str]]:
        """Yield each component and pin on a net."""
        return ((part, pin) for part in self.components for pin, joined in part.pins if joined == net)
