"""Whether a start resistor across each gang of a swept filter's pot is worth its two parts, and which one.

It makes the low end hang less on the pot, whose tolerance is the widest of all, and lets a pot be larger than the sweep
needs. For that the knob does less at its beginning and more near its end. How many boards stay within the limits is
worked out in closed form here, with ideal op-amps, since many sets are compared (the solver takes half a second for
20 000 boards); what is told of the chosen one comes from the solver, with its op-amps' bandwidth.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from sublatch.arrays import Array
from sublatch.circuit.components.controls import PEAKS
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.filters.kinds import kind_named
from sublatch.parts.choose.curves import second_order_corner, second_order_peak_db
from sublatch.parts.choose.ranking import hard_count
from sublatch.parts.choose.swept_search import Stock, Sweep, SweptParts, across, best_taper, swept_sets
from sublatch.parts.knobs.travel import TWITCHY
from sublatch.parts.tolerance import BOARDS, Limits, board_draws
from sublatch.parts.variation import Terms, drawn, terms

MORE_BOARDS = 0.05
"""What two more parts must bring: this share of the boards more within the limits, or else…"""
LESS_MISS = 0.1
"""…a largest miss that is this much smaller, in its units; as much larger it may be where more boards are within."""
ALIKE = 0.02
"""Shares of boards no further apart than this are alike, and the nearer set comes first."""
STEEPER = 1.1
"""By how much the knob's steepest step may grow for the sake of the boards: a knob that turns well comes first."""
FEW_BOARDS = 1000
"""Boards that sets are first told apart by; their standard error is 0.016 at most, the draws the same for all."""
NEARER = 1.25
"""By how much the largest miss is let up, again and again, until something is found."""
ENDS = (0.0, FULL_TURN)


def started(sweep: Sweep, stock: Stock, plain: SweptParts | None, *, share: Callable[..., float]) -> list[SweptParts]:
    """Return the sets with a start resistor that are worth it, the best first.

    Parameters
    ----------
    sweep, stock
        What is asked for, and what can be bought.
    plain
        The best set without one; None where none is near enough.
    share
        `share_within` with the sweep, tolerances and limits: the share of a set's boards, which may be given a number.

    Notes
    -----
    Two more parts are worth it where the set is as easily bought and the steepest step of the knob at most a tenth
    steeper, and either 5 more boards of 100 stay within the limits while the largest miss grows by no more than a tenth
    of one, or the largest miss falls by a tenth and no fewer boards stay within; else the set with fewer parts comes
    first.
    """
    if plain is None:
        return _smoothest(swept_sets(sweep, stock, with_start=True), stock)
    most, hard = min(1.0, max(plain.misses) + LESS_MISS), hard_count(plain, stock)
    sets = swept_sets(sweep, stock, most_miss=most, with_start=True)
    as_easy = [parts for parts in sets if hard_count(parts, stock) <= hard]
    smooth = _best_smooth(as_easy, stock, steepest=STEEPER * _steepest(plain, stock))

    def boards_and_rank(parts: SweptParts) -> tuple[float, ...]:
        return (-round(share(parts, boards=FEW_BOARDS) / ALIKE), *parts.rank)

    by_share = sorted(smooth, key=boards_and_rank)
    needed = share(plain)
    nearer = [parts for parts in smooth if max(parts.misses) <= max(plain.misses) - LESS_MISS]
    for parts, more in (*((surest, MORE_BOARDS) for surest in by_share[:1]), *((near, 0.0) for near in nearer)):
        if share(parts) >= needed + more:
            return [parts]
    return []


def nearest(sweep: Sweep, stock: Stock, plain: Sequence[SweptParts]) -> list[SweptParts]:
    """Return the sets that come nearest where none is near enough; with a start resistor if that is worth it."""
    most, limit = 1.0, max(plain[0].misses) - LESS_MISS if plain else NEARER**8
    while most < limit:
        most = min(NEARER * most, limit)
        if sets := swept_sets(sweep, stock, most_miss=most, with_start=True):
            return sets
    return list(plain)


def share_within(
    parts: SweptParts, sweep: Sweep, *, tolerances: Tolerances, limits: Limits, boards: int = BOARDS, seed: int = 0
) -> float:
    """Return the share of boards with a set of parts that stay within the limits at every setting, 0 to 1.

    Parameters
    ----------
    parts
        The set.
    sweep
        What the boards are held against.
    tolerances, limits
        Tolerances of the parts, and how far a board may be off.
    boards, seed
        How many boards, and which; the same boards as those of `spread`.
    """
    chosen = parts.filter(sweep.kind)
    made: list[Terms] = [terms(chosen, tolerances, tone=tone, peak=peak) for peak in PEAKS for tone in ENDS]
    draws = board_draws(made, boards, seed, distribution=tolerances.distribution)
    within = np.ones(boards, dtype=bool)
    for setting, (hertz, peak_db) in zip(made, sweep.wished, strict=True):
        corner, peak = corner_and_peak(sweep.kind, drawn(setting, draws, boards))
        within &= np.abs(corner / hertz - 1.0) <= limits.corner_share
        within &= np.abs(peak - peak_db) <= limits.peak_db
    return float(np.mean(within))


def corner_and_peak(kind: str, values: Mapping[str, Array]) -> tuple[Array, Array]:
    """Return corner in hertz and peak in dB of swept filters (n,) in closed form.

    Parameters
    ----------
    kind
        Their kind.
    values
        The values of their networks' parts by name (n,).
    """
    first, second = (values[f"{gang}_end"] + _gang(values, gang) for gang in ("first", "second"))
    natural_hz, q = kind_named(kind).swept_search.natural_and_q(first, second, values)
    return natural_hz * second_order_corner(q), second_order_peak_db(q)


def pot_counts(parts: SweptParts) -> float:
    """Return how much of a small error of the pot's track is left in the corner at the low end, as a share.

    Notes
    -----
    d ln(Re + Rp ∥ Rs) / d ln Rp = (Rp ∥ Rs)² / Rp / (Re + Rp ∥ Rs); Rp / (Re + Rp) without a start resistor.
    """
    gang = across(parts.pot_ohm, parts.start_ohm)
    return gang * gang / parts.pot_ohm / (parts.end_ohm + gang)


def _gang(values: Mapping[str, Array], gang: str) -> Array | float:
    """Return a gang with the resistor across it, where the network has them apart."""
    if f"{gang}_gang" not in values:
        return 0.0
    return across(values[f"{gang}_gang"], values[f"{gang}_start"])


def _best_smooth(sets: Sequence[SweptParts], stock: Stock, *, steepest: float) -> list[SweptParts]:
    """Return for each pot with each start resistor the best set whose knob has no steeper step, the best first."""
    best: dict[tuple[float, float | None], SweptParts] = {}
    for parts in sets:
        key = (parts.pot_ohm, parts.start_ohm)
        if key not in best and _steepest(parts, stock) <= steepest:
            best[key] = parts
    return list(best.values())


def _steepest(parts: SweptParts, stock: Stock) -> float:
    """Return how many octaves the steepest step of the knob covers, with the taper that suits the parts."""
    return best_taper(parts.pot_ohm, parts.end_ohm, stock, start_ohm=parts.start_ohm)[1]


def _smoothest(sets: Sequence[SweptParts], stock: Stock) -> list[SweptParts]:
    """Return the sets whose knob is not twitchy, all of them where it always is."""
    smooth = [parts for parts in sets if _steepest(parts, stock) <= TWITCHY["octaves"]]
    return smooth or list(sets)
