"""The zero-crossing detector: fixed thresholds on either side of zero."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from sublatch.circuit.components.quantities import Volts
from sublatch.circuit.detectors.base import DetectorKind
from sublatch.circuit.detectors.thresholds import Side, Thresholds, alike


class ZeroCrossing(DetectorKind):
    """A comparator with fixed hysteresis around zero."""

    tuned: ClassVar[tuple[str, ...]] = ("hysteresis",)

    kind: Literal["zero-crossing"] = "zero-crossing"
    hysteresis: Volts = Field(0.01, description="It sets at +this and resets at −this.")

    @property
    def thresholds(self) -> Thresholds:
        """When the comparator sets and resets."""
        return alike(Side(added_v=self.hysteresis), setting="hysteresis")
