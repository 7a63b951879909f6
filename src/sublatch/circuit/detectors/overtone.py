"""The overtone detector: a peak latch that also hears a rectified band of overtones."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from sublatch.checked import Checked
from sublatch.circuit.components.quantities import Farads, Ohms, Share
from sublatch.circuit.detectors.base import BAND, BLENDED, NOTE, RECTIFIED, RectifiedPath
from sublatch.circuit.detectors.peak_latch import Latch
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.filters.second_order import SecondOrder
from sublatch.circuit.filters.third_order import ThirdOrder
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Part, Resistor


class Band(Checked):
    """The overtones that are rectified: a high-pass of one capacitor, a follower, and a low-pass."""

    capacitor: Farads = Field(18e-9, description="In series, from the input follower.")
    resistor: Ohms = Field(36e3, description="To ground after it: with the capacitor a first-order high-pass.")
    filter: Filter = Field(
        SecondOrder(first_resistor=30e3, second_resistor=30e3, ground_capacitor=10e-9, feedback_capacitor=22e-9),
        description="Low-pass after it.",
    )
    rectifier: Literal["positive", "negative"] = Field(
        "positive",
        description="What it gives: the overtones' size, or minus their size with its diodes turned round. "
        "Whichever sides with the note's own fundamental holds on better.",
    )

    @property
    def parts(self) -> tuple[Part, ...]:
        """The high-pass and its follower."""
        return (
            Capacitor("band.capacitor", (NOTE, "band.a"), self.capacitor),
            Resistor("band.resistor", ("band.a", GROUND), self.resistor),
            OpAmp("band.follower", plus="band.a", minus=BAND, output=BAND),
        )


class Blend(Checked):
    """Two resistors that add the rectified overtones and the plain signal, and an amplifier after them."""

    coupling: Farads = Field(100e-9, description="Capacitor after the rectifier; it keeps out the mean value.")
    rectified_resistor: Ohms = Field(47e3, description="From that capacitor to the joint.")
    plain_resistor: Ohms = Field(360e3, description="From the input follower to the joint.")
    feedback_resistor: Ohms = Field(91e3, description="From the amplifier's output to its minus input.")
    ground_resistor: Ohms = Field(10e3, description="From the amplifier's minus input to ground: gain 1 + Rf / Rg.")

    @property
    def parts(self) -> tuple[Part, ...]:
        """The rectifier's coupling capacitor, the two resistors that add, and the amplifier after them."""
        return (
            Capacitor("blend.coupling", (RECTIFIED, "blend.coupled"), self.coupling),
            Resistor("blend.rectified_resistor", ("blend.coupled", "blend.joint"), self.rectified_resistor),
            Resistor("blend.plain_resistor", (NOTE, "blend.joint"), self.plain_resistor),
            OpAmp("blend.amplifier", plus="blend.joint", minus="blend.minus", output=BLENDED),
            Resistor("blend.feedback_resistor", (BLENDED, "blend.minus"), self.feedback_resistor),
            Resistor("blend.ground_resistor", ("blend.minus", GROUND), self.ground_resistor),
        )


NOTES = {"band.follower": "follower of the high-pass", "blend.amplifier": "amplifier after the blend"}


class Overtone(Latch):
    """A peak latch that also hears rectified overtones, for strings whose fundamental is weak.

    Overtones of a note beat at its pitch, so that the full-wave rectified sum of several of them has a component there
    even where the note has none.
    """

    stands_alone: ClassVar[bool] = True
    tuned: ClassVar[tuple[str, ...]] = (
        *Latch.tuned,
        *("band.capacitor", "band.resistor"),
        *("blend.coupling", "blend.rectified_resistor", "blend.plain_resistor"),
        "band.filter",
    )

    kind: Literal["overtone"] = "overtone"
    band: Band = Field(Band(), description="The overtones that are rectified.")
    blend: Blend = Field(Blend(), description="How they are added to the plain signal.")
    filter: Filter = Field(
        ThirdOrder(
            first_resistor=56e3,
            second_resistor=56e3,
            third_resistor=56e3,
            first_ground_capacitor=47e-9,
            feedback_capacitor=120e-9,
            second_ground_capacitor=6.8e-9,
        ),
        description="Low-pass ahead of the comparator.",
    )
    fraction: Share = Field(0.4, gt=0.0, lt=1.0, description="Share of each peak store at which it latches.")
    hold_resistor: Ohms = Field(62e3, description="Resistor that empties each peak store.")
    hold_capacitor: Farads = Field(330e-9, description="Capacitor of each peak store.")

    @property
    def rectified_path(self) -> RectifiedPath:
        """The band of overtones, rectified and blended with the plain note."""
        return RectifiedPath(
            band=self.band.parts,
            filter=self.band.filter,
            filter_setting="band.filter",
            sign=1 if self.band.rectifier == "positive" else -1,
            sign_setting="band.rectifier",
            blend=self.blend.parts,
            notes=NOTES,
        )
