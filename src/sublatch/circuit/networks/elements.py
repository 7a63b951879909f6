"""What networks are made of: resistors, capacitors, inductors and op-amps, by name and nodes."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

GROUND = "ground"


@dataclass(frozen=True)
class Resistor:
    """A resistance between two nodes."""

    name: str
    nodes: tuple[str, str]
    ohm: float


@dataclass(frozen=True)
class Capacitor:
    """A capacitance between two nodes."""

    name: str
    nodes: tuple[str, str]
    farad: float


@dataclass(frozen=True)
class Inductor:
    """An inductance between two nodes."""

    name: str
    nodes: tuple[str, str]
    henry: float


@dataclass(frozen=True)
class OpAmp:
    """An op-amp; ideal but for a gain that falls to 1 at `gain_bandwidth_hz`, where that is given."""

    name: str
    plus: str
    minus: str
    output: str
    gain_bandwidth_hz: float = inf

    @property
    def nodes(self) -> tuple[str, str, str]:
        """The three nodes it connects."""
        return (self.plus, self.minus, self.output)


Part = Resistor | Capacitor | Inductor | OpAmp
