"""A second-order low-pass whose corner the tone knob sweeps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Literal

import numpy as np
from pydantic import Field

from sublatch.arrays import Array
from sublatch.circuit.components.controls import Pot, SwitchedCapacitor
from sublatch.circuit.components.quantities import Ohms, OptionalOhms
from sublatch.circuit.filters.base import FilterKind, SweptSearch
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


def _natural_and_q(first_ohm: Array, second_ohm: Array, values: Mapping[str, Array]) -> tuple[Array, Array]:
    """Return natural frequency in hertz and Q of boards (n,), for `SweptSearch`.

    Notes
    -----
    f0 = 1 / (2π √(R1 R2 Cg Cf)), Q = √(R1 R2 Cf / Cg) / (R1 + R2): the poles of H(s) in Texas Instruments SLOA024B,
    unity gain. In closed form, since shares of thousands of boards are compared for many sets of parts.
    """
    ground, feedback = values["ground_capacitor"], values["feedback_capacitor"]
    natural = 1.0 / (2 * np.pi * np.sqrt(first_ohm * second_ohm * ground * feedback))
    return natural, np.sqrt(first_ohm * second_ohm * feedback / ground) / (first_ohm + second_ohm)


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
    swept_search: ClassVar[SweptSearch] = SweptSearch(("ground_capacitor", "feedback_capacitor"), _natural_and_q)

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
