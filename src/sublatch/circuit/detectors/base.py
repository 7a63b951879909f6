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
from sublatch.circuit.filters.first_order import FirstOrder
from sublatch.circuit.filters.kinds import Filter


class DetectorKind(Checked, ABC):
    """What tells the comparator the note's pitch, and the comparator."""

    stands_alone: ClassVar[bool] = False
    """Whether its values, the low-pass too, only make sense together: another kind neither gives nor gets any."""
    tuned: ClassVar[tuple[str, ...]] = ()
    """What `tune` may change beside the low-pass, by path below the detector; twice for what it tries twice as often.

    A filter's path stands for all of its resistors together."""

    filter: Filter = Field(FirstOrder(), description="Low-pass ahead of the comparator.")
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
