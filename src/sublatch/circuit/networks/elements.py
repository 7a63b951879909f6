"""Networks of resistors, capacitors and ideal op-amps, solved by modified nodal analysis.

The unknowns are the node voltages, the current of each op-amp output and of each source. They obey
``(G + s C) x = b``; the transfer function from a source to a node follows from two determinants
(Cramer's rule), whose roots are eigenvalues and are found by shift and invert.

Source: C.-W. Ho, A. E. Ruehli, P. A. Brennan, "The modified nodal approach to network analysis",
IEEE Trans. Circuits Syst. 22(6), 1975 (from memory). An ideal op-amp holds its inputs at one voltage
and gives whatever current that takes (a nullor).
"""

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
