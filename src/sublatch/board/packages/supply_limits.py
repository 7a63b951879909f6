"""What supply the parts of a board bear, and what they need."""

from __future__ import annotations

from dataclasses import dataclass

from sublatch.errors import CircuitError
from sublatch.units import format_volts


@dataclass(frozen=True)
class PartClass:
    """A sort of integrated circuit that every board has, or may have.

    Attributes
    ----------
    name
        What it is called on the sheet, with its type.
    least_v, most_v
        The supply that it needs and the supply that it bears, in volts.
    """

    name: str
    least_v: float
    most_v: float


PART_CLASSES = (
    PartClass("CMOS flip-flops and switches (4013 and 4053 type)", 3.0, 18.0),
    PartClass("comparators (393 type)", 2.0, 36.0),
    PartClass("thrifty op-amps (358 type)", 3.0, 32.0),
    PartClass("hungry op-amps (072 type)", 7.0, 36.0),
)
"""Makers' data sheets, from memory: CMOS as operating range (Texas Instruments SCHS023E, CD4013B), above which some
makers allow 2 V more for a moment and some nothing; the others' most as absolute maximum. Of the 072 type's least
makers say 6 V to 10 V."""


def guard_supply(supply_v: float) -> None:
    """Refuse a supply in volts that is above what any of a board's parts bears.

    Raises
    ------
    CircuitError
        When it is; it names each sort of part that does not bear it.
    """
    harmed = overloaded(supply_v)
    if harmed:
        most = format_volts(min(part.most_v for part in harmed))
        raise CircuitError(
            f"supply must be at most {most} for a board, got {supply_v:.10g} V, and its parts bear: "
            f"{', '.join(f'{part.name} {format_volts(part.most_v)}' for part in harmed)}; give it {most} or less "
            "(what is only rendered may have more)"
        )


def overloaded(supply_v: float) -> list[PartClass]:
    """Return the sorts of part that do not bear a supply."""
    return [part for part in PART_CLASSES if supply_v > part.most_v]


def starved(supply_v: float) -> list[PartClass]:
    """Return the sorts of part that need more than a supply."""
    return [part for part in PART_CLASSES if supply_v < part.least_v]
