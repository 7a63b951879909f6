"""What a builder is told of a circuit's knobs, headroom and parts, by `choose` and `knobs` in the same words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import log10
from typing import Any

from sublatch.circuit.components.sold import hard_pot, hard_resistor
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.parts import FixedResistor
from sublatch.circuit.model import Circuit
from sublatch.circuit.response import response
from sublatch.circuit.with_settings import with_settings
from sublatch.parts.knobs.headroom import BUFFER_NAME, Headroom
from sublatch.parts.knobs.travel import TWITCHY
from sublatch.signal.unity import TONE_VOLTS
from sublatch.takes.remarks import Remark

SLAPPED_VOLTS = 1.4
"""Peak of a slapped note: an electric bass gives 1 to 2 V (common practice, no source)."""
LEAST_PEAK_DB = 0.05
"""A lower peak would read 0.0 dB."""


@dataclass(frozen=True)
class InHand:
    """What is left below the limits of the supply where the output filter peaks the most.

    Attributes
    ----------
    heard
        The take, or the tone that stands in for it.
    at
        ``unity`` or ``set``: where the volume knob stands.
    peak_db
        The filter's peak; 0 without one.
    tone
        Where the tone knob leaves the least; None without the knob.
    room_db
        By how much the output could grow before it reaches the limits, in dB; below 0 it is past them.
    needed_db
        How much there should be: none for a take; for the tone as much as a slapped note is louder.
    supply_volts
        The supply.
    """

    heard: str
    at: str
    peak_db: float
    tone: float | None
    room_db: float
    needed_db: float
    supply_volts: float

    @property
    def is_little(self) -> bool:
        """Whether there is less than there should be."""
        return self.room_db < self.needed_db

    @property
    def words(self) -> str:
        """The figures in a sentence."""
        peak = f"with the peak of {self.peak_db:.1f} dB " if self.peak_db >= LEAST_PEAK_DB else ""
        where = "at unity" if self.at == "unity" else "as set"
        where += "" if self.tone is None else f", tone {self.tone:g}"
        limits = f"the limits of {self.supply_volts:g} V {where} ({self.heard})"
        if self.room_db < 0.0:
            return f"{peak}the output goes {-self.room_db:.1f} dB past {limits}"
        return f"{peak}{self.room_db:.1f} dB are left below {limits}"

    @property
    def judged(self) -> str:
        """The same with what to think of it, where it is too little."""
        if not self.is_little:
            return self.words
        why = "it clips" if self.room_db < 0.0 else f"slapped notes may be {self.needed_db:.0f} dB louder"
        return f"{self.words}: little headroom, {why}"

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the fields, and whether it is too little."""
        return {**vars(self), "is_little": self.is_little}


def step_words(steepest: float, unit: str) -> str:
    """Return whether a knob is twitchy, with the bound.

    Parameters
    ----------
    steepest
        The most that one step of ten changes.
    unit
        ``octaves`` or ``dB``.
    """
    limit = TWITCHY[unit]
    if steepest > limit:
        return f"twitchy, more than {limit:.2g} {unit} in a step"
    return f"not twitchy, at most {limit:.2g} {unit} in a step"


def step_remarks(knob: str, steepest: float | None, unit: str) -> list[Remark]:
    """Return the remark that a knob is twitchy; none where it is not.

    Parameters
    ----------
    knob
        Its name.
    steepest, unit
        As for `step_words`; None where no step can be told.
    """
    if steepest is None or steepest <= TWITCHY[unit]:
        return []
    text = f"the {knob} knob's steepest step is {steepest:.2f} {unit}: {step_words(steepest, unit)}"
    return [Remark("twitchy", text)]


def least_in_hand(rows: Sequence[Headroom], circuit: Circuit, *, heard: str, is_tone: bool) -> InHand | None:
    """Return what is left below the supply's limits at unity, or as set where there is none; None without a sound.

    Parameters
    ----------
    rows
        From `headroom`.
    circuit
        Their circuit.
    heard
        What they were measured with.
    is_tone
        Whether that is the tone that stands in for a take.
    """
    peaking = [row for row in rows if row.peak != "flat"]
    row = next((row for row in peaking if row.at == "unity"), peaking[0])
    room_db = row.node_headroom_db[BUFFER_NAME] if row.hardest is None else row.hardest.headroom_db
    if room_db is None:
        return None
    tone = None if row.hardest is None else row.hardest.tone
    peak_db = response(with_settings(circuit, {"switches.peak": row.peak, "knobs.tone": tone}), frequency_hz=[]).peak_db
    needed_db = 20.0 * log10(SLAPPED_VOLTS / TONE_VOLTS) if is_tone else 0.0
    return InHand(heard, row.at, peak_db, tone, room_db, needed_db, row.supply_volts)


def headroom_remarks(left: InHand | None) -> list[Remark]:
    """Return the remark that little is left below the supply's limits; none where there is enough."""
    return [Remark("little-headroom", left.judged)] if left is not None and left.is_little else []


def hard_parts(chosen: FilterKind) -> tuple[str, ...]:
    """Return what of an output filter is hard to buy, in words."""
    gangs = chosen.wired.rheostats
    reasons = [
        hard_pot(pot.value, taper=pot.taper, midpoint=pot.midpoint, gangs=len(gangs))
        for pot in dict.fromkeys(gang.pot for gang in gangs)
    ]
    resistors = [ohm for gang in gangs for ohm in (gang.start_ohm, gang.end_ohm) if ohm is not None]
    resistors += [part.ohm for part in chosen.wired.parts if isinstance(part, FixedResistor)]
    reasons += [hard_resistor(ohm) for ohm in resistors]
    return tuple(dict.fromkeys(words for words in reasons if words is not None))


def hard_knob_pots(circuit: Circuit) -> tuple[str, ...]:
    """Return which of the pots of the volume and direct knobs are hard to buy, in words."""
    there = circuit.mix.direct_pot_there
    pots = [circuit.output.pot] if there is None else [circuit.output.pot, there.pot]
    reasons = (hard_pot(pot.value, taper=pot.taper, midpoint=pot.midpoint) for pot in pots)
    return tuple(dict.fromkeys(words for words in reasons if words is not None))


def buying_remarks(hard: Iterable[str]) -> list[Remark]:
    """Return the remark that parts are hard to buy; none where all are sold widely."""
    named = ", ".join(hard)
    return [Remark("hard-to-buy", f"hard to buy: {named}")] if named else []
