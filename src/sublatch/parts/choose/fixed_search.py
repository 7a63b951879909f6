"""The search for a filter without knob or switch: all sets of parts that are sold and come near, the best first."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from sublatch.arrays import Array
from sublatch.circuit.components.sold import LEAST_FARAD, MOST_FARAD
from sublatch.circuit.filters.base import Search
from sublatch.circuit.filters.kinds import kind_named
from sublatch.circuit.networks.corners import corners_and_peaks
from sublatch.circuit.networks.solver import Network, solve_boards
from sublatch.circuit.networks.transfer import Boards
from sublatch.parts.choose.curves import departure_db
from sublatch.parts.choose.swept_search import CORNER_MISS, CURVE_MISS_DB, Values, values_of

LEAST_OHM, MOST_OHM = 2.2e3, 220e3
"""Series resistors that neither load an op-amp nor make much hum and noise (common practice, no source)."""
HANDY_OHM = 33e3
"""Of two sets with the same misses, the one whose resistor is nearer to this by ratio comes first."""
UP_TO_CORNERS = 2.0
"""Curves are compared up to an octave above the corner: below it, lower orders look much the same."""
AROUND = 1.5
"""Capacitors are tried up to so many times smaller and larger than the textbook's."""
AT_ONCE = 20_000
"""Sets that are solved in one go, so that memory stays small."""


@dataclass(frozen=True)
class FixedParts:
    """One set of parts, and how far it is from what was asked for.

    Attributes
    ----------
    ohm
        Each of the series resistors.
    farad
        The capacitors from the input on.
    misses
        Corner, and with several capacitors the curve too, in units of `CORNER_MISS` and `CURVE_MISS_DB`.
    """

    ohm: float
    farad: tuple[float, ...]
    misses: tuple[float, ...]

    @property
    def rank(self) -> tuple[float, float, float, float]:
        """What sets are sorted by: the largest miss, then all of them, then how handy the resistor is."""
        handy = abs(float(np.log(self.ohm / HANDY_OHM)))
        return (round(max(self.misses), 6), round(sum(self.misses), 6), round(handy, 6), self.ohm)


def fixed_sets(
    corner_hz: float, *, kind: str, shape: str, capacitors: Values, resistors: Values, most_miss: float = 1.0
) -> list[FixedParts]:
    """Return all sets of equal resistors and capacitors without a miss above `most_miss`, the best first.

    Parameters
    ----------
    corner_hz
        The corner.
    kind, shape
        A kind of filter with a `search`, and one of its shapes.
    capacitors, resistors
        Names of their series, or their values.
    most_miss
        The largest miss that is let through.
    """
    search = kind_named(kind).search
    ideal = np.array(search.shapes[shape]) / (2 * np.pi * corner_hz)
    every = [_near_textbook(float(ohm), ideal, capacitors) for ohm in values_of(resistors, LEAST_OHM, MOST_OHM)]
    sets = np.concatenate([np.zeros((0, 1 + len(ideal))), *every])
    if not len(sets):
        return []
    network = kind_named(kind)().network(tone=None, peak=None)
    wanted = _solved(network, search, np.array([[HANDY_OHM, *ideal / HANDY_OHM]]))
    near_sets = []
    for some in np.array_split(sets, 1 + len(sets) // AT_ONCE):
        boards = _solved(network, search, some)
        corner = corners_and_peaks(boards).corner_hz
        corner_miss = np.abs(corner / corner_hz - 1.0) / CORNER_MISS
        near = np.flatnonzero(corner_miss <= most_miss)
        misses = [corner_miss[near]]
        if len(ideal) > 1:  # one capacitor has but one curve
            off_db = departure_db(boards.part(near), corner[near], wanted, up_to_corners=UP_TO_CORNERS)
            misses.append(off_db / CURVE_MISS_DB)
        for (ohm, *farad), missed in zip(some[near].tolist(), np.transpose(misses).tolist(), strict=True):
            if max(missed) <= most_miss:
                near_sets.append(FixedParts(ohm, tuple(farad), tuple(missed)))
    return sorted(near_sets, key=lambda parts: parts.rank)


def _near_textbook(ohm: float, ideal: Array, capacitors: Values) -> Array:
    """Return a resistor with all sets of capacitors around those of the textbook, which are for 1 Ω (n, 1 + k)."""
    low, high = np.maximum(ideal / ohm / AROUND, LEAST_FARAD), np.minimum(ideal / ohm * AROUND, MOST_FARAD)
    if np.any(low > high):
        return np.zeros((0, 1 + len(ideal)))
    choices = [values_of(capacitors, float(a), float(b)) for a, b in zip(low, high, strict=True)]
    return np.array(list(product([ohm], *choices)), dtype=float).reshape(-1, 1 + len(ideal))


def _solved(network: Network, search: Search, sets: Array) -> Boards:
    """Return the transfer functions of sets of one resistor and the capacitors (n, 1 + k)."""
    resistors = dict.fromkeys(search.resistors, sets[:, 0])
    return solve_boards(network, resistors | dict(zip(search.capacitors, sets[:, 1:].T, strict=True)))
