"""The volume pot's taper and its trim resistor searched together: unity where it is wanted, even travel, few parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log10
from typing import Any

from sublatch.circuit.components import preferred
from sublatch.circuit.components.pots import FULL_TURN, Taper
from sublatch.circuit.model import Circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.parts.knobs.travel import TRACKS, TWITCHY, KnobCurve, knob_curve, taper_name, with_taper
from sublatch.parts.knobs.trim import LEAST_GROUND_OHM, LEAST_OHM, MOST_OHM, NOTHING_DB, exact_trim_ohm, taken_out_db
from sublatch.signal.unity import volume_gain_db

EVENER_DB = 0.5
"""A pot is not worth exchanging for steps that differ by less than this less."""
MOST_ADDED_DB = 12.0
"""More gain in the output buffer makes its noise and what it picks up loud. Common practice, no source."""
COSTS = {"output.pot.taper": 2, "output.trim_resistor": 1, "output.ground_resistor": 1}
"""How much work an exchange is: a pot is that of two resistors."""


@dataclass(frozen=True)
class VolumeWay:
    """A pot and a resistor that put unity where it is wanted.

    Attributes
    ----------
    taper, midpoint
        Of the volume pot.
    trim_ohm, ground_ohm
        The trim resistor, None for none, and the resistor to ground that sets the output buffer's gain; E24 values.
    off_db
        How far from unity the effect is at the wanted position, in dB.
    added_db
        Gain that the output buffer has more than it had, in dB.
    steepest_db, gentlest_db
        Steps of the volume knob within 30 dB of full.
    exchanged
        The settings of parts that differ from those there are.
    """

    taper: Taper
    midpoint: float
    trim_ohm: float | None
    ground_ohm: float
    off_db: float
    added_db: float
    steepest_db: float
    gentlest_db: float
    exchanged: tuple[str, ...]

    @property
    def pot(self) -> str:
        """The taper in words."""
        return taper_name(self.taper, self.midpoint)

    @property
    def spread_db(self) -> float:
        """How much the steepest step and the gentlest differ."""
        return self.steepest_db - self.gentlest_db

    @property
    def twitchy(self) -> bool:
        """Whether a step is steeper than is pleasant."""
        return self.steepest_db > TWITCHY["dB"]

    @property
    def faults(self) -> tuple[bool, bool]:
        """Whether it needs more gain than is good, and whether it is twitchy."""
        return self.added_db > MOST_ADDED_DB, self.twitchy

    @property
    def cost(self) -> int:
        """How much work it is."""
        return sum(COSTS[path] for path in self.exchanged)

    def of(self, circuit: Circuit) -> Circuit:
        """Return a circuit with this pot and these resistors."""
        taper = "output.pot.taper" in self.exchanged
        changed = with_taper(circuit, "volume", self.taper, self.midpoint) if taper else circuit
        values = {"output.trim_resistor": self.trim_ohm, "output.ground_resistor": self.ground_ohm}
        return with_settings(changed, {path: value for path, value in values.items() if path in self.exchanged})

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the fields, and what to think of it."""
        return {**vars(self), "spread_db": self.spread_db, "twitchy": self.twitchy}


def volume_ways(circuit: Circuit, *, position: float, full_db: float) -> tuple[VolumeWay, ...]:
    """Return the pots and resistors that put unity at a position of the volume knob, the best first.

    Parameters
    ----------
    circuit
        The circuit.
    position
        Where unity shall be, above 0 to 10.
    full_db
        Effect against bypassed with the knob fully clockwise, as the circuit is, in dB.

    Notes
    -----
    One way for the pot's own taper and for each that is sold. First come those that need no more gain than
    `MOST_ADDED_DB`, and of these those that are not twitchy; then those that exchange the least, where no other taper
    is needed to be as even as the best to `EVENER_DB`; then the most even. So the pot stays where its own taper will
    do. Levels are those of the network at 1 kHz.
    """
    own = circuit.output.pot
    tracks = [(own.taper, own.midpoint), *(track for track in TRACKS if _is_other(track, circuit))]
    ways = [_way(circuit, taper, midpoint, position, full_db) for taper, midpoint in tracks]
    found = [way for way in ways if way is not None]
    return tuple(sorted(found, key=lambda way: _rank(way, found)))


