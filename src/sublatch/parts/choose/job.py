"""Choosing parts: from the corner and peak that one liked to what can be bought for them.

The network solver finds sets of parts from the curves of all capacitors that are sold, and measures every one that is
told of once more, as it is. They are ranked by their largest miss: a corner 10 % off counts as much as the switch's two
corners 5 % apart, or as a curve 0.5 dB off the one asked for; of two with the same largest miss the one with the
smaller sum comes first. With a pot, sets that are easily bought come before that, then those of which more boards come
out as meant (see `ranked`). A start resistor across each gang is two parts more, and comes first only where it is worth
them (see `started`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from operator import attrgetter
from typing import TypeVar

import numpy as np

from sublatch import units
from sublatch.circuit.components.controls import PEAKS
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.filters.kinds import kind_named
from sublatch.circuit.filters.parts import FixedResistor
from sublatch.circuit.load import load_circuit
from sublatch.circuit.networks.solver import transfer
from sublatch.parts.choose.choice import Choice, LowEnd, MeasuredSet, Setting
from sublatch.parts.choose.fixed_search import FixedParts, fixed_sets
from sublatch.parts.choose.from_stock import (
    Offer,
    Owned,
    best_offers,
    fixed_needs,
    fixed_offers,
    swept_needs,
    swept_offer,
    swept_offers,
)
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
from sublatch.parts.choose.start_resistor import FEW_BOARDS, nearest, pot_counts, share_within, started
from sublatch.parts.choose.swept_search import Stock, Sweep, SweptParts, best_taper, swept_sets
from sublatch.parts.knobs.headroom import headroom
from sublatch.parts.knobs.judgement import InHand, least_in_hand
from sublatch.parts.tolerance import BOARDS, Wanted, network_at, spread, wanted_of
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
    if request.bins is not None:
        return _from_stock(request, stock, Owned(request.bins))
    share = partial(share_within, sweep=sweep, tolerances=request.tolerances, limits=request.limits)
    key = attrgetter("end_ohm" if len(request.pots_ohm) == 1 else "pot_ohm")
    few = partial(share, boards=FEW_BOARDS)
    sets, near = _first_found(lambda most: swept_sets(sweep, stock, most_miss=most))
    plain = ranked(sets, stock, key=key, share=few) if near else sets
    first = started(sweep, stock, plain[0] if near else None, share=share)
    if not near and not first:
        sets = nearest(sweep, stock, sets)
        raise nothing_near(stock.words, _swept(sets[0], sweep, stock) if sets else None)
    distinct = [*first[:1], *plain] if near else ranked(first, stock, key=key, share=few)
    some = distinct[: request.alternatives + 1]
    offered = [replace(_swept(parts, sweep, stock), share_within=share(parts)) for parts in some]
    without = share(plain[0]) if near and first else None
    return _chosen(offered, request, without=without, in_hand=_in_hand(offered[0], request.base))


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
    if request.bins is not None and (found := _fixed_from_stock(request, shape, Owned(request.bins))) is not None:
        return found
    sets, near = _first_found(lambda most: fixed_sets(corner_hz, kind=kind, shape=shape, most_miss=most, **series))
    if not near:
        raise nothing_near(f"{request.capacitors} capacitors", _fixed(sets[0], corner_hz, kind) if sets else None)
    best: dict[float, FixedParts] = {}
    for parts in sets:
        best.setdefault(parts.ohm, parts)
    owned = None if request.bins is None else Owned(request.bins)
    some = [*best.values()][: request.alternatives + 1]
    return _chosen([_fixed_owned(parts, request, owned) for parts in some], request)


def _from_stock(request: ChooseRequest, sale: Stock, owned: Owned) -> Choice:
    """Return parts for a swept filter, those first for which nothing must be ordered."""
    sweep = request.sweep
    offers = swept_offers(sweep, sale, owned, any_pot=not request.pots_ohm, most_miss=1.0)
    if len(offers) <= request.alternatives:
        sets, near = _first_found(lambda most: swept_sets(sweep, sale, most_miss=most))
        if not near and not offers:
            raise nothing_near(f"{sale.words}, nor any that you own,", _swept(sets[0], sweep, sale) if sets else None)
        offers += [swept_offer(parts, sweep, sale, owned) for parts in sets if near]

    def tolerances(offer: Offer[SweptParts]) -> Tolerances:
        taper, _ = best_taper(offer.parts.pot_ohm, offer.parts.end_ohm, offer.stock, start_ohm=offer.parts.start_ohm)
        return owned.tolerances(swept_needs(offer.parts, sweep.kind), request.tolerances, taper)

    def share(offer: Offer[SweptParts], boards: int = FEW_BOARDS) -> float:
        return share_within(offer.parts, sweep, tolerances=tolerances(offer), limits=request.limits, boards=boards)

    def measured(offer: Offer[SweptParts]) -> MeasuredSet:
        found = _swept(offer.parts, sweep, offer.stock)
        return replace(found, share_within=share(offer, BOARDS), orders=offer.orders)

    ordered = best_offers(offers, key=attrgetter("pot_ohm", "end_ohm"), share=share)
    one = next((offer for offer in ordered if len(offer.orders) == 1), None)
    offered = [measured(offer) for offer in ordered[: request.alternatives + 1]]
    request = replace(request, tolerances=tolerances(ordered[0]))
    chosen = _chosen(offered, request, in_hand=_in_hand(offered[0], request.base))
    return replace(chosen, gain=measured(one) if one is not None and not ordered[0].orders else None)


def _fixed_from_stock(request: ChooseFixedRequest, shape: str, owned: Owned) -> Choice | None:
    """Return parts for a filter without knob or switch with at most one order; None where none come near."""
    corner_hz, kind = request.corner_hz, request.kind
    series = {"resistors": request.resistors, "capacitors": request.capacitors}
    ordered = best_offers(
        fixed_offers(
            lambda ohms, farads: fixed_sets(corner_hz, kind=kind, shape=shape, resistors=ohms, capacitors=farads),
            kind,
            owned,
            **series,
        ),
        key=attrgetter("ohm"),
    )
    if not ordered:
        return None

    def chosen(offers: Sequence[Offer[FixedParts]]) -> Choice:
        tolerances = owned.tolerances(fixed_needs(offers[0].parts, kind), request.tolerances)
        sets = [_fixed_owned(offer.parts, request, owned) for offer in offers]
        return _chosen(sets, replace(request, tolerances=tolerances))

    best = chosen(ordered[: request.alternatives + 1])
    one = next((offer for offer in ordered if len(offer.orders) == 1), None)
    if one is None or ordered[0].orders:
        return best
    other = chosen([one])
    within = replace(other.best, share_within=other.spread.yield_share)
    return replace(best, best=replace(best.best, share_within=best.spread.yield_share), gain=within)


def _fixed_owned(parts: FixedParts, request: ChooseFixedRequest, owned: Owned | None) -> MeasuredSet:
    """Return a set of parts for a filter without knob or switch, measured, with what must be ordered of it."""
    orders = None if owned is None else owned.orders(fixed_needs(parts, request.kind))
    return replace(_fixed(parts, request.corner_hz, request.kind), orders=orders)


def _first_found(search: Callable[[float], list[P]]) -> tuple[list[P], bool]:
    """Return the sets that are near enough, and true; else the nearest ones, and false."""
    sets = search(1.0)
    near = bool(sets)
    for most in WIDER:
        sets = sets or search(most)
    return sets, near


def _swept(parts: SweptParts, sweep: Sweep, stock: Stock) -> MeasuredSet:
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
    low_end = LowEnd(pot_counts(parts), pot_counts(replace(parts, start_ohm=None)))
    return replace(_measured(changes, sweep.wished, parts.misses), steepest_octaves=steepest, low_end=low_end)


def _fixed(parts: FixedParts, corner_hz: float, kind: Kind) -> MeasuredSet:
    """Return a set of parts for a filter without knob or switch, measured."""
    ohm, farad = _ohms(parts.ohm), map(_farads, parts.farad)
    search = kind_named(kind).search
    values = zip((*search.resistors, *search.capacitors), (*[ohm] * len(search.resistors), *farad), strict=True)
    changes = {"filter.kind": kind, **{f"filter.{name}": value for name, value in values}}
    return _measured(changes, [(corner_hz, 0.0)], parts.misses)


def _measured(
    changes: dict[str, str | float], wished: Sequence[tuple[float, float]], misses: tuple[float, ...]
) -> MeasuredSet:
    """Return a set of parts with what the network solver finds that it gives, beside the corners and peaks wished."""
    circuit = load_circuit(BASE, changes=changes)
    settings = []
    for is_there, (corner_hz, peak_db) in zip(wanted_of(circuit), wished, strict=True):
        poles = transfer(network_at(circuit, tone=is_there.tone, peak=is_there.peak)).poles
        natural_hz = float(np.min(np.abs(poles)) / (2 * np.pi))
        assert is_there.corner_hz is not None
        wanted = Wanted(is_there.tone, is_there.peak, corner_hz, peak_db)
        settings.append(Setting(wanted, is_there.corner_hz, is_there.peak_db, natural_hz))
    return MeasuredSet(circuit, changes, tuple(settings), misses)


def _chosen(
    sets: Sequence[MeasuredSet],
    request: ChooseRequest | ChooseFixedRequest,
    *,
    without: float | None = None,
    in_hand: InHand | None = None,
) -> Choice:
    """Return the choice whose best set comes first, with the spread of its boards."""
    best, limits = sets[0], request.limits
    wanted = [setting.wanted for setting in best.settings]
    boards = spread(best.circuit, tolerances=request.tolerances, limits=limits, wanted=wanted)
    return Choice(best, tuple(sets[1:]), boards, limits, without, in_hand)


def _in_hand(parts: MeasuredSet, base: str) -> InHand | None:
    """Return what parts leave below the supply's limits in a circuit, with the tone that stands in for a take."""
    circuit = parts.circuit
    if base != BASE:
        circuit = load_circuit(base, changes=parts.changes).model_copy(update={"filter": circuit.filter})
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
