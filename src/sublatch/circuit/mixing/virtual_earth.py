"""An inverting mixer: two resistors into the virtual earth of an op-amp."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from sublatch.circuit.components.quantities import Ohms
from sublatch.circuit.filters.parts import Amplifier, FixedResistor, Wiring, over
from sublatch.circuit.mixing.base import MIXED
from sublatch.circuit.mixing.two_inputs import JOINT_DRAWN, TwoInputs
from sublatch.circuit.networks.elements import GROUND


class VirtualEarth(TwoInputs):
    """An inverting mixer: neither the direct knob nor its pot taken out changes the octave's level."""

    kind: Literal["virtual-earth"] = "virtual-earth"
    feedback_resistor: Ohms = Field(22e3, description="From the mixer's output to the joint.")

    sign: ClassVar[Literal[1, -1]] = -1

    @property
    def level_settings(self) -> tuple[str, ...]:
        """The octave's resistor and that of the feedback."""
        return ("octave_resistor", "feedback_resistor")

    def wiring(self) -> Wiring:
        """Return its parts.

        Notes
        -----
        v = −Rf (o/Ro + α d/(Rd + α (1 − α) Rp)) with the wiper at a share α of the track: the joint is held at ground,
        so that what hangs there loose, or leads to ground, has no effect.
        """
        out, minus = (12.0, -0.5), (9.4, 0.0)
        feedback = over((8.6, 0.0), out)
        parts = (
            *self.resistors("minus"),
            FixedResistor("feedback_resistor", self.feedback_resistor, ("minus", MIXED), feedback),
            Amplifier("amplifier", GROUND, "minus", MIXED, note="inverting mixer", drawn=(9.4, -0.5), plus_up=False),
        )
        wires = (*self.wires, (JOINT_DRAWN, (8.6, 0.0)), ((8.6, 0.0), minus), ((11.4, -0.5), out))
        return Wiring(parts, wires=wires, labels=self.labels, end=out)
