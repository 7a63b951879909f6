"""The polarity-switched octave stage: the note, and the note turned over."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Literal

from pydantic import Field

from sublatch.circuit.components.quantities import Share
from sublatch.circuit.networks.elements import OpAmp, Part, Resistor
from sublatch.circuit.octave_stages.base import NOTE, OCTAVE, SWITCHED, OctaveStage

INVERTER_OHM = 22e3
"""The two equal resistors that make the gain −1; drawn choice."""
MATCHED = "inverter: the two match within 1 %"


class PolaritySwitched(OctaveStage):
    """Gain +1 and −1 in turn."""

    offset_gain: ClassVar[float] = 2.0
    notes: ClassVar[Mapping[str, str]] = {
        "input": MATCHED,
        "feedback": MATCHED,
        "amplifier": "gain +1 with its plus input at the note, −1 with it at the bias",
    }

    kind: Literal["polarity-switched"] = "polarity-switched"
    mismatch: Share = Field(0.0, le=0.5, description="How much too small the inverting gain is.")

    @property
    def gains(self) -> tuple[float, float]:
        """The gain in each half of the drive."""
        return (1.0, -(1.0 - self.mismatch))

    @property
    def parts(self) -> tuple[Part, ...]:
        """An op-amp with two equal resistors from the note over its minus input to its output."""
        return (
            Resistor("input", (NOTE, "octave.minus"), INVERTER_OHM),
            Resistor("feedback", ("octave.minus", OCTAVE), INVERTER_OHM),
            OpAmp("amplifier", plus=SWITCHED, minus="octave.minus", output=OCTAVE),
        )
