"""The search for a filter without knob or switch: all sets of parts that are sold and come near, the best first."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from sublatch.arrays import Array, Flags
from sublatch.circuit.components.preferred import values_between
from sublatch.circuit.filters.third_order import THIRD_ORDER_CAPACITORS
from sublatch.parts.choose.curves import departure_db, third_order_corner, third_order_curve
from sublatch.parts.choose.swept_search import CORNER_MISS, CURVE_MISS_DB, LEAST_FARAD, MOST_FARAD

LEAST_OHM, MOST_OHM = 2.2e3, 220e3
"""Series resistors that neither load an op-amp nor make much hum and noise (common practice, no source)."""
HANDY_OHM = 33e3
"""Of two sets with the same misses, the one whose resistor is nearer to this by ratio comes first."""
UP_TO_CORNERS = 2.0
"""A third-order curve is compared up to an octave above its corner: below it, lower orders look much the same."""
AROUND = 1.5
"""Capacitors are tried up to so many times smaller and larger than the textbook's."""


@dataclass(frozen=True)
class FixedParts:
    """One set of parts, and how far it is from what was asked for.

    Attributes
    ----------
    ohm
        Each of the series resistors.
    farad
        The capacitors from the input on; one for a first-order filter, three for a third-order one.
    misses
        Corner, and for a third order the curve too, in units of `CORNER_MISS` and `CURVE_MISS_DB`.
    """

    ohm: float
    farad: tuple[float, ...]
    misses: tuple[float, ...]

    @property
    def rank(self) -> tuple[float, float, float, float]:
        """What sets are sorted by: the largest miss, then all of them, then how handy the resistor is."""
        handy = abs(float(np.log(self.ohm / HANDY_OHM)))
        return (round(max(self.misses), 6), round(sum(self.misses), 6), round(handy, 6), self.ohm)


def first_order_sets(corner_hz: float, *, capacitors: str, resistors: str, most_miss: float = 1.0) -> list[FixedParts]:
    """Return all resistors and capacitors without a miss above `most_miss`, the best first.

    Parameters
    ----------
    corner_hz
        The corner, 1/(2π R C).
    capacitors, resistors
        Names of their series.
    most_miss
        The largest miss that is let through.
    """
    ohm, farad = np.meshgrid(
        values_between(LEAST_OHM, MOST_OHM, resistors), values_between(LEAST_FARAD, MOST_FARAD, capacitors)
    )
    miss = np.abs(1.0 / (2 * np.pi * ohm * farad) / corner_hz - 1.0) / CORNER_MISS
    found = [FixedParts(float(ohm[at]), (float(farad[at]),), (float(miss[at]),)) for at in _places(miss <= most_miss)]
    return sorted(found, key=lambda parts: parts.rank)


def third_order_sets(
    corner_hz: float, *, shape: str, capacitors: str, resistors: str, most_miss: float = 1.0
) -> list[FixedParts]:
    """Return all sets of equal resistors and three capacitors without a miss above `most_miss`, the best first.

    Parameters
    ----------
    corner_hz
        The corner.
    shape
        One of `THIRD_ORDER_CAPACITORS`.
    capacitors, resistors
        Names of their series.
    most_miss
        The largest miss that is let through.
    """
    wanted = third_order_curve(*THIRD_ORDER_CAPACITORS[shape])
    wanted_corner = float(third_order_corner(wanted))
    found = []
    for ohm in values_between(LEAST_OHM, MOST_OHM, resistors):
        farad = _near_textbook(float(ohm), corner_hz, shape, capacitors)
        curve = third_order_curve(*(2 * np.pi * corner_hz * ohm * farad.T))  # a corner of 1 rad/s is the wanted one
        corner = third_order_corner(curve)
        corner_miss = np.abs(corner - 1.0) / CORNER_MISS
        near = np.flatnonzero(corner_miss <= most_miss)
        curve_miss = departure_db(curve[near], corner[near], wanted, wanted_corner, up_to_corners=UP_TO_CORNERS)
        for place, miss in zip(near, curve_miss / CURVE_MISS_DB, strict=True):
            if miss <= most_miss:
                values = tuple(float(value) for value in farad[place])
                found.append(FixedParts(float(ohm), values, (float(corner_miss[place]), float(miss))))
    return sorted(found, key=lambda parts: parts.rank)


def _near_textbook(ohm: float, corner_hz: float, shape: str, capacitors: str) -> Array:
    """Return all sets of three capacitors around those of the textbook (n, 3), in farads."""
    ideal = np.array(THIRD_ORDER_CAPACITORS[shape]) / (2 * np.pi * corner_hz * ohm)
    low, high = np.maximum(ideal / AROUND, LEAST_FARAD), np.minimum(ideal * AROUND, MOST_FARAD)
    if np.any(low > high):
        return np.zeros((0, 3))
    choices = [values_between(float(a), float(b), capacitors) for a, b in zip(low, high, strict=True)]
    return np.array(list(product(*choices)), dtype=float).reshape(-1, 3)


def _places(mask: Flags) -> list[tuple[int, ...]]:
    """Return the indices at which a mask is true."""
    return [tuple(int(i) for i in place) for place in np.argwhere(mask)]
