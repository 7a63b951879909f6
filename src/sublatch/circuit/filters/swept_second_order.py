"""A second-order low-pass whose corner the tone knob sweeps."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from sublatch.circuit.components.controls import Pot, SwitchedCapacitor
from sublatch.circuit.components.quantities import Ohms, OptionalOhms
from sublatch.circuit.filters.kind import FilterKind
from sublatch.circuit.filters.parts import (
    GANG,
    STEP,
    Amplifier,
    CapacitorPair,
    Wiring,
    ganged,
    switched_down,
    switched_over,
)
from sublatch.circuit.networks.elements import GROUND

LOWER = 1.4
"""How much lower the switch is drawn where start resistors need the room."""


class SweptSecondOrder(FilterKind):
    """A unity-gain Sallen-Key low-pass swept by a dual-gang pot, its peak chosen by a switch."""

    kind: Literal["swept-second-order"] = "swept-second-order"
    pot: Pot = Field(
        Pot(value=100e3, taper="reverse-log"),
        description="Dual-gang pot, each gang a variable resistor that falls clockwise.",
    )
    start_resistor: OptionalOhms = Field(None, description='Fixed resistor across each gang\'s track, or "none".')
    end_resistor: Ohms = Field(3e3, description="Fixed resistor in series with each gang.")
    ground_capacitor: SwitchedCapacitor = Field(
        SwitchedCapacitor(flat=12e-9, peaked=5.6e-9),
        description="Capacitor from the op-amp's input to ground.",
    )
    feedback_capacitor: SwitchedCapacitor = Field(
        SwitchedCapacitor(flat=22e-9, peaked=47e-9),
        description="Capacitor from the op-amp's output back.",
    )

    rank: ClassVar[int] = 40

    def wiring(self) -> Wiring:
        """Return its parts.

        Notes
        -----
        As a second-order filter with R1 = R2 = R, R = Re + Rg, or Re + Rg Rs / (Rg + Rs) with a start resistor.
        """
        a, b = (GANG + STEP, 0.0), (2 * (GANG + STEP), 0.0)
        plus = (b[0] + 1.8, 0.0)
        out = (plus[0] + 2.4, -0.5)
        end, start = self.end_resistor, self.start_resistor
        ground = switched_down(b, lower=LOWER if start is not None else 0.0)
        parts = (
            ganged("first", self.pot, end_ohm=end, start_ohm=start, between=("in", "a"), drawn=(0.0, 0.0)),
            ganged("second", self.pot, end_ohm=end, start_ohm=start, between=("a", "b"), drawn=a),
            CapacitorPair("ground_capacitor", "ground_pole", self.ground_capacitor, ("b", GROUND), ground),
            CapacitorPair(
                "feedback_capacitor", "feedback_pole", self.feedback_capacitor, ("a", "out"), switched_over(a, out)
            ),
            Amplifier("follower", "b", "out", "out", note="follower of the filter", drawn=plus),
        )
        return Wiring(parts, wires=((b, plus),), end=out)
