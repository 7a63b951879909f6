"""The low-pass filters that a circuit file can ask for: their part values, knobs and switches."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from sublatch.checked import Checked
from sublatch.circuit.components.controls import Peak, Pot, SwitchedCapacitor
from sublatch.circuit.components.quantities import Farads, Ohms, OptionalOhms
from sublatch.circuit.filters.own_network import (
    OwnPart,
    OwnRheostat,
    OwnSwitchedCapacitor,
    check_own_network,
    own_network,
)
from sublatch.circuit.filters.topologies import first_order, limited_second_order, none, second_order, third_order
from sublatch.circuit.networks.solver import Network


class NoFilter(Checked):
    """A plain wire."""

    kind: Literal["none"] = "none"

    def network(self, *, tone: float | None, peak: Peak | None) -> Network:
        """Return the network at these knob and switch positions."""
        return none()


class FirstOrder(Checked):
    """A resistor, a capacitor to ground and a follower."""

    kind: Literal["first-order"] = "first-order"
    resistor: Ohms = Field(39e3, description="Series resistor.")
    capacitor: Farads = Field(15e-9, description="Capacitor to ground.")

    def network(self, *, tone: float | None, peak: Peak | None) -> Network:
        """Return the network at these knob and switch positions."""
        return first_order(resistor_ohm=self.resistor, capacitor_farad=self.capacitor)


class SecondOrder(Checked):
    """A unity-gain Sallen-Key low-pass with fixed values."""

    kind: Literal["second-order"] = "second-order"
    first_resistor: Ohms = Field(33e3, description="First series resistor.")
    second_resistor: Ohms = Field(33e3, description="Second series resistor.")
    ground_capacitor: Farads = Field(12e-9, description="Capacitor from the op-amp's input to ground.")
    feedback_capacitor: Farads = Field(22e-9, description="Capacitor from the op-amp's output back.")

    def network(self, *, tone: float | None, peak: Peak | None) -> Network:
        """Return the network at these knob and switch positions."""
        return second_order(
            first_ohm=self.first_resistor,
            second_ohm=self.second_resistor,
            ground_farad=self.ground_capacitor,
            feedback_farad=self.feedback_capacitor,
        )


class ThirdOrder(Checked):
    """A unity-gain third-order low-pass around one op-amp."""

    kind: Literal["third-order"] = "third-order"
    first_resistor: Ohms = Field(33e3, description="First series resistor.")
    second_resistor: Ohms = Field(33e3, description="Second series resistor.")
    third_resistor: Ohms = Field(33e3, description="Third series resistor.")
    first_ground_capacitor: Farads = Field(22e-9, description="Capacitor to ground after the first resistor.")
    feedback_capacitor: Farads = Field(56e-9, description="Capacitor from the op-amp's output back.")
    second_ground_capacitor: Farads = Field(3.3e-9, description="Capacitor from the op-amp's input to ground.")

    def network(self, *, tone: float | None, peak: Peak | None) -> Network:
        """Return the network at these knob and switch positions."""
        return third_order(
            first_ohm=self.first_resistor,
            second_ohm=self.second_resistor,
            third_ohm=self.third_resistor,
            first_ground_farad=self.first_ground_capacitor,
            feedback_farad=self.feedback_capacitor,
            second_ground_farad=self.second_ground_capacitor,
        )


class SweptSecondOrder(Checked):
    """A unity-gain Sallen-Key low-pass swept by a dual-gang pot, its peak chosen by a switch."""

    kind: Literal["swept-second-order"] = "swept-second-order"
    pot: Pot = Field(
        Pot(value=100e3, taper="reverse-log"),
        description="Dual-gang pot, each gang a variable resistor that falls clockwise.",
    )
    start_resistor: OptionalOhms = Field(None, description='Fixed resistor across each gang\'s track, or "none".')
    end_resistor: Ohms = Field(3e3, description="Fixed resistor in series with each gang.")
    ground_capacitor: SwitchedCapacitor = Field(
        SwitchedCapacitor(flat=12e-9, peaked=5.6e-9),
        description="Capacitor from the op-amp's input to ground.",
    )
    feedback_capacitor: SwitchedCapacitor = Field(
        SwitchedCapacitor(flat=22e-9, peaked=47e-9),
        description="Capacitor from the op-amp's output back.",
    )

    def network(self, *, tone: float | None, peak: Peak | None) -> Network:
        """Return the network at these knob and switch positions."""
        assert tone is not None
        assert peak is not None
        gang = self.pot.resistances(tone)[1]
        if self.start_resistor is not None:
            return limited_second_order(
                gang_ohm=gang,
                start_ohm=self.start_resistor,
                end_ohm=self.end_resistor,
                ground_farad=self.ground_capacitor.at(peak),
                feedback_farad=self.feedback_capacitor.at(peak),
            )
        series = self.end_resistor + gang
        return second_order(
            first_ohm=series,
            second_ohm=series,
            ground_farad=self.ground_capacitor.at(peak),
            feedback_farad=self.feedback_capacitor.at(peak),
        )


class OwnNetwork(Checked):
    """A network of the user's own, from node ``in`` to node ``out``."""

    kind: Literal["network"] = "network"
    parts: tuple[OwnPart, ...] = Field(min_length=1, description="The parts and the nodes they join.")

    @model_validator(mode="after")
    def _can_work(self) -> Self:
        """Refuse a network that cannot work."""
        check_own_network(self.parts)
        return self

    def network(self, *, tone: float | None, peak: Peak | None) -> Network:
        """Return the network at these knob and switch positions."""
        return own_network(self.parts, tone=tone, peak=peak)


Filter = Annotated[
    NoFilter | FirstOrder | SecondOrder | ThirdOrder | SweptSecondOrder | OwnNetwork,
    Field(discriminator="kind"),
]
"""Any of the filters, told apart by its kind."""


def works_with_tone(chosen: Filter) -> bool:
    """Return whether the tone knob moves a part of this filter."""
    return any(isinstance(value, Pot | OwnRheostat) for value in _values(chosen))


def works_with_peak(chosen: Filter) -> bool:
    """Return whether the peak switch selects a part of this filter."""
    return any(isinstance(value, SwitchedCapacitor | OwnSwitchedCapacitor) for value in _values(chosen))


def _values(chosen: Filter) -> tuple[object, ...]:
    """Return a filter's parts: those that are listed, or else its settings."""
    return chosen.parts if isinstance(chosen, OwnNetwork) else tuple(dict(chosen).values())
