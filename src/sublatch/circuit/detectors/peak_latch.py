"""The peak latch: thresholds that follow the note's own peaks."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from sublatch.circuit.components.quantities import Farads, Ohms, Share, Volts
from sublatch.circuit.detectors.base import DetectorKind
from sublatch.circuit.detectors.thresholds import Side, Thresholds, alike


class PeakLatch(DetectorKind):
    """A comparator whose thresholds follow the note's own peaks: the textbook one, direct-coupled, without gain."""

    tuned: ClassVar[tuple[str, ...]] = ("fraction", "fraction", "hold_resistor", "floor")

    kind: Literal["peak-latch"] = "peak-latch"
    fraction: Share = Field(0.85, gt=0.0, lt=1.0, description="Share of each peak store at which it latches.")
    hold_resistor: Ohms = Field(100e3, description="Resistor that empties each peak store.")
    hold_capacitor: Farads = Field(470e-9, description="Capacitor of each peak store.")
    floor: Volts = Field(0.001, description="Least threshold, so that silence stays silent.")

    @property
    def thresholds(self) -> Thresholds:
        """When the comparator sets and resets."""
        side = Side(share=self.fraction, least_v=self.floor)
        return alike(side, setting="floor", hold_ohm=self.hold_resistor, hold_farad=self.hold_capacitor)
