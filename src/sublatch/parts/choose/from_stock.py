"""Sets of parts from what the user owns: which need no order, and what an order of one part gains.

Three searches besides that of what is owned alone let one sort of part be bought: the pot, the resistors or the
capacitors. Of what they find, sets that need one order are kept. Only where none of these comes near is everything
bought.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from operator import attrgetter
from typing import Generic, TypeVar

from sublatch.circuit.components.pots import AUDIO_MIDPOINT, Taper
from sublatch.circuit.components.sold import LEAST_FARAD, MOST_FARAD, hard_pot, hard_resistor
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.filters.kinds import kind_named
from sublatch.circuit.filters.parts import FixedResistor
from sublatch.parts.choose.bins import SAME, Bin, Kind
from sublatch.parts.choose.fixed_search import FixedParts
from sublatch.parts.choose.swept_search import Stock, Sweep, SweptParts, Values, best_taper, swept_sets, values_of
from sublatch.parts.knobs.travel import TWITCHY
from sublatch.units import format_farads, format_ohms

METER_SHARE = 0.01
"""How far a measured value may be off: what a plain meter promises (common practice, no source)."""
JUDGED = 30
"""Sets of each number of orders whose boards are counted, the nearest first."""
SHARE_STEP = 0.05
"""Shares of boards no further apart than this count as one, as without a stock."""
Part = tuple[Kind, float]
P = TypeVar("P", SweptParts, FixedParts)


@dataclass(frozen=True)
class Order:
    """Parts of one value to buy.

    Attributes
    ----------
    kind, value
        What, in ohms or farads.
    quantity
        How many.
    taper
        Of a pot with two gangs.
    """

    kind: Kind
    value: float
    quantity: int
    taper: Taper = "linear"

    @property
    def words(self) -> str:
        """It in a few words."""
        value = (format_farads if self.kind == "capacitor" else format_ohms)(self.value)
        what = f"{value} dual-gang {self.taper} pot" if self.kind == "pot" else f"{value} {self.kind}"
        return what if self.quantity == 1 else f"{self.quantity} × {what}"

    @property
    def hard(self) -> str | None:
        """Why it is hard to buy, in words; None where it is not."""
        if self.kind == "pot":
            return hard_pot(self.value, taper=self.taper, midpoint=AUDIO_MIDPOINT, gangs=2)
        return hard_resistor(self.value) if self.kind == "resistor" else None


def hard_orders(orders: Iterable[Order]) -> tuple[str, ...]:
    """Return what of orders is hard to buy, in words."""
    return tuple(one.hard for one in orders if one.hard is not None)


@dataclass(frozen=True)
class Offer(Generic[P]):
    """A set of parts, what it was found among, and what of it must be bought."""

    parts: P
    stock: Stock
    orders: tuple[Order, ...]

    @property
    def hard(self) -> tuple[str, ...]:
        """What of the orders is hard to buy, in words."""
        return hard_orders(self.orders)

    @property
    def is_twitchy(self) -> bool:
        """Whether a step of the tone knob covers too much."""
        if isinstance(self.parts, FixedParts):
            return False
        _, steepest = best_taper(self.parts.pot_ohm, self.parts.end_ohm, self.stock, start_ohm=self.parts.start_ohm)
        return steepest > TWITCHY["octaves"]

    @property
    def rank(self) -> tuple[object, ...]:
        """What offers are sorted by before their boards are counted."""
        return len(self.orders), self.is_twitchy, len(self.hard), self.parts.rank


@dataclass(frozen=True)
class Owned:
    """What is owned, as searches and orders need it.

    Attributes
    ----------
    bins
        What lies in the bins.
    """

    bins: tuple[Bin, ...]

    def values(self, kind: Kind) -> tuple[float, ...]:
        """Return the values that there are of resistors or capacitors, rising."""
        return tuple(sorted({one.actual for one in self.bins if one.kind == kind}))

    @cached_property
    def capacitors(self) -> tuple[float, ...]:
        """Those that a search takes, in farads."""
        return tuple(one for one in self.values("capacitor") if LEAST_FARAD <= one <= MOST_FARAD)

    def pots(self, sale: Stock, *, any_pot: bool) -> dict[Taper, tuple[float, ...]]:
        """Return the dual-gang pots by taper, those alone that may be taken, in ohms."""
        found: dict[Taper, tuple[float, ...]] = {}
        for one in self.bins:
            wanted = any_pot or any(_same(one.value, pot) for pot in sale.pots_ohm)
            if one.kind == "pot" and one.gangs == 2 and one.taper in sale.tapers and wanted:
                found[one.taper] = (*found.get(one.taper, ()), one.actual)
        return found

    def orders(self, needs: Mapping[Part, int], taper: Taper = "linear") -> tuple[Order, ...]:
        """Return what must be bought of parts and how many of each are needed."""
        missing = []
        for (kind, value), count in needs.items():
            here = self._bins_of(kind, value, taper)
            if any(one.quantity is None for one in here):
                continue
            left = count - sum(one.quantity or 0 for one in here)
            if left > 0:
                missing.append(Order(kind, value, left, taper))
        return tuple(missing)

    def tolerances(self, needs: Iterable[Part], usual: Tolerances, taper: Taper = "linear") -> Tolerances:
        """Return the tolerances of parts, by kind the widest of those that are used.

        A measured part is off by what its meter is, one with a tolerance in the file by that, any other as usual.
        """
        widest: dict[str, float] = {}
        for kind, value in needs:
            share = usual.shares[kind]
            here = [_share_off(one, share) for one in self._bins_of(kind, value, taper)] or [share]
            widest[kind] = max(widest.get(kind, 0.0), *here)
        known = usual.shares | widest
        return replace(usual, capacitor=known["capacitor"], resistor=known["resistor"], pot=known["pot"])

    def _bins_of(self, kind: Kind, value: float, taper: Taper) -> list[Bin]:
        """Return the bins that hold a part."""
        return [
            one
            for one in self.bins
            if one.kind == kind
            and _same(one.actual, value)
            and (kind != "pot" or (one.gangs == 2 and one.taper == taper))
        ]


def swept_offers(
    sweep: Sweep, sale: Stock, owned: Owned, *, any_pot: bool, most_miss: float
) -> list[Offer[SweptParts]]:
    """Return sets for a swept filter that need no order, or of one part, the fewest orders and the nearest first.

    Parameters
    ----------
    sweep
        What is asked for.
    sale
        What can be bought.
    owned
        What is owned.
    any_pot
        Whether any pot will do, or only those of `sale`.
    most_miss
        The largest miss that is let through.
    """
    found: dict[SweptParts, Offer[SweptParts]] = {}
    for stock, with_start in _searches(sale, owned, any_pot=any_pot):
        for parts in swept_sets(sweep, stock, most_miss=most_miss, with_start=with_start):
            offer = swept_offer(parts, sweep, stock, owned)
            kept = found.get(parts)
            if len(offer.orders) <= 1 and (kept is None or len(offer.orders) < len(kept.orders)):
                found[parts] = offer
    return sorted(found.values(), key=attrgetter("rank"))


def swept_offer(parts: SweptParts, sweep: Sweep, stock: Stock, owned: Owned) -> Offer[SweptParts]:
    """Return a set for a swept filter with what must be bought of it."""
    taper, _ = best_taper(parts.pot_ohm, parts.end_ohm, stock, start_ohm=parts.start_ohm)
    return Offer(parts, stock, owned.orders(swept_needs(parts, sweep.kind), taper))


def swept_needs(parts: SweptParts, kind: str) -> Counter[Part]:
    """Return how many of each part a swept filter takes."""
    needs: Counter[Part] = Counter({("pot", parts.pot_ohm): 1})
    needs["resistor", parts.end_ohm] += 2
    if parts.start_ohm is not None:
        needs["resistor", parts.start_ohm] += 2
    for farad in (*parts.flat_farad, *parts.peaked_farad):
        needs["capacitor", farad] += 1
    for part in kind_named(kind)().wired.parts:
        if isinstance(part, FixedResistor):
            needs["resistor", part.ohm] += 1
    return needs


def fixed_needs(parts: FixedParts, kind: str) -> Counter[Part]:
    """Return how many of each part a filter without knob or switch takes."""
    needs: Counter[Part] = Counter({("resistor", parts.ohm): len(kind_named(kind).search.resistors)})
    for farad in parts.farad:
        needs["capacitor", farad] += 1
    return needs


def fixed_offers(
    search: Callable[[Values, Values], Sequence[FixedParts]],
    kind: str,
    owned: Owned,
    *,
    resistors: str,
    capacitors: str,
) -> list[Offer[FixedParts]]:
    """Return sets for a filter without knob or switch that need no order, or of one part; see `swept_offers`.

    Parameters
    ----------
    search
        Gives the sets among resistors and capacitors.
    kind
        The kind of filter.
    owned
        What is owned.
    resistors, capacitors
        Names of the series that can be bought.
    """
    ours, both = owned.capacitors, _with_series(owned.capacitors, capacitors)
    ohms = owned.values("resistor")
    found = {
        parts: Offer(parts, Stock(), orders)
        for pair in ((ohms, ours), (resistors, ours), (ohms, both))
        if all(pair)
        for parts in search(*pair)
        if len(orders := owned.orders(fixed_needs(parts, kind))) <= 1
    }
    return sorted(found.values(), key=attrgetter("rank"))


def best_offers(
    offers: Iterable[Offer[P]], *, key: Callable[[P], object], share: Callable[[Offer[P]], float] | None = None
) -> list[Offer[P]]:
    """Return the best offer for each value of a part, those without an order first.

    Parameters
    ----------
    offers
        The offers, the fewest orders and the nearest first.
    key
        What tells sets with equally many orders apart: of those with the same only one is kept.
    share
        The share of an offer's boards that stay within the limits; not minded when not given.
    """
    best: dict[tuple[int, object], Offer[P]] = {}
    for offer in offers:
        best.setdefault((len(offer.orders), key(offer.parts)), offer)
    judged: list[Offer[P]] = []
    for count in sorted({len(one.orders) for one in best.values()}):
        judged += [one for one in best.values() if len(one.orders) == count][:JUDGED]

    def order(one: Offer[P]) -> tuple[object, ...]:
        within = 0 if share is None else -round(share(one) / SHARE_STEP)
        return (*one.rank[:-1], within, one.rank[-1])

    return sorted(judged, key=order)


def _searches(sale: Stock, owned: Owned, *, any_pot: bool) -> Iterator[tuple[Stock, bool]]:
    """Yield what is searched among, and whether with start resistors: what is owned, with one sort of part bought."""
    ours, resistors = owned.capacitors, owned.values("resistor")
    both = _with_series(ours, str(sale.capacitors))
    for taper, pots in owned.pots(sale, any_pot=any_pot).items():
        own = replace(sale, pots_ohm=pots, tapers=(taper,))
        for caps, ohms in ((ours, resistors), (ours, sale.resistors), (both, resistors)):
            if caps and ohms:
                stock = replace(own, capacitors=caps, resistors=ohms)
                yield from ((stock, with_start) for with_start in {False, ohms == resistors})
    if ours and resistors:
        yield replace(sale, capacitors=ours, resistors=resistors), False


def _with_series(ours: tuple[float, ...], series: str) -> tuple[float, ...]:
    """Return what is owned with what of a series is not."""
    sold = values_of(series, LEAST_FARAD, MOST_FARAD).tolist()
    return tuple(sorted({*ours, *(farad for farad in sold if not any(_same(farad, own) for own in ours))}))


def _share_off(one: Bin, usual: float) -> float:
    """Return how far a part from a bin may be off, as a share."""
    if one.tolerance is not None:
        return one.tolerance
    return usual if one.measured is None else METER_SHARE


def _same(one: float, other: float) -> bool:
    """Return whether two values are one."""
    return abs(one / other - 1.0) <= SAME
