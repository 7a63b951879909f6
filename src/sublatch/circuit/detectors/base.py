"""What every kind of detector says of itself: what lies ahead of its comparators, and its thresholds."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import Annotated, ClassVar

from pydantic import Field

from sublatch.checked import Checked
from sublatch.circuit.components.quantities import LEFT_OUT
from sublatch.circuit.detectors.front import NOTE, Filtered, Front
from sublatch.circuit.detectors.leveller import Leveller
from sublatch.circuit.detectors.thresholds import Thresholds
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.filters.third_order import ThirdOrder

LOW_PASS = ThirdOrder(  # Butterworth for equal resistors: 1.392647 / (2 pi f R) and so on, f = 142 Hz
    first_resistor=33e3,
    second_resistor=33e3,
    third_resistor=33e3,
    first_ground_capacitor=47e-9,
    feedback_capacitor=120e-9,
    second_ground_capacitor=6.8e-9,
)
"""A low-pass above the fundamental of a G string and below the overtones of an E string."""


class DetectorKind(Checked, ABC):
    """What tells the comparator the note's pitch, and the comparator."""

    stands_alone: ClassVar[bool] = False
    """Whether its values, the low-pass too, only make sense together: another kind neither gives nor gets any."""
    tuned: ClassVar[tuple[str, ...]] = ()
    """What `tune` may change beside the low-pass, by path below the detector; twice for what it tries twice as often.

    A filter's path stands for all of its resistors together."""

    filter: Filter = Field(LOW_PASS, description="Low-pass ahead of the comparator.")
    leveller: Annotated[Leveller | None, LEFT_OUT] = Field(None, description='Evens the note\'s decay, or "none".')

    @property
    @abstractmethod
    def thresholds(self) -> Thresholds:
        """When the comparator sets and resets, of ideal parts."""

    @property
    def front(self) -> Front:
        """All that lies ahead of the comparators: the low-pass alone, unless a kind says more."""
        low_pass = self.low_pass(NOTE, driven=False)
        return Front((low_pass,), low_pass.end)

    def low_pass(self, source: str, *, driven: bool) -> Filtered:
        """Return the low-pass as a stage, fed from a net."""
        return Filtered("detector", self.filter, "filter", source, "detected", driven)
