"""Which pin of a chip is what: the numbering of the common types, pin 1 at the notch and on round against the clock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sublatch.board.netlist import BIAS, ZERO, Kind


@dataclass(frozen=True)
class Pinout:
    """Pins of one kind of chip.

    Attributes
    ----------
    pins
        How many there are.
    power
        Number of each pin of the package itself.
    sections
        Number of each pin of each section, A first.
    spare
        Net for each pin of a section that nothing uses; pins without one stay open. ``own`` stands for a net of its
        own, which joins pins with each other.
    """

    pins: int
    power: Mapping[str, int]
    sections: tuple[Mapping[str, int], ...]
    spare: Mapping[str, str]


_TWO = ({"out": 1, "-": 2, "+": 3}, {"out": 7, "-": 6, "+": 5})
PINOUTS: dict[Kind, Pinout] = {
    "op-amp": Pinout(8, {"V+": 8, "V-": 4}, _TWO, {"+": BIAS, "-": "own", "out": "own"}),
    "comparator": Pinout(8, {"V+": 8, "V-": 4}, _TWO, {"+": ZERO, "-": ZERO}),
    "flip-flop": Pinout(
        14,
        {"VDD": 14, "VSS": 7},
        (
            {"Q": 1, "/Q": 2, "CLK": 3, "R": 4, "D": 5, "S": 6},
            {"Q": 13, "/Q": 12, "CLK": 11, "R": 10, "D": 9, "S": 8},
        ),
        {"CLK": ZERO, "R": ZERO, "D": ZERO, "S": ZERO},
    ),
    "analogue switch": Pinout(
        16,
        {"VDD": 16, "VSS": 8, "VEE": 7, "INH": 6, "B": 10, "C": 9},
        ({"A": 11, "0": 12, "1": 13, "common": 14},),
        {},
    ),
}
"""Data sheets of the 072, 393, 4013 and 4053 types, from memory. What a spare section is tied to is common practice: an
op-amp follows the bias, inputs of CMOS and of comparators go to 0 V, outputs stay open."""
