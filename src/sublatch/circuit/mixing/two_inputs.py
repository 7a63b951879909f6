"""What mixing stages of two resistors share: the resistors, the direct knob's pot, and the direct signal's filter."""

from __future__ import annotations

from typing import Annotated, ClassVar, Self

from pydantic import Field, model_validator

from sublatch.circuit.components.controls import Pot
from sublatch.circuit.components.quantities import LEFT_OUT, Ohms
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.filters.none import NoFilter
from sublatch.circuit.filters.parts import FixedResistor, Label, Line, Path
from sublatch.circuit.mixing.base import OCTAVE, DirectPot, MixKind

WIPER, LOOSE = "wiper", "loose"
"""Node at the direct resistor's own end: the pot's wiper, or nothing where there is no pot."""
JOINT_DRAWN = (8.0, 0.0)
"""Where the two resistors meet on the drawing."""


class TwoInputs(MixKind):
    """Two resistors to one joint, the direct one fed by a pot."""

    octave_resistor: Ohms = Field(22e3, description="From the output filter to the joint.")
    direct_resistor: Ohms = Field(22e3, description="From the direct pot's wiper to the joint.")
    direct_pot: Annotated[Pot | None, LEFT_OUT] = Field(
        Pot(value=10e3, taper="linear"),
        description='The direct knob\'s pot, or "none": the direct resistor then hangs loose.',
    )
    direct_filter: Filter = Field(
        NoFilter(), description="Low-pass of the direct signal alone, ahead of its pot; it has no peak switch."
    )

    wires: ClassVar[tuple[Path, ...]] = (((7.0, 0.0), JOINT_DRAWN), ((7.0, -3.1), (8.0, -3.1), JOINT_DRAWN))

    @model_validator(mode="after")
    def _has_a_direct_signal_to_filter(self) -> Self:
        """Refuse a filter of the direct signal that needs a peak switch, or that nothing is heard through."""
        got = f"got kind = {self.direct_filter.kind!r}"
        if self.direct_filter.works_with_peak:
            raise ValueError(
                f"direct_filter: the direct signal's filter must need no peak switch, {got}; "
                "a swept one without the switch is 'swept-first-order'"
            )
        if self.direct_pot is None and not self.direct_filter.is_wire:
            raise ValueError(f"direct_filter: without a direct_pot nothing is heard through it, {got}")
        return self

    @property
    def direct_pot_there(self) -> DirectPot | None:
        """The pot that lets the direct signal in."""
        return None if self.direct_pot is None else DirectPot(self.direct_pot, WIPER, (2.4, -1.6), (4.0, -3.1))

    @property
    def direct_low_pass(self) -> FilterKind | None:
        """The filter that the direct signal has for itself ahead of its pot."""
        return None if self.direct_pot is None else self.direct_filter

    @property
    def why_no_direct(self) -> str:
        """Why there is no direct knob, where there is none."""
        return f"its mixing stage is mix.kind = {self.kind!r} with mix.direct_pot = 'none'"

    def resistors(self, joint: str) -> tuple[FixedResistor, FixedResistor]:
        """Return the two resistors to a joint."""
        end = LOOSE if self.direct_pot is None else WIPER
        return (
            FixedResistor("octave_resistor", self.octave_resistor, (OCTAVE, joint), Line((4.0, 0.0), (7.0, 0.0))),
            FixedResistor("direct_resistor", self.direct_resistor, (end, joint), Line((4.0, -3.1), (7.0, -3.1))),
        )

    @property
    def labels(self) -> tuple[Label, ...]:
        """The name of the loose end, where there is one."""
        return (Label("direct_resistor", "a", (4.0, -3.1), "left"),) if self.direct_pot is None else ()
