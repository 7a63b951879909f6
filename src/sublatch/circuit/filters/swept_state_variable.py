"""A state-variable low-pass whose corner the tone knob sweeps."""

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
    FilterPart,
    FixedResistor,
    Label,
    Line,
    Path,
    Point,
    Wiring,
    along,
    ganged,
    switched_over,
)
from sublatch.circuit.networks.elements import GROUND

FIRST, SECOND = (7.4, -0.5), (0.0, -10.0)
"""Where the two integrators are drawn: the first behind the op-amp that adds, the second in a row of its own."""


def _natural_and_q(first_ohm: Array, second_ohm: Array, values: Mapping[str, Array]) -> tuple[Array, Array]:
    """Return natural frequency in hertz and Q of boards (n,), for `SweptSearch`.

    Notes
    -----
    With b = R_band / (R_input + R_band) and h = R_low / (R_low + R_high) the denominator of H(s) is
    (1 − h) + s T2 (1 − b) + s² T1 T2 h: nodal equations of the adding op-amp. In closed form, since shares of thousands
    of boards are compared for many sets of parts.
    """
    first, second = first_ohm * values["first_capacitor"], second_ohm * values["second_capacitor"]
    plus = values["input_resistor"] / (values["input_resistor"] + values["band_resistor"])
    high_over_low = values["high_resistor"] / values["low_resistor"]
    natural = np.sqrt(high_over_low / (first * second))
    return natural / (2 * np.pi), high_over_low / (1.0 + high_over_low) / (plus * natural * second)


class SweptStateVariable(FilterKind):
    """A state-variable low-pass of two integrators swept by a dual-gang pot, its peak chosen by a switch."""

    kind: Literal["swept-state-variable"] = "swept-state-variable"
    pot: Pot = Field(
        Pot(value=100e3, taper="reverse-log"),
        description="Dual-gang pot, each gang a variable resistor that falls clockwise.",
    )
    start_resistor: OptionalOhms = Field(None, description='Fixed resistor across each gang\'s track, or "none".')
    end_resistor: Ohms = Field(3.3e3, description="Fixed resistor in series with each gang.")
    first_capacitor: SwitchedCapacitor = Field(
        SwitchedCapacitor(flat=10e-9, peaked=33e-9), description="Capacitor of the first integrator."
    )
    second_capacitor: SwitchedCapacitor = Field(
        SwitchedCapacitor(flat=22e-9, peaked=15e-9), description="Capacitor of the second integrator."
    )
    input_resistor: Ohms = Field(10e3, description="From the input to the plus input of the op-amp that adds.")
    band_resistor: Ohms = Field(10e3, description="From the first integrator's output to the same.")
    high_resistor: Ohms = Field(10e3, description="From the adding op-amp's output to its minus input.")
    low_resistor: Ohms = Field(10e3, description="From the second integrator's output to the same.")

    rank: ClassVar[int] = 50
    swept_search: ClassVar[SweptSearch] = SweptSearch(("first_capacitor", "second_capacitor"), _natural_and_q)

    def wiring(self) -> Wiring:
        """Return its parts.

        Notes
        -----
        With all four resistors equal H(s) = 1 / (1 + s T2 + s² T1 T2), T1 = R C1, T2 = R C2, so that the natural
        frequency is 1 / (2π R √(C1 C2)) and Q = √(C1 / C2). R as for a swept second-order filter. Source: W. J. Kerwin,
        L. P. Huelsman, R. W. Newcomb, "State-variable synthesis for insensitive integrated circuit transfer functions",
        IEEE J. Solid-State Circuits 2(3), 1967 (from memory).
        """
        plus, minus, high = (4.2, 0.0), (4.2, -1.0), (6.8, -0.5)
        band, out = _output(FIRST), _output(SECOND)
        back, near, far = (high[0], -2.4), (3.6, -2.4), (1.0, -2.4)
        around = Line(back, near, "below", wires=((high, back), (near, (near[0], minus[1]), minus)))
        parts = (
            FixedResistor("input_resistor", self.input_resistor, ("in", "plus"), along((0.0, 0.0))),
            FixedResistor("band_resistor", self.band_resistor, ("band", "plus"), Line((STEP, STEP), (STEP, 0.0))),
            FixedResistor("high_resistor", self.high_resistor, ("high", "minus"), around),
            FixedResistor("low_resistor", self.low_resistor, ("out", "minus"), Line(far, near, "below")),
            Amplifier("adder", "plus", "minus", "high", note="adding op-amp of the filter", drawn=(4.2, -0.5)),
            *self._integrator("first", self.first_capacitor, ("high", "band"), FIRST),
            *self._integrator("second", self.second_capacitor, ("band", "out"), SECOND),
        )
        wires: tuple[Path, ...] = (((STEP, 0.0), plus), ((6.2, -0.5), high, FIRST), (band, (band[0], band[1] - 0.8)))
        labels = (
            Label("band_resistor", "a", (STEP, STEP), "above"),
            Label("low_resistor", "a", far, "left"),
            Label("first_integrator", "out", (band[0], band[1] - 0.8), "below"),
            Label("second_gang", "cw", SECOND, "left"),
        )
        leads = (lead for start in (FIRST, SECOND) for lead in _leads(start))
        return Wiring(parts, wires=(*wires, *leads), labels=labels, end=out)

    def _integrator(
        self, which: str, value: SwitchedCapacitor, between: tuple[str, str], start: Point
    ) -> tuple[FilterPart, ...]:
        """Return a gang with its resistors, and the op-amp with its capacitors, from one node to the next."""
        (source, output), joint = between, f"{which}_joint"
        place = switched_over(_joint(start), _output(start), short=0.6)
        end, across = self.end_resistor, self.start_resistor
        note = f"{which} integrator of the filter"
        return (
            ganged(which, self.pot, end_ohm=end, start_ohm=across, between=(source, joint), drawn=start),
            CapacitorPair(f"{which}_capacitor", f"{which}_pole", value, (joint, output), place),
            Amplifier(
                f"{which}_integrator",
                GROUND,
                joint,
                output,
                note=note,
                drawn=(start[0] + 6.8, start[1] - 0.5),
                plus_up=False,
            ),
        )


def _joint(start: Point) -> Point:
    """Return where an integrator's resistance ends."""
    return (start[0] + GANG + STEP, start[1])


def _output(start: Point) -> Point:
    """Return where an integrator's output is led back."""
    return (start[0] + 10.2, start[1] - 0.5)


def _leads(start: Point) -> tuple[Path, ...]:
    """Return the wires to an integrator's minus input and from its output."""
    x, y = start
    return (_joint(start), (x + 6.8, y)), ((x + 8.8, y - 0.5), _output(start))
