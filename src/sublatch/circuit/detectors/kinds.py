"""What tells the comparator the note's pitch, and the comparator: their part values as checked data."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sublatch.checked import Checked
from sublatch.circuit.components.quantities import LEFT_OUT, Farads, Ohms, Share, Volts
from sublatch.circuit.filters.first_order import FirstOrder
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.filters.second_order import SecondOrder
from sublatch.circuit.filters.third_order import ThirdOrder


class Leveller(Checked):
    """A gain that rises as the note dies, so that the comparator sees an even level."""

    target: Volts = Field(0.5, gt=0.0, description="Level it aims at, peak.")
    hold_resistor: Ohms = Field(100e3, description="Resistor that empties the store of the level.")
    hold_capacitor: Farads = Field(1e-6, description="Capacitor of the store of the level.")
    most_gain: Annotated[float, Field(ge=1.0, le=1e4)] = Field(30.0, description="Largest gain, as a ratio.")

    @property
    def hold_s(self) -> float:
        """Time constant of the store in seconds."""
        return self.hold_resistor * self.hold_capacitor


class _Detector(Checked):
    """What all detectors have."""

    filter: Filter = Field(FirstOrder(), description="Low-pass ahead of the comparator.")
    leveller: Annotated[Leveller | None, LEFT_OUT] = Field(None, description='Evens the note\'s decay, or "none".')

    @property
    def filters(self) -> dict[str, Filter]:
        """Every filter in it, by its path below the detector."""
        return {"filter": self.filter}


class ZeroCrossing(_Detector):
    """A comparator with fixed hysteresis around zero."""

    kind: Literal["zero-crossing"] = "zero-crossing"
    hysteresis: Volts = Field(0.01, description="It sets at +this and resets at −this.")


class _Latch(_Detector):
    """A comparator whose thresholds follow the note's own peaks."""

    fraction: Share = Field(0.85, gt=0.0, lt=1.0, description="Share of each peak store at which it latches.")
    hold_resistor: Ohms = Field(100e3, description="Resistor that empties each peak store.")
    hold_capacitor: Farads = Field(470e-9, description="Capacitor of each peak store.")
    floor: Volts = Field(0.001, description="Least threshold, so that silence stays silent.")

    @property
    def hold_s(self) -> float:
        """Time constant of the peak stores in seconds."""
        return self.hold_resistor * self.hold_capacitor


class PeakLatch(_Latch):
    """A comparator whose thresholds follow the note's own peaks."""

    kind: Literal["peak-latch"] = "peak-latch"


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
    def rectifier_sign(self) -> int:
        """1 or −1, the sign of what the rectifier gives."""
        return 1 if self.rectifier == "positive" else -1


class Blend(Checked):
    """Two resistors that add the rectified overtones and the plain signal, and an amplifier after them."""

    coupling: Farads = Field(100e-9, description="Capacitor after the rectifier; it keeps out the mean value.")
    rectified_resistor: Ohms = Field(47e3, description="From that capacitor to the joint.")
    plain_resistor: Ohms = Field(360e3, description="From the input follower to the joint.")
    feedback_resistor: Ohms = Field(91e3, description="From the amplifier's output to its minus input.")
    ground_resistor: Ohms = Field(10e3, description="From the amplifier's minus input to ground: gain 1 + Rf / Rg.")


class Overtone(_Latch):
    """A peak latch that also hears rectified overtones, for strings whose fundamental is weak.

    Overtones of a note beat at its pitch, so that the full-wave rectified sum of several of them has a component there
    even where the note has none.
    """

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
    def filters(self) -> dict[str, Filter]:
        """Every filter in it, by its path below the detector."""
        return {"filter": self.filter, "band.filter": self.band.filter}


Detector = Annotated[ZeroCrossing | PeakLatch | Overtone, Field(discriminator="kind")]
