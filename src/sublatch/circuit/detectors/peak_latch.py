"""The peak latch: thresholds that follow the note's own peaks."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from sublatch.circuit.components.quantities import Farads, Ohms, Share, Volts
from sublatch.circuit.detectors.base import DetectorKind
from sublatch.circuit.detectors.thresholds import Side, Thresholds, alike
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


class PeakLatch(DetectorKind):
    """A comparator whose thresholds follow the note's own peaks: the textbook one, direct-coupled, without gain."""

    tuned: ClassVar[tuple[str, ...]] = ("fraction", "fraction", "hold_resistor", "floor")

    kind: Literal["peak-latch"] = "peak-latch"
    filter: Filter = Field(LOW_PASS, description="Low-pass ahead of the comparator.")
    fraction: Share = Field(0.85, gt=0.0, lt=1.0, description="Share of each peak store at which it latches.")
    hold_resistor: Ohms = Field(100e3, description="Resistor that empties each peak store.")
    hold_capacitor: Farads = Field(470e-9, description="Capacitor of each peak store.")
    floor: Volts = Field(0.001, description="Least threshold, so that silence stays silent.")

    @property
    def thresholds(self) -> Thresholds:
        """When the comparator sets and resets."""
        side = Side(share=self.fraction, least_v=self.floor)
        return alike(side, setting="floor", hold_ohm=self.hold_resistor, hold_farad=self.hold_capacitor)
