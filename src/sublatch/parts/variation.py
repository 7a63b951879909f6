"""What varies from board to board in an output filter: each physical part, and how it enters the network.

A part's value is uniform within its tolerance, or normal with the tolerance for three standard deviations. Sold parts
crowd nearer to their nominal value more often than not, so uniform is the careful assumption; no part is taken to be
outside its tolerance. At either end of its travel a pot leaves a little resistance, anything up to a limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal, get_args

import numpy as np
from scipy.special import ndtr, ndtri

from sublatch.arrays import Array
from sublatch.circuit.components.controls import Peak, Pot
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.parts import CapacitorPair, FixedCapacitor, FixedResistor, Rheostat
from sublatch.circuit.networks.solver import LEAST_OHM
from sublatch.errors import CircuitError, nearest_hint
from sublatch.units import format_ohms

GANG_SHARE = 0.2
"""How far the two gangs of a dual pot are apart at most; makers promise about 2 dB (common practice, no source)."""
POT_END_OHM = 150.0
"""Most that a pot leaves at either end of its travel. Data sheets of carbon pots with a body of 16 mm promise from 10 Ω
to 150 Ω, or a per cent of the track (from memory)."""
MOST_END_OHM = 1e3
MOST_END_SHARE = 0.1
"""However small its track, a pot leaves no more than this share of it."""
SIGMAS = 3.0
"""Standard deviations in a tolerance of normal parts: ±3 σ is what a maker's process is held to (common practice, no
source), and what lies outside is sorted out."""
Distribution = Literal["uniform", "normal"]
MOST_SHARE = 0.5


@dataclass(frozen=True)
class Tolerances:
    """How far parts may be off, and how they are spread within that.

    Attributes
    ----------
    capacitor, resistor, pot
        How far a part may be off, as a share of its nominal value; a pot's is that of its whole track.
    gang
        How far the gangs of one pot may be apart, as a share.
    pot_end_ohm
        Most that each gang of a pot leaves at either end of its travel, 0 Ω to 1 kΩ.
    distribution
        ``uniform`` or ``normal`` within the tolerance, the latter with the tolerance for three standard deviations.
        What a pot leaves at its ends is uniform from 0 Ω to its limit in both.
    """

    capacitor: float = 0.1
    resistor: float = 0.05
    pot: float = 0.2
    gang: float = GANG_SHARE
    pot_end_ohm: float = POT_END_OHM
    distribution: Distribution = "uniform"

    def __post_init__(self) -> None:
        if not 0.0 <= self.pot_end_ohm <= MOST_END_OHM:
            raise CircuitError(
                f"what a pot leaves at its ends must be 0 Ω to {format_ohms(MOST_END_OHM)}, got {self.pot_end_ohm:g} Ω"
            )
        known = get_args(Distribution)
        if self.distribution not in known:
            hint = nearest_hint(str(self.distribution), known)
            raise CircuitError(f"a distribution must be {' or '.join(known)}, got {self.distribution!r}{hint}")
        for name, share in self.shares.items():
            if not 0.0 <= share <= MOST_SHARE:
                hint = f"; was it meant as {share:g} %?" if 1.0 <= share <= 100 * MOST_SHARE else ""
                what = "the gangs' mismatch" if name == "gang" else f"the {name}s' tolerance"
                raise CircuitError(f"{what} must be 0 % to {100 * MOST_SHARE:g} %, got {100 * share:g} %{hint}")

    @property
    def shares(self) -> dict[str, float]:
        """What is a share of a nominal value, by name."""
        return {"capacitor": self.capacitor, "resistor": self.resistor, "pot": self.pot, "gang": self.gang}


@dataclass(frozen=True)
class Term:
    """A part of a value: a nominal amount, times one plus a share for each cause, and what a pot's ends add.

    Attributes
    ----------
    nominal
        In ohms or farads.
    causes
        By the name of a physical part, or of the distance between two gangs: its tolerance, negative for the gang that
        falls when another rises.
    ends
        By the name of an end of a pot's travel: the most that it adds, in ohms; negative where it takes away.
    across_ohm
        A resistor across it all; None without one.
    """

    nominal: float
    causes: Mapping[str, float]
    ends: Mapping[str, float] = field(default_factory=dict)
    across_ohm: float | None = None


Terms = Mapping[str, tuple[Term, ...]]
"""By the name of a part in the network: the terms that add up to its value."""


def terms(chosen: FilterKind, tolerances: Tolerances, *, tone: float | None, peak: Peak | None) -> Terms:
    """Return what the network's parts are made of at these knob and switch positions."""
    made: dict[str, tuple[Term, ...]] = {}
    gangs = chosen.wired.rheostats
    for part in chosen.wired.parts:
        if isinstance(part, Rheostat):
            gang = gangs.index(part) + 1 if len(gangs) > 1 else 0
            made |= _rheostat_terms(part, gang, tolerances, tone=tone)
            continue
        name, cause = part.name or part.role, part.name or f"filter.{part.role}"
        if isinstance(part, FixedResistor):
            made[name] = (Term(part.ohm, {cause: tolerances.resistor}),)
        elif isinstance(part, FixedCapacitor):
            made[name] = (Term(part.farad, {cause: tolerances.capacitor}),)
        elif isinstance(part, CapacitorPair):
            assert peak is not None
            cause += f" {peak}" if part.name else f".{peak}"
            made[name] = (Term(part.value.at(peak), {cause: tolerances.capacitor}),)
    return made


