"""Pin numbers of the common packages, from makers' data sheets and from memory.

Sources: Texas Instruments TL072 and LM358 (dual op-amp, 8 pins), LM393 (dual comparator, 8 pins), SCHS023E (CD4013B,
14 pins), SCHS047 (CD4053B, 16 pins), LM13700 (dual transconductance amplifier, 16 pins); all from memory. The seller's
data sheet of the very part counts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Pinout:
    """The pins of a package, counted from the notch, seen from above.

    Attributes
    ----------
    name
        Package as it is sold.
    count
        How many pins it has.
    sections
        Number of each pin of each section, by the section's letter and the pin's name.
    shared
        Number of each pin that all sections share.
    outputs
        Names of pins that may stay open, since they are outputs.
    """

    name: str
    count: int
    sections: Mapping[str, Mapping[str, int]]
    shared: Mapping[str, int]
    outputs: frozenset[str]

    def number(self, section: str, pin: str) -> int:
        """Return the number of a section's pin, or of one that all share."""
        return self.sections.get(section, {}).get(pin) or self.shared[pin]


_DUAL = Pinout(
    name="DIP-8",
    count=8,
    sections={"A": {"out": 1, "-": 2, "+": 3}, "B": {"+": 5, "-": 6, "out": 7}},
    shared={"V-": 4, "V+": 8},
    outputs=frozenset({"out"}),
)

PINOUTS: Mapping[str, Pinout] = {
    "op-amp": _DUAL,
    "comparator": _DUAL,
    "flip-flop": Pinout(
        name="DIP-14",
        count=14,
        sections={
            "A": {"Q": 1, "/Q": 2, "CLK": 3, "R": 4, "D": 5, "S": 6},
            "B": {"S": 8, "D": 9, "R": 10, "CLK": 11, "/Q": 12, "Q": 13},
        },
        shared={"VSS": 7, "VDD": 14},
        outputs=frozenset({"Q", "/Q"}),
    ),
    "analogue switch": Pinout(
        name="DIP-16",
        count=16,
        sections={"A": {"A": 11, "0": 12, "1": 13, "common": 14}},
        shared={
            **{"b1": 1, "b0": 2, "c1": 3, "c": 4, "c0": 5, "INH": 6, "VEE": 7, "VSS": 8},
            **{"C": 9, "B": 10, "b": 15, "VDD": 16},
        },
        outputs=frozenset(),
    ),
    "transconductance amplifier": Pinout(
        name="DIP-16",
        count=16,
        sections={
            "A": {"control": 1, "diodes": 2, "+": 3, "-": 4, "out": 5, "buffer in": 7, "buffer out": 8},
            "B": {"buffer out": 9, "buffer in": 10, "out": 12, "-": 13, "+": 14, "diodes": 15, "control": 16},
        },
        shared={"V-": 6, "V+": 11},
        outputs=frozenset({"out", "buffer out"}),
    ),
}
"""By the kind of the sections that they hold."""
