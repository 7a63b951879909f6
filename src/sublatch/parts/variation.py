"""What varies from board to board in an output filter: each physical part, and how it enters the network.

A part's value is uniform within its tolerance, or normal with the tolerance for three standard deviations. Sold parts
crowd nearer to their nominal value more often than not, so uniform is the careful assumption; no part is taken to be
outside its tolerance. At either end of its travel a pot leaves a little resistance, anything up to a limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import ndtr, ndtri

from sublatch.arrays import Array
from sublatch.circuit.components.controls import Peak, Pot
from sublatch.circuit.components.tolerances import MOST_END_SHARE, SIGMAS, Distribution, Tolerances
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.parts import CapacitorPair, FixedCapacitor, FixedResistor, Rheostat
from sublatch.circuit.networks.solver import LEAST_OHM


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