def _rheostat_terms(part: Rheostat, gang: int, tolerances: Tolerances, *, tone: float | None) -> Terms:
    """Return what a gang and its resistors are made of; a start resistor leaves its gang a part of its own."""
    which = f" ({gang})" if gang else ""
    cause = f"{part.name} end resistor" if part.name else f"filter.{part.settings[1]}{which}"
    end = Term(part.end_ohm, {cause: tolerances.resistor})
    track = _track(part.pot, gang, tolerances, above=part.gang_ohm(tone))
    if part.start_ohm is None:
        return {part.name or part.end: (end, track)}
    if track.nominal == 0.0:  # a wire in the network, and whatever the pot leaves has the start resistor across it
        return {part.end: (end, replace(track, across_ohm=part.start_ohm))}
    start = Term(part.start_ohm, {f"filter.{part.settings[2]}{which}": tolerances.resistor})
    return {
        part.gang: (replace(track, nominal=max(track.nominal, LEAST_OHM)),),
        part.start: (start,),
        part.end: (end,),
    }


def _track(pot: Pot, gang: int, tolerances: Tolerances, *, above: float) -> Term:
    """Return a gang of the tone pot; gangs 1 and 2 share what parts them, further ones have their own.

    Gang 0 is the only one.
    """
    causes = {"filter.pot": tolerances.pot}
    if gang in (1, 2):
        causes["filter.pot gangs"] = tolerances.gang / 2 * (1 if gang == 1 else -1)
    elif gang:
        causes[f"filter.pot gang {gang}"] = tolerances.gang / 2
    most, share = left_at_ends(pot, tolerances.pot_end_ohm), above / pot.value
    which = f" ({gang})" if gang else ""
    ends = {
        f"filter.pot clockwise end{which}": most * (1.0 - share),
        f"filter.pot anticlockwise end{which}": -most * share,
    }
    return Term(above, causes, {name: ohm for name, ohm in ends.items() if ohm != 0.0})


def left_at_ends(pot: Pot, limit_ohm: float) -> float:
    """Return the most that a pot leaves at either end of its travel, in ohms: the limit, or a tenth of a small track.

    Parameters
    ----------
    pot
        The pot.
    limit_ohm
        What the data sheet promises.

    Notes
    -----
    The track's resistance holds from end to end, the ends included, so with a share s of the track below the wiper the
    resistance above it is R (1 − s) + s b − (1 − s) a, with a left at the anticlockwise end and b at the other.
    """
    return min(limit_ohm, MOST_END_SHARE * pot.value)


def spread_draws(order: Array, distribution: Distribution) -> Array:
    """Return numbers between −1 and 1, as parts are spread within their tolerance.

    Parameters
    ----------
    order
        Shares of all parts that lie below (n,), each between 0 and 1.
    distribution
        How parts are spread; normal ones are cut off at ±1, three standard deviations.
    """
    if distribution == "uniform":
        return 2.0 * order - 1.0
    below = ndtr(-SIGMAS)
    return np.asarray(ndtri(below + order * (1.0 - 2.0 * below)) / SIGMAS)


def drawn(made: Terms, draws: Mapping[str, Array], boards: int) -> dict[str, Array]:
    """Return the value of each part on each board (n,), from draws between −1 and 1 by cause."""
    values = {}
    for name, parts in made.items():
        total = np.zeros(boards)
        for term in parts:
            value = np.full(boards, term.nominal)
            for cause, share in term.causes.items():
                value *= 1.0 + share * draws[cause]
            for end, ohm in term.ends.items():
                value += ohm * (1.0 + draws[end]) / 2.0
            total += value if term.across_ohm is None else value * term.across_ohm / (value + term.across_ohm)
        values[name] = total
    return values
