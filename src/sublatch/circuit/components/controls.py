"""Knobs and switches as parts: a pot is two resistances, a switch selects a value."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from sublatch.checked import Checked
from sublatch.circuit.components.pots import Taper, wiper_resistances
from sublatch.circuit.components.quantities import Farads, Ohms, Share

Peak = Literal["flat", "peaked"]
PEAKS: tuple[Peak, ...] = ("flat", "peaked")
Drive = Literal["normal", "inverted"]
Hardwired = Literal["drive", "direct"]


def _as_list(value: Any) -> Any:
    """Return words apart by commas as a list of them."""
    return [word.strip() for word in value.split(",") if word.strip()] if isinstance(value, str) else value


HardwiredControls = Annotated[tuple[Hardwired, ...], BeforeValidator(_as_list)]
"""Controls that a box does not have, in a list or as words apart by commas."""


def without_control(control: str, *, filter_kind: str) -> str:
    """Return what is wrong with setting a knob or switch, as ``knobs.tone``, that no part of the filter belongs to."""
    name = {"knobs.tone": "tone knob", "switches.peak": "peak switch"}[control]
    return (
        f"{control} cannot be set: this circuit has no {name}, for its output filter is filter.kind = {filter_kind!r}; "
        f"leave it out, or choose filter.kind = 'swept-second-order', which has one"
    )


class Pot(Checked):
    """A potentiometer."""

    value: Ohms = Field(description="Resistance of the whole track.")
    taper: Taper = Field("linear", description="How the wiper's resistance follows the position.")
    midpoint: Share = Field(
        0.15,
        gt=0.0,
        lt=0.5,
        description="Share of the track below the wiper at half rotation, for the log tapers.",
    )

    def resistances(self, position: float) -> tuple[float, float]:
        """Return the resistance from the anticlockwise end to the wiper, and on to the other end, in ohms."""
        lower, upper = wiper_resistances(self.value, position, taper=self.taper, midpoint=self.midpoint)
        return float(lower), float(upper)


class SwitchedCapacitor(Checked):
    """Two values of a capacitor, one for each position of the peak switch."""

    flat: Farads = Field(description="Value with the peak switch at flat.")
    peaked: Farads = Field(description="Value with the peak switch at peaked.")

    def at(self, peak: Peak) -> float:
        """Return the value in farads that the switch selects."""
        return self.flat if peak == "flat" else self.peaked
