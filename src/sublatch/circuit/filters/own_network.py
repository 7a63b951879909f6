"""A network that the user lists part by part in a circuit file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import Field, model_validator

from sublatch.checked import Checked
from sublatch.circuit.components.controls import Peak, Pot, SwitchedCapacitor
from sublatch.circuit.components.quantities import Farads, Ohms
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.parts import (
    Amplifier,
    CapacitorPair,
    FilterPart,
    FixedCapacitor,
    FixedResistor,
    Rheostat,
    Wiring,
)
from sublatch.circuit.networks.connections import check_connections
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

    def filter_part(self, role: str) -> FilterPart:
        """Return the part as every filter has it, its role from its name."""
        return FixedResistor(role, self.value, self.between, setting=f"{role}.value", name=self.name)


class OwnCapacitor(Checked):
    """A capacitor between two nodes."""

    part: Literal["capacitor"]
    name: Name = Field(description="The part's name on the drawing.")
    value: Farads = Field(description="Its capacitance.")
    between: Nodes = Field(description="The two nodes it joins.")

    def filter_part(self, role: str) -> FilterPart:
        """Return the part as every filter has it, its role from its name."""
        return FixedCapacitor(role, self.value, self.between, setting=f"{role}.value", name=self.name)


class OwnRheostat(Checked):
    """A gang of the tone pot wired as a variable resistor that falls clockwise."""

    part: Literal["rheostat"]
    name: Name = Field(description="The part's name on the drawing.")
    pot: Pot = Field(description="The pot.")
    end_resistor: Ohms = Field(description="Fixed resistor in series, so that it never falls to nothing.")
    between: Nodes = Field(description="The two nodes it joins.")

    def filter_part(self, role: str) -> FilterPart:
        """Return the part as every filter has it, its role from its name."""
        end = f"{role}.end"
        return Rheostat(
            gang=f"{role}.pot",
            end=end,
            start="",
            joint=end,
            pot=self.pot,
            end_ohm=self.end_resistor,
            start_ohm=None,
            between=self.between,
            settings=(f"{role}.pot", f"{role}.end_resistor", ""),
            name=self.name,
        )


class OwnSwitchedCapacitor(Checked):
    """A capacitor whose value the peak switch selects."""

    part: Literal["switched-capacitor"]
    name: Name = Field(description="The part's name on the drawing.")
    value: SwitchedCapacitor = Field(description="Its two values.")
    between: Nodes = Field(description="The two nodes it joins.")

    def filter_part(self, role: str) -> FilterPart:
        """Return the part as every filter has it, its role from its name."""
        return CapacitorPair(f"{role}.value", f"{role}.pole", self.value, self.between, name=self.name)


class OwnOpAmp(Checked):
    """An op-amp, of the class that the circuit names."""

    part: Literal["op-amp"]
    name: Name = Field(description="The part's name on the drawing.")
    plus: Name = Field(description="Node at its plus input.")
    minus: Name = Field(description="Node at its minus input.")
    output: Name = Field(description="Node at its output.")

    def filter_part(self, role: str) -> FilterPart:
        """Return the part as every filter has it, its role from its name."""
        return Amplifier(role, self.plus, self.minus, self.output, name=self.name)


OwnPart = Annotated[
    OwnResistor | OwnCapacitor | OwnRheostat | OwnSwitchedCapacitor | OwnOpAmp, Field(discriminator="part")
]


class OwnNetwork(FilterKind):
    """A network of the user's own, from node ``in`` to node ``out``."""

    kind: Literal["network"] = "network"
    parts: tuple[OwnPart, ...] = Field(min_length=1, description="The parts and the nodes they join.")

    rank: ClassVar[int] = 1000

    @model_validator(mode="after")
    def _can_work(self) -> Self:
        """Refuse a network that cannot work."""
        _check(self)
        return self

    def wiring(self) -> Wiring:
        """Return its parts, which nobody has drawn."""
        return Wiring(tuple(part.filter_part(f"parts.{part.name}") for part in self.parts))

    def with_pots(self, changes: Mapping[str, Any]) -> Self:
        """Return the filter with the settings in `changes` in every pot that the tone knob turns."""
        parts = (
            part.model_copy(update={"pot": part.pot.model_copy(update=changes)})
            if isinstance(part, OwnRheostat)
            else part
            for part in self.parts
        )
        return self.model_copy(update={"parts": tuple(parts)})


@lru_cache(maxsize=256)
def _check(chosen: OwnNetwork) -> None:
    """Refuse a network that cannot work, over the travel of the tone knob and in both positions of the switch.

    Raises
    ------
    CircuitError
        When two parts share a name, ``in`` or ``out`` is missing, the parts do not hang together, or the network would
        not rest at some position.
    """
    twice = [name for name, count in Counter(part.name for part in chosen.parts).items() if count > 1]
    if twice:
        raise CircuitError(f"every part needs a name of its own, got {twice[0]!r} twice")
    tones: Sequence[float | None] = TRAVEL if chosen.works_with_tone else (None,)
    network = chosen.network(tone=tones[0], peak=chosen.peaks[0])
    nodes = {node for part in network.parts for node in part.nodes}
    for needed in ("in", "out"):
        if needed not in nodes:
            raise CircuitError(f"a network of your own runs from node 'in' to node 'out', and no part is on {needed!r}")
    check_connections(network)
    for peak in chosen.peaks:
        for tone in tones:
            try:
                check_stability(chosen.network(tone=tone, peak=peak))
            except CircuitError as problem:
                raise CircuitError(f"{problem}{_where(tone, peak)}") from None


def _where(tone: float | None, peak: Peak | None) -> str:
    """Return at which positions something holds, as the tail of a message."""
    controls = [f"the tone knob at {tone:g}"] if tone is not None else []
    controls += [f"the peak switch at {peak}"] if peak is not None else []
    return f" (with {' and '.join(controls)})" if controls else ""
