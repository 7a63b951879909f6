"""A second-order low-pass."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from sublatch.circuit.components.quantities import Farads, Ohms
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.parts import STEP, Amplifier, FixedCapacitor, FixedResistor, Wiring, along, down, over
from sublatch.circuit.networks.elements import GROUND


class SecondOrder(FilterKind):
    """A unity-gain Sallen-Key low-pass with fixed values."""

    kind: Literal["second-order"] = "second-order"
    first_resistor: Ohms = Field(33e3, description="First series resistor.")
    second_resistor: Ohms = Field(33e3, description="Second series resistor.")
    ground_capacitor: Farads = Field(12e-9, description="Capacitor from the op-amp's input to ground.")
    feedback_capacitor: Farads = Field(22e-9, description="Capacitor from the op-amp's output back.")

    rank: ClassVar[int] = 20

    def wiring(self) -> Wiring:
        """Return its parts.

        Notes
        -----
        H(s) = 1 / (1 + s Cg (R1 + R2) + s² R1 R2 Cg Cf). Source: Texas Instruments SLOA024B, unity gain.
        """
        a, b, plus = (STEP, 0.0), (2 * STEP, 0.0), (2 * STEP + 1.0, 0.0)
        out = (plus[0] + 2.4, -0.5)
        parts = (
            FixedResistor("first_resistor", self.first_resistor, ("in", "a"), along((0.0, 0.0))),
            FixedResistor("second_resistor", self.second_resistor, ("a", "b"), along(a)),
            FixedCapacitor("ground_capacitor", self.ground_capacitor, ("b", GROUND), down(b, side="left")),
            FixedCapacitor("feedback_capacitor", self.feedback_capacitor, ("a", "out"), over(a, out)),
            Amplifier("follower", "b", "out", "out", note="follower of the filter", drawn=plus),
        )
        return Wiring(parts, wires=((b, plus),), end=out)
