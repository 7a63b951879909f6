"""The overtone detector: a peak latch that also hears a rectified band of overtones, of parts that can be bought.

Real comparators and op-amps are millivolts off. So the gain is where that matters least, and capacitors keep it from
adding up: the band of overtones is amplified ahead of its rectifier, the sum of it and the note behind the low-pass, by
two amplifiers with a capacitor between them, and a capacitor follows ahead of the comparators.
"""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from sublatch.checked import Checked
from sublatch.circuit.components.quantities import Farads, Ohms, Share, Volts
from sublatch.circuit.detectors.base import DetectorKind
from sublatch.circuit.detectors.bends import Bend, Swing
from sublatch.circuit.detectors.front import COUPLED, NOTE, RECTIFIED, Coupling, Filtered, Front, Parts, Rectifier
from sublatch.circuit.detectors.thresholds import Side, Thresholds, alike
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.filters.second_order import SecondOrder
from sublatch.circuit.filters.third_order import ThirdOrder
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Resistor

HIGH, JOINT, FIRST, BETWEEN, SECOND, WATCHED = "high", "blended", "amplified", "between", "loud", "watched"
"""Nets: the band's amplifier's output, what the two resistors add up to, the first amplifier's output, that behind the
capacitor, the second amplifier's output, and what the comparators watch."""


class Band(Checked):
    """The overtones that are rectified: a low-pass, a high-pass of one capacitor, an amplifier, a capacitor.

    The low-pass is ahead of the amplifier, so that what lies above the band does not bring it to its limits.
    """

    filter: Filter = Field(
        SecondOrder(first_resistor=30e3, second_resistor=30e3, ground_capacitor=10e-9, feedback_capacitor=22e-9),
        description="Low-pass from the input follower.",
    )
    capacitor: Farads = Field(18e-9, description="In series, from the low-pass.")
    resistor: Ohms = Field(36e3, description="To ground after it: with the capacitor a first-order high-pass.")
    feedback_resistor: Ohms = Field(82e3, description="From the amplifier's output to its minus input.")
    ground_resistor: Ohms = Field(12e3, description="From its minus input to ground: gain 1 + Rf / Rg.")
    coupling: Farads = Field(1e-6, description="Capacitor ahead of the rectifier.")
    rectifier: Literal["positive", "negative"] = Field(
        "positive",
        description="What it gives: the overtones' size, or minus their size with its diodes turned round. "
        "Whichever sides with the note's own fundamental holds on better.",
    )

    def stage(self, source: str) -> Parts:
        """Return the high-pass and its amplifier, from a net that an op-amp drives."""
        parts = (
            Capacitor("band.capacitor", (source, "band.a"), self.capacitor),
            Resistor("band.resistor", ("band.a", GROUND), self.resistor),
            OpAmp("band.amplifier", plus="band.a", minus="band.minus", output=HIGH),
            Resistor("band.feedback_resistor", (HIGH, "band.minus"), self.feedback_resistor),
            Resistor("band.ground_resistor", ("band.minus", GROUND), self.ground_resistor),
        )
        notes = {"band.amplifier": "amplifier of the high-pass"}
        return Parts("overtone", parts, notes, (Bend(HIGH, HIGH, Swing()),))

    @property
    def sign(self) -> int:
        """The sign of what the rectifier gives."""
        return 1 if self.rectifier == "positive" else -1


class Blend(Checked):
    """Two resistors that add the rectified overtones and the plain signal; the low-pass follows."""

    coupling: Farads = Field(330e-9, description="Capacitor after the rectifier; it keeps out the mean value.")
    rectified_resistor: Ohms = Field(82e3, description="From that capacitor to the joint.")
    plain_resistor: Ohms = Field(82e3, description="From the input follower to the joint.")

    @property
    def stage(self) -> Parts:
        """The rectifier's coupling capacitor and the two resistors."""
        parts = (
            Capacitor("blend.coupling", (RECTIFIED, "blend.coupled"), self.coupling),
            Resistor("blend.rectified_resistor", ("blend.coupled", JOINT), self.rectified_resistor),
            Resistor("blend.plain_resistor", (NOTE, JOINT), self.plain_resistor),
        )
        return Parts("overtone", parts)


