"""The search for a swept filter's parts: every set that can be bought and comes near enough, in order of its misses.

The network solver gives the curve of each pair of capacitors once: resistances move its corner as 1 / R and nothing
else. So for each pot and end resistor the pairs that fit lie in one stretch of a list sorted by corner, and nothing
that fits is left out. A start resistor across each gang makes the sweep that of a smaller pot.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeVar

import numpy as np

from sublatch.arrays import Array
from sublatch.circuit.components.controls import Pot, SwitchedCapacitor
from sublatch.circuit.components.pots import AUDIO_MIDPOINT, FULL_TURN, Taper, wiper_resistances
from sublatch.circuit.components.preferred import values_between
from sublatch.circuit.components.sold import (
    DUAL_POTS_OHM,
    LEAST_FARAD,
    MOST_FARAD,
    USUAL_CAPACITORS,
    USUAL_RESISTORS,
)
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.kinds import kind_named
from sublatch.circuit.networks.corners import corners_and_peaks
from sublatch.circuit.networks.elements import Resistor
from sublatch.circuit.networks.solver import solve_boards
from sublatch.circuit.networks.transfer import Boards
from sublatch.parts.choose.curves import departure_db, q_of_peak, second_order
from sublatch.parts.knobs.travel import HALF_STEPS
from sublatch.units import format_ohms

T = TypeVar("T", float, Array)
Pair = tuple[float, float]
Values = str | tuple[float, ...]
"""The name of a series, or values in ohms or farads."""

CORNER_MISS, APART_MISS, CURVE_MISS_DB = 0.10, 0.05, 0.5
"""What counts as one miss: a corner 10 % off, the corners of the switch 5 % apart, a curve 0.5 dB off."""
LEAST_END_OHM, MOST_END_OHM = 1e3, 1e6
"""Two in a row are the 2 kΩ that op-amps are specified to drive; larger ones make hum and noise."""
START_RANGE = 10.0
"""A start resistor is from a tenth of the track to ten times it.

