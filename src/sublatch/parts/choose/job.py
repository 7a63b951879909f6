"""Choosing parts: from the corner and peak that one liked to what can be bought for them.

The network solver finds sets of parts from the curves of all capacitors that are sold, and measures every one that is
told of once more, as it is. They are ranked by their largest miss: a corner 10 % off counts as much as the switch's two
corners 5 % apart, or as a curve 0.5 dB off the one asked for; of two with the same largest miss the one with the
smaller sum comes first. With a pot, sets that are easily bought come before that, then those of which more boards come
out as meant (see `ranked`). A start resistor across each gang is two parts more, and comes first only where it is worth
them (see `started`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, TypeVar

import numpy as np

from sublatch import units
from sublatch.circuit.filters.parts import FixedResistor
from sublatch.circuit.load import load_circuit
from sublatch.circuit.networks.solver import transfer
from sublatch.parts.choose.choice import Choice, Found, LowEnd, Setting
from sublatch.parts.choose.fixed_search import FixedParts, fixed_search, fixed_sets
from sublatch.parts.choose.ranking import ranked
from sublatch.parts.choose.request import (
    BASE,
    ChooseFixedRequest,
    ChooseRequest,
    Kind,
    check_fixed,
    check_sweep,
    nothing_near,
)
from sublatch.parts.choose.start_resistor import FEW_BOARDS, PEAKS, nearest, pot_counts, share_within, started
from sublatch.parts.choose.swept_search import Stock, Sweep, SweptParts, best_taper, swept_sets
from sublatch.parts.knobs.headroom import headroom
from sublatch.parts.knobs.judgement import InHand, least_in_hand
from sublatch.parts.tolerance import Limits, Wanted, spread, wanted_of
from sublatch.parts.variation import Tolerances
from sublatch.signal.chain import output_sources
from sublatch.signal.unity import tone_take, unity, with_volume_found

P = TypeVar("P", SweptParts, FixedParts)
WIDER = (2.0, 4.0, 8.0, 16.0, 32.0)
"""Largest misses that are let through, one after the other, to tell what comes nearest where nothing is near enough."""


def choose(request: ChooseRequest) -> Choice:
    """Return parts for a second-order filter swept by a dual-gang pot, with a switch for its peak.

    Parameters
    ----------
    request
        What is asked for.

    Raises
    ------
    CircuitError
        When what is asked for is out of range, or no parts that are sold come near it.

    Notes
    -----
    What is kept between the switch's positions, to 5 %, is the corner (3.01 dB down) and not the natural frequency,
    which falls by up to a third: the corner is where the treble ends, so that the switch adds a peak and not brightness
    too. Ends are the pot's own: at 10 the end resistor is all that is left of each gang; at 0 a start resistor, where
    there is one, is across all of its track.
    """
    sweep, stock = request.sweep, check_sweep(request)
    tolerances, limits = request.tolerances, request.limits
    key = _end if request.pot_ohm is not None else _pot

    def few(parts: SweptParts) -> float:
        return share_within(parts, sweep, tolerances=tolerances, limits=limits, boards=FEW_BOARDS)

    sets, near = _first_found(lambda most: swept_sets(sweep, stock, most_miss=most))
    plain = ranked(sets, stock, key=key, share=few) if near else sets
    first = started(sweep, stock, plain[0] if near else None, tolerances=tolerances, limits=limits)
    if not near and not first:
        sets = nearest(sweep, stock, sets)
        raise nothing_near(sweep, stock, [_swept(parts, sweep, stock) for parts in sets[:1]], sets)
    distinct = [*first[:1], *plain] if near else ranked(first, stock, key=key, share=few)

    def measured(parts: SweptParts) -> Found:
        share = share_within(parts, sweep, tolerances=tolerances, limits=limits)
        return replace(_swept(parts, sweep, stock), share_within=share)

    found = [measured(parts) for parts in distinct[: request.alternatives + 1]]
    without = share_within(plain[0], sweep, tolerances=tolerances, limits=limits) if near and first else None
    return _chosen(found, tolerances, limits, without=without, in_hand=_in_hand(found[0], request.base))


def choose_fixed(request: ChooseFixedRequest) -> Choice:
    """Return parts for a filter without knob or switch.

    Parameters
    ----------
    request
        What is asked for.

    Raises
    ------
    CircuitError
        When what is asked for is out of range, or no parts that are sold come near it.
    """
    check_fixed(request)
    corner_hz, kind = request.corner_hz, request.kind
    shape = request.shape if kind == "third-order" else "butterworth"
    series = {"capacitors": request.capacitors, "resistors": request.resistors}
    sets, near = _first_found(lambda most: fixed_sets(corner_hz, kind=kind, shape=shape, most_miss=most, **series))
    if not near:
        raise nothing_near(corner_hz, request.capacitors, [_fixed(parts, corner_hz, kind) for parts in sets[:1]], sets)
    distinct = _distinct(sets, lambda parts: parts.ohm)
    found = [_fixed(parts, corner_hz, kind) for parts in distinct[: request.alternatives + 1]]
    return _chosen(found, request.tolerances, request.limits)


def _first_found(search: Callable[[float], Sequence[P]]) -> tuple[Sequence[P], bool]:
    """Return the sets that are near enough, and true; else the nearest ones, and false."""
    sets = search(1.0)
    if sets:
        return sets, True
    for most in WIDER:
        if sets := search(most):
            break
    return sets, False


def _distinct(sets: Sequence[P], key: Callable[[P], float]) -> list[P]:
    """Return the best set for each value of a part, the best first."""
    best: dict[float, P] = {}
    for parts in sets:
        best.setdefault(key(parts), parts)
    return list(best.values())


def _end(parts: SweptParts) -> float:
    """Return what tells sets with a given pot apart."""
    return parts.end_ohm


def _pot(parts: SweptParts) -> float:
    """Return what tells sets with any pot apart."""
    return parts.pot_ohm


def _swept(parts: SweptParts, sweep: Sweep, stock: Stock) -> Found:
    """Return a set of parts for a swept filter, measured."""
    taper, steepest = best_taper(parts.pot_ohm, parts.end_ohm, stock, start_ohm=parts.start_ohm)
    made = parts.filter(sweep.kind).wired
    changes = {
        "filter.kind": sweep.kind,
        "filter.pot.value": _ohms(parts.pot_ohm),
        "filter.pot.taper": taper,
        "filter.pot.midpoint": stock.midpoint,
        "filter.end_resistor": _ohms(parts.end_ohm),
        **{f"filter.{part.role}": _ohms(part.ohm) for part in made.parts if isinstance(part, FixedResistor)},
        **{f"filter.{pair.role}.{at}": _farads(pair.value.at(at)) for pair in made.pairs for at in PEAKS},
    }
    if taper == "linear":
        del changes["filter.pot.midpoint"]
    if parts.start_ohm is not None:
        changes["filter.start_resistor"] = _ohms(parts.start_ohm)
    corners, peaks = (sweep.low_hz, sweep.high_hz), {"flat": sweep.flat_peak_db, "peaked": sweep.peak_db}
    low_end = LowEnd(pot_counts(parts), pot_counts(replace(parts, start_ohm=None)))
    return _measured(changes, corners, peaks, miss=max(parts.misses), steepest=steepest, low_end=low_end)


def _fixed(parts: FixedParts, corner_hz: float, kind: Kind) -> Found:
    """Return a set of parts for a filter without knob or switch, measured."""
    ohm, farad = _ohms(parts.ohm), map(_farads, parts.farad)
    search = fixed_search(kind)
    values = zip((*search.resistors, *search.capacitors), (*[ohm] * len(search.resistors), *farad), strict=True)
    changes = {"filter.kind": kind, **{f"filter.{name}": value for name, value in values}}
    return _measured(changes, (corner_hz,), {None: 0.0}, miss=max(parts.misses), steepest=None)


def _measured(
    changes: dict[str, str | float],
    corners_hz: Sequence[float],
    peaks_db: Mapping[Any, float],
    *,
    miss: float,
    steepest: float | None,
    low_end: LowEnd | None = None,
) -> Found:
    """Return a set of parts with what the network solver finds that it gives."""
    circuit = load_circuit(BASE, changes=changes)
    wished = [(corner_hz, peak_db) for peak_db in peaks_db.values() for corner_hz in corners_hz]
    settings = []
    for is_there, (corner_hz, peak_db) in zip(wanted_of(circuit), wished, strict=True):
        poles = transfer(circuit.filter.network(tone=is_there.tone, peak=is_there.peak)).poles
        natural_hz = float(np.min(np.abs(poles)) / (2 * np.pi))
        assert is_there.corner_hz is not None
        wanted = Wanted(is_there.tone, is_there.peak, corner_hz, peak_db)
        settings.append(Setting(wanted, is_there.corner_hz, is_there.peak_db, natural_hz))
    return Found(circuit, changes, tuple(settings), miss, steepest, low_end)


def _chosen(
    found: Sequence[Found],
    tolerances: Tolerances,
    limits: Limits,
    *,
    without: float | None = None,
    in_hand: InHand | None = None,
) -> Choice:
    """Return the choice whose best set comes first, with the spread of its boards."""
    best = found[0]
    boards = spread(
        best.circuit,
        tolerances=tolerances,
        limits=limits,
        wanted=[setting.wanted for setting in best.settings],
    )
    return Choice(best, tuple(found[1:]), boards, limits, without, in_hand)


def _in_hand(found: Found, base: str) -> InHand | None:
    """Return what parts leave below the supply's limits in a circuit, with the tone that stands in for a take."""
    circuit = found.circuit
    if base != BASE:
        circuit = load_circuit(base, changes=found.changes).model_copy(update={"filter": circuit.filter})
    source = output_sources(tone_take(), circuit)
    circuit = with_volume_found(source, circuit, measure="rms")
    rows = headroom(source, circuit, unity_position=unity(source, circuit, measure="rms").position)
    return least_in_hand(rows, circuit, heard=source.take.name, is_tone=True)


def _ohms(value: float) -> str | float:
    """Return a resistance as the trade writes it, or as it is where that would lose digits."""
    text = units.format_ohms(value)
    return text if units.ohms(text) == value else value


def _farads(value: float) -> str | float:
    """Return a capacitance as the trade writes it, or as it is where that would lose digits."""
    text = units.format_farads(value)
    return text if units.farads(text) == value else value
