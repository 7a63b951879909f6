"""Bends: what a detector does to a voltage from one instant to the next, without memory."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class FullWave:
    """A precision full-wave rectifier.

    Attributes
    ----------
    sign
        1 or −1: it gives the size of what comes, or minus its size.
    """

    sign: int


@dataclass(frozen=True)
class Swing:
    """An op-amp that goes no further than the supply lets it: to the circuit's limits (`Circuit.limits`)."""


@dataclass(frozen=True)
class Logarithmic:
    """An inverting amplifier with diodes both ways across its feedback resistor.

    What comes is the voltage v0 that it would give without the diodes; v is what it gives with them, and
    v0 = v + R · 2 · Is · sinh(v / (N · n · VT)).

    Attributes
    ----------
    ohm
        The feedback resistor R.
    diodes
        How many are in series each way, N.
    saturation_a
        Saturation current Is of a diode, in amperes.
    emission_v
        n · VT of a diode, in volts.

    Notes
    -----
    The diode's law i = Is · (exp(v / (n · VT)) − 1); of two strings in opposite directions the ones cancel.
    Source: W. Shockley, "The theory of p-n junctions in semiconductors and p-n junction transistors", Bell System
    Technical Journal 28(3), 1949 (from memory).
    """

    ohm: float
    diodes: int
    saturation_a: float
    emission_v: float


Law = FullWave | Swing | Logarithmic


@dataclass(frozen=True)
class Bend:
    """Where a bend is: the net whose voltage it bends, and the net that has what it makes of it.

    Of an op-amp both are its output: as the linear parts ahead of it alone would have it, and as it is.

    Attributes
    ----------
    input, output
        The nets.
    law
        What it does.
    idle_v
        Where the input is at rest, in volts from the bias: what offsets and input currents make of it, 0 of ideal
        parts. A signal is how far a net is from its rest.
    """

    input: str
    output: str
    law: Law
    idle_v: float = 0.0
