"""A non-inverting output buffer, the wiper at its plus input."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from sublatch.circuit.components import preferred
from sublatch.circuit.components.quantities import Ohms
from sublatch.circuit.filters.parts import Amplifier, FixedResistor, Line, Wiring, down
from sublatch.circuit.networks.elements import GROUND
from sublatch.circuit.output_buffers.base import BUFFERED, WIPER, OutputStage

LEAST_GROUND_OHM = 100.0
"""Less asks more current of the output buffer than its gain is worth."""


class NonInverting(OutputStage):
    """Volume pot, load and non-inverting output buffer; without `kind` too, unless there is no mixing stage."""

    kind: Literal["non-inverting"] = "non-inverting"
    load: Ohms = Field(1e6, description="Resistance that the wiper works into.")
    feedback_resistor: Ohms = Field(100e3, description="From the output buffer's output to its minus input.")
    ground_resistor: Ohms = Field(8.2e3, description="From the buffer's minus input to ground: gain 1 + Rf / Rg.")

    gain_settings: ClassVar[tuple[str, ...]] = ("ground_resistor", "feedback_resistor")
    least_gain: ClassVar[float] = 1.0

    @property
    def gain(self) -> float:
        """Gain from the wiper to the output."""
        return 1.0 + self.feedback_resistor / self.ground_resistor

    @property
    def load_ohm(self) -> float:
        """Resistance that the wiper works into."""
        return self.load

    @property
    def load_setting(self) -> str:
        """The setting that this is."""
        return "load"

    def ohm_for_gain(self, setting: str, gain: float) -> float:
        """Return Rg = Rf / (gain − 1) or Rf = Rg (gain − 1)."""
        over_one = gain - 1.0
        return self.feedback_resistor / over_one if setting == "ground_resistor" else self.ground_resistor * over_one

    def exact_gain(self, ratio: float) -> dict[str, float]:
        """Return the ground resistor that makes the gain so many times as high; none where none does."""
        exact_ohm = self.ohm_for_gain("ground_resistor", self.gain * ratio)
        return {"ground_resistor": exact_ohm} if exact_ohm > LEAST_GROUND_OHM else {}

    def more_gain(self, ratio: float) -> dict[str, float]:
        """Return the ground resistor that makes the gain at least so many times as high; none where none does."""
        return {setting: preferred.below(ohm) for setting, ohm in self.exact_gain(ratio).items()}

    def wiring(self) -> Wiring:
        """Return the buffer's parts: gain 1 + Rf/Rg, as every textbook has it."""
        plus, far, near = (4.0, 0.0), (6.5, -2.0), (3.6, -2.0)
        parts = (
            FixedResistor("load", self.load, (WIPER, GROUND), down((0.8, 0.0), side="right")),
            Amplifier("buffer", WIPER, "minus", BUFFERED, note="output buffer", drawn=(4.0, -0.5)),
            FixedResistor("feedback_resistor", self.feedback_resistor, (BUFFERED, "minus"), Line(far, near, "below")),
            FixedResistor("ground_resistor", self.ground_resistor, ("minus", GROUND), down(near, side="left")),
        )
        wires = (
            ((0.0, 0.0), (0.8, 0.0), plus),
            ((6.0, -0.5), (6.5, -0.5), far),
            (near, (3.6, -1.0), (4.0, -1.0)),
        )
        return Wiring(parts, wires=wires, end=(6.5, -0.5))
