"""The figures of a box as its circuit has them, beside what was stated, and what the box is called."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sublatch.circuit.model import Circuit
from sublatch.circuit.origins import Origin, least_sure
from sublatch.parts.mybox.facts import BoxFacts
from sublatch.units import format_decibels, format_hertz

HERTZ, POSITIONS, DECIBELS = "Hz", "of 10", "dB"
UNITS = {
    **dict.fromkeys(("corner", "low", "high"), HERTZ),
    "unity": POSITIONS,
    **dict.fromkeys(("peak", "in-hand", "at-5"), DECIBELS),
}
OF_FILTER = ("corner", "low", "high", "peak")


@dataclass(frozen=True)
class Figure:
    """A figure of the box as its circuit has it.

    Attributes
    ----------
    name
        What it is called by, as in `facts.FIGURES`.
    stated
        What it was said to be; None where nothing was.
    value
        What the circuit gives; None where it has none, as unity beyond 10.
    unit
        ``Hz``, ``dB`` or ``of 10``.
    origin
        ``known`` where it was stated; else the least sure mark of the values that make it.
    """

    name: str
    stated: float | None
    value: float | None
    unit: str
    origin: Origin


def figures_of(circuit: Circuit, facts: BoxFacts, got: Mapping[str, float | None]) -> tuple[Figure, ...]:
    """Return what a circuit gives beside what was stated."""
    stated = facts.stated
    made = []
    for name, value in got.items():
        tables = ("filter",) if name in OF_FILTER else ("output", "mix", "filter", "octave")
        origin = "known" if name in stated else least_sure(circuit.origins, *tables) or "known"
        if value is not None or name in stated or name == "unity":
            made.append(Figure(name, stated.get(name), value, UNITS[name], origin))
    return tuple(made)


def title_of(circuit: Circuit, got: Mapping[str, float | None]) -> str:
    """Return what the box is, in a few words."""
    octave = "gated" if circuit.octave.kind == "gain-gated" else "polarity-switched"
    if circuit.filter.is_wire:
        return f"My box: {octave}, no output filter"
    if circuit.tone is not None:
        return f"My box: {octave}, swept filter from {_hertz(got['low'])} to {_hertz(got['high'])}"
    return f"My box: {octave}, {circuit.filter.kind} filter at {_hertz(got['corner'])}"


def _hertz(value: float | None) -> str:
    """Return a frequency in three digits."""
    return "no corner" if value is None else format_hertz(float(f"{value:.3g}"))


def in_words(value: float | None, unit: str) -> str:
    """Return a figure with its unit, as short as it is exact enough."""
    if value is None:
        return "beyond 10" if unit == POSITIONS else "none"
    if unit == HERTZ:
        return _hertz(value)
    return f"{value:.2f}" if unit == POSITIONS else format_decibels(round(value, 1) + 0.0)
