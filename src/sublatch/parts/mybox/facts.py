"""What is known of a box: what was read on its board, and what was heard or measured at its knobs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from sublatch.errors import CircuitError, nearest_hint
from sublatch.parts.fit.filter_parts import WantedFilter

KINDS_BY_SLOPE = {0: "none", 6: "first-order", 12: "second-order", 18: "third-order"}
"""The output filter's kind by how steeply it falls, in dB per octave: 6 dB for each order."""
SWEPT = "swept-second-order"
"""The filter of a box whose tone knob sweeps the corner."""
LEAST_IN_HAND_DB, LARGEST_IN_HAND_DB = -30.0, 60.0
LOWEST_HZ, HIGHEST_HZ = 5.0, 20e3


@dataclass(frozen=True)
class BoxFacts:
    """What is known of a box; None for what is not.

    Attributes
    ----------
    corner_hz
        Corner of the output filter, 3.01 dB down.
    low_hz, high_hz
        The corner with the tone knob at 0 and at 10, of a filter that has one; both or neither.
    peak_db
        Peak of the output filter, where a peak switch is, with it at peaked.
    unity_at
        Position of the volume knob at which the effect is as loud as the bypassed note.
    in_hand_db
        How much louder the effect is than the bypassed note with the volume at 10; below 0 it is softer.
    half_db
        How much louder the effect is with the volume at 10 than with it at 5.
    known
        Settings that were read on the board, by dotted path as in a circuit file, such as ``output.pot.value``.
    """

    corner_hz: float | None = None
    low_hz: float | None = None
    high_hz: float | None = None
    peak_db: float | None = None
    unity_at: float | None = None
    in_hand_db: float | None = None
    half_db: float | None = None
    known: Mapping[str, Any] = field(default_factory=dict)

    @property
    def stated(self) -> dict[str, float]:
        """The figures that were heard or measured at the knobs, by the words that they are called by."""
        figures = {word: getattr(self, name) for word, name in FIGURES.items()}
        return {word: value for word, value in figures.items() if value is not None}

    @property
    def filter(self) -> WantedFilter:
        """What is known of the output filter's curve."""
        return WantedFilter(self.corner_hz, self.low_hz, self.high_hz, self.peak_db)

    @property
    def names(self) -> tuple[str, ...]:
        """What can be doubted: the figures by their words, and the settings by their paths."""
        return (*self.stated, *self.known)

    def without(self, name: str) -> BoxFacts:
        """Return the facts without one that is doubted.

        Raises
        ------
        CircuitError
            When there is no such fact.
        """
        if name in self.stated:
            nothing: dict[str, Any] = {FIGURES[name]: None}
            return replace(self, **nothing)
        if name not in self.known:
            raise CircuitError(
                f"only a fact that is given can be doubted, got {name!r}{nearest_hint(name, self.names)} "
                f"(given: {', '.join(self.names) or 'none'})"
            )
        return replace(self, known={path: value for path, value in self.known.items() if path != name})


FIGURES = {
    "corner": "corner_hz",
    "low": "low_hz",
    "high": "high_hz",
    "peak": "peak_db",
    "unity": "unity_at",
    "in-hand": "in_hand_db",
    "at-5": "half_db",
}
"""What is heard or measured at the knobs, by the word that it is called by: the field of `BoxFacts`."""
LIMITS = {
    "corner_hz": (LOWEST_HZ, HIGHEST_HZ, "Hz"),
    "low_hz": (LOWEST_HZ, HIGHEST_HZ, "Hz"),
    "high_hz": (LOWEST_HZ, HIGHEST_HZ, "Hz"),
    "peak_db": (0.0, 24.0, "dB"),
    "unity_at": (0.1, 10.0, "of 10"),
    "in_hand_db": (LEAST_IN_HAND_DB, LARGEST_IN_HAND_DB, "dB"),
    "half_db": (0.1, LARGEST_IN_HAND_DB, "dB"),
}
"""From where to where each may be."""


def check_facts(facts: BoxFacts) -> None:
    """Refuse facts that no box has, or that do not go together whatever the rest may be.

    Raises
    ------
    CircuitError
        Naming the fact.
    """
    for word, value in facts.stated.items():
        least, most, unit = LIMITS[FIGURES[word]]
        if not least <= value <= most:
            tenth = f"; was it meant as {value / 10:g}?" if word == "unity" and 10.0 < value <= 100.0 else ""
            raise CircuitError(f"{word} must be {least:g} to {most:g} {unit}, got {value:g}{tenth}")
    if (facts.low_hz is None) != (facts.high_hz is None):
        raise CircuitError("low and high go together: the corner with the tone knob at 0, and at 10")
    if facts.low_hz is not None and facts.high_hz is not None:
        if facts.corner_hz is not None:
            raise CircuitError("corner is for a filter without a tone knob; low and high say it where there is one")
        if not facts.low_hz < facts.high_hz:
            raise CircuitError(f"low must be below high, got {facts.low_hz:g} Hz and {facts.high_hz:g} Hz")
    if facts.unity_at is not None and facts.in_hand_db is not None and facts.in_hand_db < 0.0:
        raise CircuitError(f"where unity is on the knob, nothing is missing at 10, got in-hand {facts.in_hand_db:g} dB")
    if facts.unity_at == 10.0 and facts.in_hand_db is not None and facts.in_hand_db > 0.0:
        raise CircuitError(f"with unity at 10 nothing is in hand above it, got in-hand {facts.in_hand_db:g} dB")
