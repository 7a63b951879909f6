"""The logarithmic latch: a peak latch behind a logarithmic amplifier, of parts that can be bought."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from sublatch.checked import Checked
from sublatch.circuit.components.quantities import Farads, Ohms, Volts
from sublatch.circuit.detectors.base import LOW_PASS, DetectorKind
from sublatch.circuit.detectors.bends import Bend, Logarithmic
from sublatch.circuit.detectors.front import NOTE, Coupling, Front, Parts
from sublatch.circuit.detectors.thresholds import Side, Thresholds, alike
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Resistor

WATCHED = "watched"
DIODE_A, DIODE_V = 2.52e-9, 1.752 * 25.85e-3
"""Saturation current and n · VT at 27 °C of a 1N4148 type (published models of it, from memory)."""


class Amplifier(Checked):
    """An inverting amplifier whose feedback is a resistor and as many diodes in series either way."""

    coupling: Farads = Field(4.7e-6, description="Capacitor ahead of it.")
    input_resistor: Ohms = Field(33e3, description="From it to the amplifier's minus input.")
    feedback_resistor: Ohms = Field(10e6, description="Across the diodes.")
    diodes: Annotated[int, Field(ge=1, le=6)] = Field(3, description="Diodes in series, and as many the other way.")

    def stage(self, source: str) -> Parts:
        """Return its linear parts and its bend, from a net that an op-amp drives."""
        parts = (
            Capacitor("amplifier.coupling", (source, "amplifier.coupled"), self.coupling),
            Resistor("amplifier.input_resistor", ("amplifier.coupled", "amplifier.minus"), self.input_resistor),
            OpAmp("amplifier.amplifier", plus=GROUND, minus="amplifier.minus", output=WATCHED),
            Resistor("amplifier.feedback_resistor", (WATCHED, "amplifier.minus"), self.feedback_resistor),
        )
        law = Logarithmic(self.feedback_resistor, self.diodes, DIODE_A, DIODE_V)
        return Parts(
            "detector", parts, {"amplifier.amplifier": "logarithmic amplifier"}, (Bend(WATCHED, WATCHED, law),)
        )


class LogarithmicLatch(DetectorKind):
    """A peak latch behind a logarithmic amplifier: a share of a peak becomes a fixed step, at every level alike."""

    stands_alone: ClassVar[bool] = True
    tuned: ClassVar[tuple[str, ...]] = ("hold_resistor", "amplifier.input_resistor")

    kind: Literal["logarithmic-latch"] = "logarithmic-latch"
    filter: Filter = Field(LOW_PASS, description="Low-pass ahead of the amplifier.")
    amplifier: Amplifier = Field(Amplifier(), description="The amplifier between low-pass and comparators.")
    step: Volts = Field(0.023, gt=0.0, description="How far below what each peak store holds it latches.")
    hold_resistor: Ohms = Field(100e3, description="Resistor that empties each peak store.")
    hold_capacitor: Farads = Field(3.3e-6, description="Capacitor of each peak store.")
    floor: Volts = Field(
        0.077, gt=0.0, description="Least threshold; above the offsets of comparator and op-amps, and their noise."
    )

    @property
    def thresholds(self) -> Thresholds:
        """When the comparator sets and resets."""
        side = Side(rest_v=self.floor + self.step, share=1.0, added_v=-self.step)
        return alike(side, setting="floor", hold_ohm=self.hold_resistor, hold_farad=self.hold_capacitor)

    @property
    def front(self) -> Front:
        """The low-pass and the logarithmic amplifier."""
        low_pass = self.low_pass(NOTE, driven=True)
        coupling = Coupling("amplifier.coupling", low_pass.end, "amplifier.coupled")
        return Front((low_pass, self.amplifier.stage(low_pass.end)), WATCHED, (coupling,))
