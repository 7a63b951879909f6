"""A network that the user lists part by part in a circuit file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from typing import Annotated, Literal

from pydantic import Field

from sublatch.checked import Checked
from sublatch.circuit.components.controls import Peak, Pot, SwitchedCapacitor
from sublatch.circuit.components.quantities import Farads, Ohms
from sublatch.circuit.networks.connections import check_connections
from sublatch.circuit.networks.elements import Capacitor, OpAmp, Part, Resistor
from sublatch.circuit.networks.solver import Network
from sublatch.circuit.networks.stability import check_stability
from sublatch.errors import CircuitError

Name = Annotated[str, Field(min_length=1, max_length=30)]
Nodes = tuple[Name, Name]

TRAVEL = tuple(float(position) for position in range(11))
"""Positions of the tone knob at which a network is judged."""


class OwnResistor(Checked):
    """A resistor between two nodes."""

    part: Literal["resistor"]
    name: Name = Field(description="The part's name on the drawing.")
    value: Ohms = Field(description="Its resistance.")
    between: Nodes = Field(description="The two nodes it joins.")

    def placed(self, *, tone: float | None, peak: Peak | None) -> Part:
        """Return the part with the value it has at these knob and switch positions."""
        return Resistor(self.name, self.between, self.value)


class OwnCapacitor(Checked):
    """A capacitor between two nodes."""

    part: Literal["capacitor"]
    name: Name = Field(description="The part's name on the drawing.")
    value: Farads = Field(description="Its capacitance.")
    between: Nodes = Field(description="The two nodes it joins.")

    def placed(self, *, tone: float | None, peak: Peak | None) -> Part:
        """Return the part with the value it has at these knob and switch positions."""
        return Capacitor(self.name, self.between, self.value)


class OwnRheostat(Checked):
    """A gang of the tone pot wired as a variable resistor that falls clockwise."""

    part: Literal["rheostat"]
    name: Name = Field(description="The part's name on the drawing.")
    pot: Pot = Field(description="The pot.")
    end_resistor: Ohms = Field(description="Fixed resistor in series, so that it never falls to nothing.")
    between: Nodes = Field(description="The two nodes it joins.")

    def placed(self, *, tone: float | None, peak: Peak | None) -> Part:
        """Return the part with the value it has at these knob and switch positions."""
        assert tone is not None
        return Resistor(self.name, self.between, self.end_resistor + self.pot.resistances(tone)[1])


class OwnSwitchedCapacitor(Checked):
    """A capacitor whose value the peak switch selects."""

    part: Literal["switched-capacitor"]
    name: Name = Field(description="The part's name on the drawing.")
    value: SwitchedCapacitor = Field(description="Its two values.")
    between: Nodes = Field(description="The two nodes it joins.")

    def placed(self, *, tone: float | None, peak: Peak | None) -> Part:
        """Return the part with the value it has at these knob and switch positions."""
        assert peak is not None
        return Capacitor(self.name, self.between, self.value.at(peak))


class OwnOpAmp(Checked):
    """An op-amp, taken as ideal."""

    part: Literal["op-amp"]
    name: Name = Field(description="The part's name on the drawing.")
    plus: Name = Field(description="Node at its plus input.")
    minus: Name = Field(description="Node at its minus input.")
    output: Name = Field(description="Node at its output.")

    def placed(self, *, tone: float | None, peak: Peak | None) -> Part:
        """Return the part; no knob or switch changes it."""
        return OpAmp(self.name, self.plus, self.minus, self.output)


OwnPart = Annotated[
    OwnResistor | OwnCapacitor | OwnRheostat | OwnSwitchedCapacitor | OwnOpAmp, Field(discriminator="part")
]


def own_network(parts: Sequence[OwnPart], *, tone: float | None, peak: Peak | None) -> Network:
    """Return the network that the parts make, driven at node ``in`` and listened to at node ``out``."""
    return Network(tuple(part.placed(tone=tone, peak=peak) for part in parts))


@lru_cache(maxsize=256)
def check_own_network(parts: tuple[OwnPart, ...]) -> None:
    """Refuse a network that cannot work, over the travel of the tone knob and in both positions of the switch.

    Raises
    ------
    CircuitError
        When two parts share a name, ``in`` or ``out`` is missing, the parts do not hang together, or the network would
        not rest at some position.
    """
    twice = [name for name, count in Counter(part.name for part in parts).items() if count > 1]
    if twice:
        raise CircuitError(f"every part needs a name of its own, got {twice[0]!r} twice")
    tones: Sequence[float | None] = TRAVEL if any(isinstance(part, OwnRheostat) for part in parts) else (None,)
    switched = any(isinstance(part, OwnSwitchedCapacitor) for part in parts)
    peaks: Sequence[Peak | None] = ("flat", "peaked") if switched else (None,)
    network = own_network(parts, tone=tones[0], peak=peaks[0])
    nodes = {node for part in network.parts for node in part.nodes}
    for needed in ("in", "out"):
        if needed not in nodes:
            raise CircuitError(f"a network of your own runs from node 'in' to node 'out', and no part is on {needed!r}")
    check_connections(network)
    for peak in peaks:
        for tone in tones:
            try:
                check_stability(own_network(parts, tone=tone, peak=peak))
            except CircuitError as problem:
                raise CircuitError(f"{problem}{_where(tone, peak)}") from None


def _where(tone: float | None, peak: Peak | None) -> str:
    """Return at which positions something holds, as the tail of a message."""
    told = [f"the tone knob at {tone:g}"] if tone is not None else []
    told += [f"the peak switch at {peak}"] if peak is not None else []
    return f" (with {' and '.join(told)})" if told else ""
