"""What networks are made of: resistors, capacitors and ideal op-amps, by name and nodes."""

from __future__ import annotations

from dataclasses import dataclass

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
class OpAmp:
    """An ideal op-amp."""

    name: str
    plus: str
    minus: str
    output: str

    @property
    def nodes(self) -> tuple[str, str, str]:
        """The three nodes it connects."""
        return (self.plus, self.minus, self.output)


Part = Resistor | Capacitor | OpAmp