def _is_other(track: tuple[Taper, float], circuit: Circuit) -> bool:
    """Return whether a taper is not the pot's own."""
    own = circuit.output.pot
    return track[0] != own.taper or (own.taper != "linear" and track[1] != own.midpoint)


def _rank(way: VolumeWay, ways: Sequence[VolumeWay]) -> tuple[tuple[bool, bool], int, float]:
    """Return by what ways are sorted: no fault, then little work where evenness differs little, then evenness."""
    best = min(one.spread_db for one in ways if one.faults == way.faults)
    as_even = way.spread_db <= best + EVENER_DB or "output.pot.taper" not in way.exchanged
    return way.faults, way.cost if as_even else way.cost + 1, way.spread_db


def _way(circuit: Circuit, taper: Taper, midpoint: float, position: float, full_db: float) -> VolumeWay | None:
    """Return the way with a taper; None where no resistors put unity there."""
    plain = with_settings(circuit, {"output.trim_resistor": None})
    if _is_other((taper, midpoint), circuit):
        plain = with_taper(plain, "volume", taper, midpoint)
    excess_db = full_db + volume_gain_db(plain, position) - volume_gain_db(circuit, FULL_TURN)
    made = _with_trim(plain, position, excess_db) if excess_db >= -NOTHING_DB else _with_gain(plain, excess_db)
    if made is None:
        return None
    off_db = full_db + volume_gain_db(made, position) - volume_gain_db(circuit, FULL_TURN)
    curve: KnobCurve = knob_curve(made, "volume")
    if curve.steepest_per_step is None or curve.gentlest_per_step is None:
        return None
    output, before = made.output, circuit.output
    gains = [1.0 + one.feedback_resistor / one.ground_resistor for one in (output, before)]
    return VolumeWay(
        taper=taper,
        midpoint=midpoint,
        trim_ohm=output.trim_resistor,
        ground_ohm=output.ground_resistor,
        off_db=off_db,
        added_db=20.0 * log10(gains[0] / gains[1]),
        steepest_db=curve.steepest_per_step,
        gentlest_db=curve.gentlest_per_step,
        exchanged=_exchanged(circuit, made),
    )


def _with_trim(plain: Circuit, position: float, excess_db: float) -> Circuit | None:
    """Return a circuit with the E24 trim resistor that takes out a gain at a position, none where there is nothing."""
    exact_ohm = exact_trim_ohm(plain, position, excess_db)
    if excess_db < NOTHING_DB or exact_ohm is None:
        return plain if excess_db < NOTHING_DB else None
    near = {preferred.nearest(exact_ohm), preferred.below(exact_ohm), preferred.above(exact_ohm)}
    best = min(sorted(near), key=lambda ohm: abs(taken_out_db(plain, position, ohm) - excess_db))
    return with_settings(plain, {"output.trim_resistor": min(max(best, LEAST_OHM), MOST_OHM)})


def _with_gain(plain: Circuit, excess_db: float) -> Circuit | None:
    """Return a circuit whose output buffer has the gain that is missing, by an E24 value; None where none has."""
    output = plain.output
    gain = (1.0 + output.feedback_resistor / output.ground_resistor) * 10.0 ** (-excess_db / 20.0)
    ohm = preferred.nearest(output.feedback_resistor / (gain - 1.0))
    return with_settings(plain, {"output.ground_resistor": ohm}) if ohm >= LEAST_GROUND_OHM else None


def _exchanged(before: Circuit, after: Circuit) -> tuple[str, ...]:
    """Return the settings of parts that differ: the pot by its taper, the trim resistor, the buffer's to ground."""
    old, new = before.output, after.output
    differs = {
        "output.pot.taper": (old.pot.taper, old.pot.midpoint) != (new.pot.taper, new.pot.midpoint),
        "output.trim_resistor": old.trim_resistor != new.trim_resistor,
        "output.ground_resistor": old.ground_resistor != new.ground_resistor,
    }
    return tuple(path for path, is_other in differs.items() if is_other)
