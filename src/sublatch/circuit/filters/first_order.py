"""A first-order low-pass."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from sublatch.circuit.components.quantities import Farads, Ohms
from sublatch.circuit.filters.base import FilterKind, Search
from sublatch.circuit.filters.parts import STEP, Amplifier, FixedCapacitor, FixedResistor, Wiring, along, down
from sublatch.circuit.networks.elements import GROUND


class FirstOrder(FilterKind):
    """A resistor, a capacitor to ground and a follower."""

    kind: Literal["first-order"] = "first-order"
    resistor: Ohms = Field(39e3, description="Series resistor.")
    capacitor: Farads = Field(15e-9, description="Capacitor to ground.")

    rank: ClassVar[int] = 10
    search: ClassVar[Search] = Search(("resistor",), ("capacitor",), {"butterworth": (1.0,)})

    def wiring(self) -> Wiring:
        """Return its parts.

        Notes
        -----
        H(s) = 1 / (1 + s R C).
        """
        a, plus = (STEP, 0.0), (STEP + 1.0, 0.0)
        parts = (
            FixedResistor("resistor", self.resistor, ("in", "a"), along((0.0, 0.0))),
            FixedCapacitor("capacitor", self.capacitor, ("a", GROUND), down(a, side="left")),
            Amplifier("follower", "a", "out", "out", note="follower of the filter", drawn=plus),
        )
        return Wiring(parts, wires=((a, plus),), end=(plus[0] + 2.4, -0.5))
