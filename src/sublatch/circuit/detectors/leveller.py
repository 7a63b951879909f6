"""The leveller that any detector may have ahead of its comparator."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sublatch.checked import Checked
from sublatch.circuit.components.quantities import Farads, Ohms, Volts


class Leveller(Checked):
    """A gain that rises as the note dies, so that the comparator sees an even level."""

    target: Volts = Field(0.5, gt=0.0, description="Level it aims at, peak.")
    hold_resistor: Ohms = Field(100e3, description="Resistor that empties the store of the level.")
    hold_capacitor: Farads = Field(1e-6, description="Capacitor of the store of the level.")
    most_gain: Annotated[float, Field(ge=1.0, le=1e4)] = Field(30.0, description="Largest gain, as a ratio.")

    @property
    def hold_s(self) -> float:
        """Time constant of the store in seconds."""
        return self.hold_resistor * self.hold_capacitor
