"""A network that the user lists part by part in a circuit file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Annotated, Literal

from pydantic import Field

from sublatch.checked import Checked
from sublatch.circuit.controls import Peak, Pot, SwitchedCapacitor
from sublatch.circuit.network import Capacitor, Network, OpAmp, Part, Resistor, transfer
from sublatch.circuit.quantities import Farads, Ohms
from sublatch.errors import CircuitError

Name = Annotated[str, Field(min_length=1, max_length=30)]
Nodes = tuple[Name, Name]


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
    """Return the network that the parts make, driven at node ``in`` and listened to at node ``out``.

    Raises
    ------
    CircuitError
        When two parts share a name, ``in`` or ``out`` is missing, or the equations have no answer.
    """
    twice = [name for name, count in Counter(part.name for part in parts).items() if count > 1]
    if twice:
        raise CircuitError(f"every part needs a name of its own, got {twice[0]!r} twice")
    network = Network(tuple(part.placed(tone=tone, peak=peak) for part in parts))
    nodes = {node for part in network.parts for node in part.nodes}
    for needed in ("in", "out"):
        if needed not in nodes:
            raise CircuitError(f"a network of your own runs from node 'in' to node 'out', and no part is on {needed!r}")
    transfer(network)
    return network