Smaller, the knob does all in its last step; larger, it takes less than a tenth off what the pot's tolerance does.
"""
HANDY_POT_OHM = 50e3
"""Of two sets with the same misses, the one whose pot is nearer to this by ratio comes first."""
SOLVED_OHM = 10e3
"""Resistance with which all pairs of capacitors are solved: their roots are then at audio frequencies."""
TAPERS: tuple[Taper, ...] = ("linear", "reverse-log", "log")


@dataclass(frozen=True)
class Sweep:
    """What a swept filter is to do.

    Attributes
    ----------
    low_hz, high_hz
        Corner with the tone knob at 0 and at 10, in both positions of the peak switch.
    peak_db, flat_peak_db
        Peak in the two positions; 0 dB is the maximally flat curve, not any duller one.
    kind
        The kind of filter that does it, one with a `swept_search`.
    """

    low_hz: float
    high_hz: float
    peak_db: float
    flat_peak_db: float = 0.0
    kind: str = "swept-second-order"

    @property
    def wished(self) -> list[tuple[float, float]]:
        """Corner and peak at both ends of the knob, flat and peaked."""
        return [(hertz, peak) for peak in (self.flat_peak_db, self.peak_db) for hertz in (self.low_hz, self.high_hz)]

    @property
    def ratio(self) -> float:
        """How many times higher the upper end is."""
        return self.high_hz / self.low_hz


@dataclass(frozen=True)
class Stock:
    """What can be bought.

    Attributes
    ----------
    pots_ohm
        Values of the pot's track.
    tapers
        Its tapers.
    midpoint
        Share of the track below the wiper at half rotation, for the log tapers.
    capacitors, resistors
        Names of their series, or their values.
    """

    pots_ohm: tuple[float, ...] = DUAL_POTS_OHM
    tapers: tuple[Taper, ...] = TAPERS
    midpoint: float = AUDIO_MIDPOINT
    capacitors: Values = USUAL_CAPACITORS
    resistors: Values = USUAL_RESISTORS

    @property
    def words(self) -> str:
        """What there is, in words."""
        pot = f", a pot of {format_ohms(self.pots_ohm[0])}" if len(self.pots_ohm) == 1 else ""
        return f"{_named(self.capacitors)} capacitors{pot} and {_named(self.resistors)} end resistors"


@dataclass(frozen=True)
class SweptParts:
    """One set of parts, and how far it is from what was asked for.

    Attributes
    ----------
    pot_ohm, end_ohm
        The track of each gang and the fixed resistor in series with it.
    start_ohm
        The fixed resistor across each gang; None without one.
    flat_farad, peaked_farad
        The kind's two capacitors in the two positions of the switch.
    misses
        Corner at 0 and at 10, flat, then the same peaked; the two corners' distance; curve flat and peaked: all each
        in units of `CORNER_MISS`, `APART_MISS` and `CURVE_MISS_DB`.
    """

    pot_ohm: float
    end_ohm: float
    flat_farad: Pair
    peaked_farad: Pair
    misses: tuple[float, ...]
    start_ohm: float | None = None

    def filter(self, kind: str) -> FilterKind:
        """Return a filter of a kind with these parts, its pot linear and all other settings as they come."""
        resistors = {"end_resistor": self.end_ohm, "start_resistor": self.start_ohm}
        farads = zip(kind_named(kind).swept_search.capacitors, self.flat_farad, self.peaked_farad, strict=True)
        capacitors = {name: SwitchedCapacitor(flat=flat, peaked=peaked) for name, flat, peaked in farads}
        settings: dict[str, Any] = {"pot": Pot(value=self.pot_ohm), **resistors, **capacitors}
        return kind_named(kind)(**settings)

    @property
    def rank(self) -> tuple[float, float, float, float]:
        """What sets are sorted by: the largest miss, then all of them, then how handy the pot is."""
        handy = abs(float(np.log(self.pot_ohm / HANDY_POT_OHM)))
        return (round(max(self.misses), 6), round(sum(self.misses), 6), round(handy, 6), self.pot_ohm)


@dataclass(frozen=True, eq=False)
class _Pairs:
    """Pairs of capacitors that give a wanted peak, by rising corner at 1 Ω.

    Attributes
    ----------
    farad
        The kind's two capacitors (n, 2).
    corner_hz_ohm
        Corner times resistance (n,).
    curve_miss
        How far the curve is off (n,), in units of `CURVE_MISS_DB`.
    """

    farad: Array
    corner_hz_ohm: Array
    curve_miss: Array

    def between(self, low: float, high: float) -> _Pairs:
        """Return the pairs whose corner at 1 Ω is within these limits."""
        first = bisect_left(self.corner_hz_ohm, low)
        some = slice(first, bisect_right(self.corner_hz_ohm, high, lo=first))
        return _Pairs(self.farad[some], self.corner_hz_ohm[some], self.curve_miss[some])


def swept_sets(sweep: Sweep, stock: Stock, *, most_miss: float = 1.0, with_start: bool = False) -> list[SweptParts]:
    """Return all sets of parts without a miss above `most_miss`, the best first.

    Parameters
    ----------
    sweep
        What is asked for.
    stock
        What can be bought.
    most_miss
        The largest miss that is let through, in its units.
    with_start
        Whether each gang has a start resistor across it; all sets do then, and else none.
    """
    flat = _pairs(sweep.kind, stock.capacitors, sweep.flat_peak_db, most_miss)
    peaked = _pairs(sweep.kind, stock.capacitors, sweep.peak_db, most_miss)
    sets = [
        parts
        for pot_ohm in stock.pots_ohm
        for start_ohm in (start_resistors(pot_ohm, stock.resistors) if with_start else (None,))
        for end_ohm in end_resistors(
            across(pot_ohm, start_ohm), sweep.ratio, series=stock.resistors, off=CORNER_MISS * most_miss
        )
        for parts in _sets(sweep, pot_ohm, start_ohm, float(end_ohm), flat, peaked, most_miss)
    ]
    return sorted(sets, key=lambda parts: parts.rank)


def values_of(values: Values, low: float, high: float) -> Array:
    """Return the values of a series, or of those that there are, between limits (n,), rising."""
    if isinstance(values, str):
        return values_between(low, high, values)
    return np.array([value for value in sorted(values) if low <= value <= high])


def _named(values: Values) -> str:
    """Return where values come from, in a word."""
    return values if isinstance(values, str) else "your"


def start_resistors(pot_ohm: float, series: Values) -> tuple[float, ...]:
    """Return the resistors that can be put across the gangs of a pot."""
    return tuple(values_of(series, pot_ohm / START_RANGE, pot_ohm * START_RANGE).tolist())


def across(gang_ohm: T, start_ohm: T | float | None) -> T:
    """Return the resistance of a gang, or of many (n,), with a start resistor across it: Rg Rs / (Rg + Rs)."""
    return gang_ohm if start_ohm is None else gang_ohm * start_ohm / (gang_ohm + start_ohm)


def end_resistors(pot_ohm: float, ratio: float, *, series: Values, off: float) -> Array:
    """Return the end resistors with which a pot sweeps a ratio when both ends may be off by a share."""
    least, most = (ratio * (1 - off) / (1 + off), ratio * (1 + off) / (1 - off)) if off < 1 else (1.0, np.inf)
    low = max(pot_ohm / (most - 1.0), LEAST_END_OHM)
    high = min(pot_ohm / (least - 1.0) if least > 1.0 else np.inf, MOST_END_OHM)
    values, same = _resistors(series), 1e-9
    return values[(values >= low * (1.0 - same)) & (values <= high * (1.0 + same))]


@cache
def _resistors(series: Values) -> Array:
    """Return the end resistors of a series."""
    return values_of(series, LEAST_END_OHM, MOST_END_OHM)


@cache
def best_taper(pot_ohm: float, end_ohm: float, stock: Stock, *, start_ohm: float | None = None) -> tuple[Taper, float]:
    """Return the taper whose steepest step covers the fewest octaves, and how many those are."""
    steepest = {
        taper: float(
            np.max(octaves_per_step(pot_ohm, end_ohm, taper=taper, midpoint=stock.midpoint, start_ohm=start_ohm))
        )
        for taper in stock.tapers
    }
    taper = min(steepest, key=lambda name: steepest[name])
    return taper, steepest[taper]


def octaves_per_step(
    pot_ohm: float, end_ohm: float, *, taper: Taper, midpoint: float, start_ohm: float | None = None
) -> Array:
    """Return how many octaves each step of the tone knob covers, from each whole and half position on (19,)."""
    gang = wiper_resistances(pot_ohm, HALF_STEPS, taper=taper, midpoint=midpoint)[1]
    series = end_ohm + across(gang, start_ohm)
    return np.asarray(np.log2(series[:-2] / series[2:]))


def _pairs(kind: str, series: Values, peak_db: float, most_miss: float) -> _Pairs:
    """Return the pairs of capacitors whose curve is near enough."""
    farad, boards, corner_hz = _solved_pairs(kind, series)
    curve_miss = departure_db(boards, corner_hz, second_order(q_of_peak(peak_db))) / CURVE_MISS_DB
    near = np.flatnonzero(curve_miss <= most_miss)
    order = near[np.argsort(corner_hz[near], kind="stable")]
    return _Pairs(farad[order], corner_hz[order] * SOLVED_OHM, curve_miss[order])


@cache
def _solved_pairs(kind: str, series: Values) -> tuple[Array, Boards, Array]:
    """Return all pairs of capacitors of a series (n, 2), solved with `SOLVED_OHM` as each resistance, and corners."""
    values = values_of(series, LEAST_FARAD, MOST_FARAD)
    farad = np.stack([grid.ravel() for grid in np.meshgrid(values, values, indexing="ij")], axis=1)
    some = (float(values[0]), float(values[0]))
    network = SweptParts(HANDY_POT_OHM, SOLVED_OHM, some, some, ()).filter(kind).network(tone=FULL_TURN, peak="flat")
    ohm = {part.name: np.full(len(farad), part.ohm) for part in network.parts if isinstance(part, Resistor)}
    boards = solve_boards(network, ohm | dict(zip(kind_named(kind).swept_search.capacitors, farad.T, strict=True)))
    return farad, boards, corners_and_peaks(boards).corner_hz


def _sets(
    sweep: Sweep,
    pot_ohm: float,
    start_ohm: float | None,
    end_ohm: float,
    flat: _Pairs,
    peaked: _Pairs,
    most_miss: float,
) -> Iterator[SweptParts]:
    """Give the sets of parts with this pot, start and end resistor."""
    whole_ohm, off = across(pot_ohm, start_ohm) + end_ohm, CORNER_MISS * most_miss
    both = (sweep.low_hz * whole_ohm, sweep.high_hz * end_ohm)
    low, high = (1 - off) * max(both), (1 + off) * min(both)
    flat, peaked = (pairs.between(low, high) for pairs in (flat, peaked))
    if not (len(flat.farad) and len(peaked.farad)):
        return
    ends, wanted = np.array([whole_ohm, end_ohm]), np.array([sweep.low_hz, sweep.high_hz])
    corners = [np.abs(one.corner_hz_ohm[:, np.newaxis] / ends / wanted - 1.0) / CORNER_MISS for one in (flat, peaked)]
    apart = np.abs(peaked.corner_hz_ohm / flat.corner_hz_ohm[:, np.newaxis] - 1.0) / APART_MISS
    for i, j in np.argwhere(apart <= most_miss):
        misses = (*corners[0][i], *corners[1][j], apart[i, j], flat.curve_miss[i], peaked.curve_miss[j])
        flat_farad, peaked_farad = tuple(flat.farad[i].tolist()), tuple(peaked.farad[j].tolist())
        yield SweptParts(pot_ohm, end_ohm, flat_farad, peaked_farad, tuple(map(float, misses)), start_ohm)
