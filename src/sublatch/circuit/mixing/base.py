"""What every kind of mixing stage says of itself: its parts, its sign, and how the direct signal comes in."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar, Literal

from sublatch.checked import Checked
from sublatch.circuit.components.controls import Pot
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.parts import Point, Wiring
from sublatch.circuit.networks.elements import GROUND, Resistor
from sublatch.circuit.networks.elements import Part as Element
from sublatch.circuit.networks.solver import LEAST_OHM

OCTAVE, DIRECT, MIXED = "octave", "direct", "out"
"""Nodes of a mixing stage: what the output filter gives, what feeds the direct knob, and the stage's own output."""


@dataclass(frozen=True)
class DirectPot:
    """The direct knob's pot, which divides what is at `DIRECT`.

    Attributes
    ----------
    pot
        The pot, the setting ``direct_pot``.
    wiper
        Node of its wiper.
    drawn, led_to
        Its clockwise end on the drawing, and the point that its wiper is led to.
    """

    pot: Pot
    wiper: str
    drawn: Point
    led_to: Point

    def elements(self, position: float) -> Iterator[Element]:
        """Give what it is in a network with the knob at a position."""
        lower, upper = self.pot.resistances(position)
        yield Resistor("direct_upper", (DIRECT, self.wiper), max(upper, LEAST_OHM))
        yield Resistor("direct_lower", (self.wiper, GROUND), max(lower, LEAST_OHM))


class MixKind(Checked, ABC):
    """How octave and direct signal come together ahead of the volume pot."""

    kind: str = ""
    stands_alone: ClassVar[bool] = False
    """Whether its values only make sense together: another kind neither gives nor gets any."""
    own: ClassVar[frozenset[str]] = frozenset()
    """Settings that another kind of the same name does not take over."""
    sign: ClassVar[Literal[1, -1]] = 1
    """The sign of what it gives against what it is fed."""
    buffer: ClassVar[str] = "non-inverting"
    """The kind of output buffer where the file says none."""

    @property
    @abstractmethod
    def direct_pot_there(self) -> DirectPot | None:
        """The pot that lets the direct signal in; None where nothing does, and so no direct knob is there."""

    @property
    def direct_low_pass(self) -> FilterKind | None:
        """The filter that the direct signal has for itself ahead of its pot; None without a way in."""
        return None

    @property
    def why_no_direct(self) -> str:
        """Why there is no direct knob, where there is none, in words that name the setting."""
        return f"its mixing stage is mix.kind = {self.kind!r}"

    @property
    def level_settings(self) -> tuple[str, ...]:
        """Settings of the resistors that make the octave's level with the direct knob at 0, the likeliest ahead."""
        return ()

    @abstractmethod
    def wiring(self) -> Wiring:
        """Return its parts but for the direct pot, from `OCTAVE` to `MIXED`, and how they are drawn.

        No parts are a plain wire.
        """

    @property
    def is_wire(self) -> bool:
        """Whether there is no mixing stage at all."""
        return not self.wiring().parts

    def elements(self, direct: float) -> Iterator[Element]:
        """Give what it is in a network with the direct knob at a position."""
        pot = self.direct_pot_there
        if pot is not None:
            yield from pot.elements(direct)
        for part in self.wiring().parts:
            yield from part.elements(tone=None, peak=None)
