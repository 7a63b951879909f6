"""What varies from board to board in an output filter: each physical part, and how it enters the network.

A part's value is spread evenly over its tolerance. Sold parts crowd nearer to their nominal value more often than not,
so an even spread is the careful assumption; no part is taken to be outside its tolerance.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sublatch.circuit.controls import Peak
from sublatch.circuit.filters import Filter, OwnNetwork, SweptSecondOrder
from sublatch.circuit.network import Capacitor, Resistor
from sublatch.circuit.own_network import OwnRheostat, OwnSwitchedCapacitor
from sublatch.errors import CircuitError

Array = NDArray[np.float64]

GANG_SHARE = 0.2
"""How far the two gangs of a dual pot are apart at most; makers promise about 2 dB (common practice, no source)."""
MOST_SHARE = 0.5
SETTINGS = {
    "first-order": {"R1": "resistor", "C1": "capacitor"},
    "second-order": {
        "R1": "first_resistor",
        "R2": "second_resistor",
        "C1": "ground_capacitor",
        "C2": "feedback_capacitor",
    },
    "third-order": {
        "R1": "first_resistor",
        "R2": "second_resistor",
        "R3": "third_resistor",
        "C1": "first_ground_capacitor",
        "C2": "feedback_capacitor",
        "C3": "second_ground_capacitor",
    },
    "swept-second-order": {"C1": "ground_capacitor", "C2": "feedback_capacitor"},
}
"""The setting of the circuit file that each part of a ready-made network comes from, by its name there."""


@dataclass(frozen=True)
class Shares:
    """Tolerances, as shares of the nominal value.

    Attributes
    ----------
    capacitor, resistor, pot
        How far a part may be off; a pot's is that of its whole track.
    gang
        How far the gangs of one pot may be apart.
    """

    capacitor: float = 0.1
    resistor: float = 0.05
    pot: float = 0.2
    gang: float = GANG_SHARE

    def __post_init__(self) -> None:
        for name, share in vars(self).items():
            if not 0.0 <= share <= MOST_SHARE:
                hint = f"; was it meant as {share:g} %?" if 1.0 <= share <= 100 * MOST_SHARE else ""
                what = "the gangs' mismatch" if name == "gang" else f"the {name}s' tolerance"
                raise CircuitError(f"{what} must be 0 % to {100 * MOST_SHARE:g} %, got {100 * share:g} %{hint}")


@dataclass(frozen=True)
class Term:
    """A part of a value: a nominal amount, times one plus a share for each cause.

    Attributes
    ----------
    nominal
        In ohms or farads.
    causes
        By the name of a physical part, or of the distance between two gangs: its tolerance, negative for the gang that
        falls when another rises.
    """

    nominal: float
    causes: Mapping[str, float]


Terms = Mapping[str, tuple[Term, ...]]
"""By the name of a part in the network: the terms that add up to its value."""


def terms(chosen: Filter, shares: Shares, *, tone: float | None, peak: Peak | None) -> Terms:
    """Return what the network's parts are made of at these knob and switch positions."""
    if isinstance(chosen, OwnNetwork):
        return _own_terms(chosen, shares, tone=tone, peak=peak)
    names = SETTINGS.get(chosen.kind, {})
    made: dict[str, tuple[Term, ...]] = {}
    for part in chosen.network(tone=tone, peak=peak).parts:
        if isinstance(part, Capacitor):
            position = f".{peak}" if isinstance(chosen, SweptSecondOrder) else ""
            made[part.name] = (Term(part.farad, {f"filter.{names[part.name]}{position}": shares.capacitor}),)
        elif isinstance(part, Resistor) and isinstance(chosen, SweptSecondOrder):
            assert tone is not None
            made[part.name] = _swept_terms(chosen, part, shares, tone=tone)
        elif isinstance(part, Resistor):
            made[part.name] = (Term(part.ohm, {f"filter.{names[part.name]}": shares.resistor}),)
    return made


def _swept_terms(chosen: SweptSecondOrder, part: Resistor, shares: Shares, *, tone: float) -> tuple[Term, ...]:
    """Return what a resistance of the swept filter is made of; a start resistor leaves its gang a part of its own."""
    gang = int(part.name[-1])
    end, track = _rheostat(
        chosen.end_resistor, chosen.pot.resistances(tone)[1], f"filter.end_resistor ({gang})", gang, shares
    )
    if chosen.start_resistor is None:
        return end, track
    if part.name.startswith("RV"):
        return (Term(part.ohm, track.causes),)
    if part.name.startswith("RS"):
        return (Term(part.ohm, {f"filter.start_resistor ({gang})": shares.resistor}),)
    return (end,)


def _own_terms(chosen: OwnNetwork, shares: Shares, *, tone: float | None, peak: Peak | None) -> Terms:
    """Return the same for a network of the user's own, whose rheostats are the gangs of one pot."""
    made: dict[str, tuple[Term, ...]] = {}
    gangs = [part.name for part in chosen.parts if isinstance(part, OwnRheostat)]
    for part in chosen.parts:
        placed = part.placed(tone=tone, peak=peak)
        if isinstance(part, OwnRheostat):
            assert tone is not None
            gang = gangs.index(part.name) + 1 if len(gangs) > 1 else 0
            track = part.pot.resistances(tone)[1]
            made[part.name] = _rheostat(part.end_resistor, track, f"{part.name} end resistor", gang, shares)
        elif isinstance(placed, Capacitor):
            position = f" {peak}" if isinstance(part, OwnSwitchedCapacitor) else ""
            made[part.name] = (Term(placed.farad, {f"{part.name}{position}": shares.capacitor}),)
        elif isinstance(placed, Resistor):
            made[part.name] = (Term(placed.ohm, {part.name: shares.resistor}),)
    return made


def _rheostat(end_ohm: float, track_ohm: float, end_name: str, gang: int, shares: Shares) -> tuple[Term, Term]:
    """Return a gang in series with its end resistor; gangs 1 and 2 share what parts them, further ones have their own.

    Gang 0 is the only one.
    """
    track = {"filter.pot": shares.pot}
    if gang in (1, 2):
        track["filter.pot gangs"] = shares.gang / 2 * (1 if gang == 1 else -1)
    elif gang:
        track[f"filter.pot gang {gang}"] = shares.gang / 2
    return (Term(end_ohm, {end_name: shares.resistor}), Term(track_ohm, track))


def drawn(made: Terms, draws: Mapping[str, Array], boards: int) -> dict[str, Array]:
    """Return the value of each part on each board (n,), from draws between −1 and 1 by cause."""
    values = {}
    for name, parts in made.items():
        total = np.zeros(boards)
        for term in parts:
            value = np.full(boards, term.nominal)
            for cause, share in term.causes.items():
                value *= 1.0 + share * draws[cause]
            total += value
        values[name] = total
    return values
