"""An inverting output buffer, whose input resistor is the load of the volume pot."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from sublatch.circuit.components import preferred
from sublatch.circuit.components.quantities import Ohms
from sublatch.circuit.filters.parts import Amplifier, FixedResistor, Line, Wiring, over
from sublatch.circuit.networks.elements import GROUND
from sublatch.circuit.output_buffers.base import BUFFERED, WIPER, OutputStage

MOST_FEEDBACK_OHM = 10e6
"""More is hard to buy, and turns an op-amp's input current into an offset: common practice, no source."""


class Inverting(OutputStage):
    """Volume pot and inverting output buffer, whose input resistor loads the pot; where there is no mixing stage.

    Without `kind` too.
    """

    kind: Literal["inverting"] = "inverting"
    input_resistor: Ohms = Field(
        220e3, description="From the wiper to the buffer's minus input, a virtual earth: what the wiper works into."
    )
    feedback_resistor: Ohms = Field(
        1e6, description="From the output buffer's output to its minus input: gain −Rf / Ri."
    )

    sign: ClassVar[Literal[1, -1]] = -1
    gain_settings: ClassVar[tuple[str, ...]] = ("feedback_resistor", "input_resistor")

    @property
    def gain(self) -> float:
        """Gain from the wiper to the output."""
        return -self.feedback_resistor / self.input_resistor

    @property
    def load_ohm(self) -> float:
        """Resistance that the wiper works into."""
        return self.input_resistor

    @property
    def load_setting(self) -> str:
        """The setting that this is."""
        return "input_resistor"

    def ohm_for_gain(self, setting: str, gain: float) -> float:
        """Return Rf = gain Ri or Ri = Rf / gain."""
        return self.input_resistor * gain if setting == "feedback_resistor" else self.feedback_resistor / gain

    def exact_gain(self, ratio: float) -> dict[str, float]:
        """Return the feedback resistor that makes the gain so many times as high; none where none does."""
        exact_ohm = self.feedback_resistor * ratio
        return {"feedback_resistor": exact_ohm} if exact_ohm < MOST_FEEDBACK_OHM else {}

    def more_gain(self, ratio: float) -> dict[str, float]:
        """Return the feedback resistor that makes the gain at least so many times as high; none where none does."""
        return {setting: preferred.above(ohm) for setting, ohm in self.exact_gain(ratio).items()}

    def wiring(self) -> Wiring:
        """Return the buffer's parts: gain −Rf/Ri, input resistance Ri, as every textbook has it."""
        minus, out = (3.8, 0.0), (6.2, -0.5)
        parts = (
            FixedResistor("input_resistor", self.input_resistor, (WIPER, "minus"), Line((0.2, 0.0), (2.8, 0.0))),
            Amplifier("buffer", GROUND, "minus", BUFFERED, note="output buffer", drawn=(3.8, -0.5), plus_up=False),
            FixedResistor("feedback_resistor", self.feedback_resistor, ("minus", BUFFERED), over((3.1, 0.0), out)),
        )
        wires = (((0.0, 0.0), (0.2, 0.0)), ((2.8, 0.0), (3.1, 0.0), minus), ((5.8, -0.5), out))
        return Wiring(parts, wires=wires, end=out)
