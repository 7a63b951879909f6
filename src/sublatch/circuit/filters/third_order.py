"""A third-order low-pass."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from sublatch.circuit.components.quantities import Farads, Ohms
from sublatch.circuit.filters.base import FilterKind, Search
from sublatch.circuit.filters.parts import STEP, Amplifier, FixedCapacitor, FixedResistor, Wiring, along, down, over
from sublatch.circuit.networks.elements import GROUND

THIRD_ORDER_CAPACITORS = {
    "butterworth": (1.392647, 3.546818, 0.202451),
    "bessel": (0.9914, 1.4284, 0.2548),
    "chebyshev": (2.2368, 11.1697, 0.0890),
}
"""First ground, feedback and second ground capacitor for equal resistors, in units of 1/(2π f R), corner at f.

Chebyshev is that of 0.5 dB ripple. Source: A. B. Williams, F. J. Taylor, *Electronic Filter Design Handbook*, active
low-pass tables (from memory); worked out again from the poles.
"""


class ThirdOrder(FilterKind):
    """A unity-gain third-order low-pass around one op-amp."""

    kind: Literal["third-order"] = "third-order"
    first_resistor: Ohms = Field(33e3, description="First series resistor.")
    second_resistor: Ohms = Field(33e3, description="Second series resistor.")
    third_resistor: Ohms = Field(33e3, description="Third series resistor.")
    first_ground_capacitor: Farads = Field(22e-9, description="Capacitor to ground after the first resistor.")
    feedback_capacitor: Farads = Field(56e-9, description="Capacitor from the op-amp's output back.")
    second_ground_capacitor: Farads = Field(3.3e-9, description="Capacitor from the op-amp's input to ground.")

    rank: ClassVar[int] = 30
    search: ClassVar[Search] = Search(
        ("first_resistor", "second_resistor", "third_resistor"),
        ("first_ground_capacitor", "feedback_capacitor", "second_ground_capacitor"),
        THIRD_ORDER_CAPACITORS,
    )

    def wiring(self) -> Wiring:
        """Return its parts."""
        a, b, c = ((n * STEP, 0.0) for n in (1, 2, 3))
        plus = (c[0] + 1.0, 0.0)
        out = (plus[0] + 2.4, -0.5)
        last_capacitor = self.second_ground_capacitor
        parts = (
            FixedResistor("first_resistor", self.first_resistor, ("in", "a"), along((0.0, 0.0))),
            FixedCapacitor("first_ground_capacitor", self.first_ground_capacitor, ("a", GROUND), down(a)),
            FixedResistor("second_resistor", self.second_resistor, ("a", "b"), along(a)),
            FixedCapacitor("feedback_capacitor", self.feedback_capacitor, ("b", "out"), over(b, out)),
            FixedResistor("third_resistor", self.third_resistor, ("b", "c"), along(b)),
            FixedCapacitor("second_ground_capacitor", last_capacitor, ("c", GROUND), down(c, side="left")),
            Amplifier("follower", "c", "out", "out", note="follower of the filter", drawn=plus),
        )
        return Wiring(parts, wires=((c, plus),), end=out)
