"""In which order sets of parts for a swept filter are offered: what is easily bought, then what comes out most surely.

The sets all come near what was asked for. A pot that few shops have is no help when a common one comes near too; and of
two sets as easily bought the one of whose boards five of 100 more stay within the limits comes first, however near the
other's nominal values are. A small end resistor loses there by what the pot leaves at its end.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sublatch.circuit.components.sold import hard_pot, hard_resistor
from sublatch.parts.choose.swept_search import Stock, SweptParts, best_taper

SHARE_STEP = 0.05
"""Shares of boards within the limits that are no nearer than this to each other count as different."""


def hard_count(parts: SweptParts, stock: Stock) -> int:
    """Return how many parts of a set are hard to buy.

    Parameters
    ----------
    parts
        The set.
    stock
        What tapers there are to choose from.
    """
    taper, _ = best_taper(parts.pot_ohm, parts.end_ohm, stock, start_ohm=parts.start_ohm)
    resistors = [ohm for ohm in (parts.start_ohm, parts.end_ohm) if ohm is not None]
    reasons = [hard_pot(parts.pot_ohm, taper=taper, midpoint=stock.midpoint, gangs=2), *map(hard_resistor, resistors)]
    return sum(reason is not None for reason in reasons)


def ranked(
    sets: Sequence[SweptParts],
    stock: Stock,
    *,
    key: Callable[[SweptParts], float],
    share: Callable[[SweptParts], float],
) -> list[SweptParts]:
    """Return the best set for each value of a part, the best of all first.

    Parameters
    ----------
    sets
        The sets, the nearest to what was asked for first.
    stock
        What there is to buy.
    key
        What tells sets apart: of those with the same only one is kept.
    share
        The share of a set's boards that stay within the limits, 0 to 1.
    """
    best: dict[float, SweptParts] = {}
    easiest_first = sorted(sets, key=lambda parts: hard_count(parts, stock))  # stable: within them the nearest first
    for parts in easiest_first:
        best.setdefault(key(parts), parts)
    return sorted(
        best.values(),
        key=lambda parts: (hard_count(parts, stock), -round(share(parts) / SHARE_STEP), parts.rank),
    )