class Gain(Checked):
    """Two amplifiers after the low-pass, and the capacitors that keep their offsets from the comparators."""

    input_resistor: Ohms = Field(8.2e3, description="From the low-pass to the first amplifier's minus input.")
    feedback_resistor: Ohms = Field(100e3, description="From its output to its minus input: gain −Rf / Rin.")
    coupling: Farads = Field(1e-6, description="Capacitor between both amplifiers.")
    coupled_resistor: Ohms = Field(100e3, description="From it to ground.")
    second_feedback_resistor: Ohms = Field(100e3, description="From the second one's output to its minus input.")
    second_ground_resistor: Ohms = Field(9.1e3, description="From its minus input to ground: gain 1 + Rf / Rg.")
    last_coupling: Farads = Field(10e-6, description="Capacitor ahead of the comparators.")
    last_resistor: Ohms = Field(4.7e3, description="From it to ground; the comparators' input currents drop little.")

    def stage(self, source: str) -> Parts:
        """Return both amplifiers and what couples them, from a net that an op-amp drives."""
        parts = (
            Resistor("gain.input_resistor", (source, "gain.minus"), self.input_resistor),
            OpAmp("gain.amplifier", plus=GROUND, minus="gain.minus", output=FIRST),
            Resistor("gain.feedback_resistor", (FIRST, "gain.minus"), self.feedback_resistor),
            Capacitor("gain.coupling", (FIRST, BETWEEN), self.coupling),
            Resistor("gain.coupled_resistor", (BETWEEN, GROUND), self.coupled_resistor),
            OpAmp("gain.second_amplifier", plus=BETWEEN, minus="gain.second_minus", output=SECOND),
            Resistor("gain.second_feedback_resistor", (SECOND, "gain.second_minus"), self.second_feedback_resistor),
            Resistor("gain.second_ground_resistor", ("gain.second_minus", GROUND), self.second_ground_resistor),
            Capacitor("gain.last_coupling", (SECOND, WATCHED), self.last_coupling),
            Resistor("gain.last_resistor", (WATCHED, GROUND), self.last_resistor),
        )
        notes = {
            "gain.amplifier": "first amplifier after the low-pass",
            "gain.second_amplifier": "second amplifier after the low-pass",
        }
        return Parts("detector", parts, notes, (Bend(FIRST, FIRST, Swing()), Bend(SECOND, SECOND, Swing())))

    def couplings(self) -> tuple[Coupling, ...]:
        """Return its capacitors, each with the nets that it lies between."""
        return (
            Coupling("gain.coupling", FIRST, BETWEEN),
            Coupling("gain.last_coupling", SECOND, WATCHED),
        )


class Overtone(DetectorKind):
    """A peak latch that also hears rectified overtones, for strings whose fundamental is weak.

    Overtones of a note beat at its pitch, so that the full-wave rectified sum of several of them has a component there
    even where the note has none.
    """

    stands_alone: ClassVar[bool] = True
    tuned: ClassVar[tuple[str, ...]] = (
        *("fraction", "fraction", "hold_resistor", "gain.feedback_resistor"),
        *("band.capacitor", "band.resistor", "band.feedback_resistor"),
        *("blend.coupling", "blend.rectified_resistor", "blend.plain_resistor"),
        "band.filter",
    )

    kind: Literal["overtone"] = "overtone"
    band: Band = Field(Band(), description="The overtones that are rectified.")
    blend: Blend = Field(Blend(), description="How they are added to the plain signal.")
    filter: Filter = Field(
        ThirdOrder(  # with 82k || 82k ahead of it three times 56k, as Butterworth has it; 84 Hz
            first_resistor=15e3,
            second_resistor=56e3,
            third_resistor=56e3,
            first_ground_capacitor=47e-9,
            feedback_capacitor=120e-9,
            second_ground_capacitor=6.8e-9,
        ),
        description="Low-pass after the joint, whose resistors are in series with its first one.",
    )
    gain: Gain = Field(Gain(), description="The amplifiers between low-pass and comparators.")
    fraction: Share = Field(0.4, gt=0.0, lt=1.0, description="Share of each peak store at which it latches.")
    hold_resistor: Ohms = Field(30e3, description="Both resistors that empty each peak store and divide it.")
    hold_capacitor: Farads = Field(680e-9, description="Capacitor of each peak store.")
    floor: Volts = Field(
        0.015,
        description="What each store empties towards, the least threshold; above offsets of comparator and op-amps.",
    )

    @property
    def thresholds(self) -> Thresholds:
        """When the comparator sets and resets: the hold resistor, divided, lies between store and floor."""
        side = Side(rest_v=self.floor, share=self.fraction, added_v=(1.0 - self.fraction) * self.floor)
        return alike(side, setting="floor", hold_ohm=self.hold_resistor, hold_farad=self.hold_capacitor)

    @property
    def front(self) -> Front:
        """The band of overtones, rectified and blended with the plain note, the low-pass, and the gain."""
        band = Filtered("overtone", self.band.filter, "band.filter", NOTE, "band")
        low_pass = self.low_pass(JOINT, driven=True)
        rectifier = Rectifier(HIGH, self.band.coupling, "band.coupling", self.band.sign, sign_setting="band.rectifier")
        return Front(
            (band, self.band.stage(band.end), rectifier, self.blend.stage, low_pass, self.gain.stage(low_pass.end)),
            WATCHED,
            (
                Coupling("band.coupling", HIGH, COUPLED),
                Coupling("blend.coupling", RECTIFIED, JOINT),
                *self.gain.couplings(),
            ),
        )
