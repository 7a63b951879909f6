"""A first-order low-pass whose corner a knob sweeps."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from sublatch.circuit.components.controls import Pot
from sublatch.circuit.components.quantities import Farads, Ohms, OptionalOhms
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.parts import GANG, STEP, Amplifier, FixedCapacitor, Wiring, down, ganged
from sublatch.circuit.networks.elements import GROUND


class SweptFirstOrder(FilterKind):
    """A first-order low-pass swept by a pot, without a peak switch."""

    kind: Literal["swept-first-order"] = "swept-first-order"
    pot: Pot = Field(Pot(value=100e3, taper="reverse-log"), description="A variable resistor that falls clockwise.")
    start_resistor: OptionalOhms = Field(None, description='Fixed resistor across the track, or "none".')
    end_resistor: Ohms = Field(3.3e3, description="Fixed resistor in series with it.")
    capacitor: Farads = Field(10e-9, description="Capacitor to ground.")

    rank: ClassVar[int] = 35

    def wiring(self) -> Wiring:
        """Return its parts.

        Notes
        -----
        H(s) = 1 / (1 + s R C), R = Re + Rg, or Re + Rg Rs / (Rg + Rs) with a start resistor: 154 Hz to 4.82 kHz.
        """
        a, plus = (GANG + STEP, 0.0), (GANG + STEP + 1.0, 0.0)
        end, start = self.end_resistor, self.start_resistor
        parts = (
            ganged("pot", self.pot, end_ohm=end, start_ohm=start, between=("in", "a"), drawn=(0.0, 0.0)),
            FixedCapacitor("capacitor", self.capacitor, ("a", GROUND), down(a, side="left")),
            Amplifier("follower", "a", "out", "out", note="follower of the filter", drawn=plus),
        )
        return Wiring(parts, wires=((a, plus),), end=(plus[0] + 2.4, -0.5))
