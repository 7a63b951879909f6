"""How far a reading may lie from what the drawing's values give, because parts are not exactly what they say.

Each part is put at either end of its tolerance, one after the other, and the changes of the reading are added as
squares. With parts uniform within their tolerances nine boards in ten or more read within that range, since
√Σ(t/√3)² is one standard deviation and the range is √3 = 1.73 of them. What a pot leaves at an end of its travel is
never less than the drawing's nothing: half of the change that its limit makes moves the range, and the other
half widens it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from sublatch.arrays import Array
from sublatch.board.netlist import Board, Component
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.components.tolerances import GANG_SHARE, POT_END_OHM, TRACK_SHARE
from sublatch.circuit.model import Circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.parts.variation import left_at_ends
from sublatch.units.scales import db_to_ratio

KNOB_STEPS = 0.25
"""How far a knob that is set by eye may be off between its ends, in steps of its scale."""

Figures = Callable[[Board, Circuit], Array]
Case = tuple[Board, Circuit]


@dataclass(frozen=True, eq=False)
class Scatter:
    """Figures in dB, and where most boards have them.

    Attributes
    ----------
    middle_db, low_db, high_db
        With the values of the drawing, and the ends of the ranges (n,).
    """

    middle_db: Array
    low_db: Array
    high_db: Array

    def widened(self, more_db: float) -> Scatter:
        """Return the figures with ranges that a further cause, of so many dB either way, has its share in."""
        low, high = (np.hypot(end - self.middle_db, more_db) for end in (self.low_db, self.high_db))
        return Scatter(self.middle_db, self.middle_db - low, self.middle_db + high)

    def of_amplitude(self, amplitude: float) -> list[tuple[float, float, float]]:
        """Return an amplitude raised by each figure: middle, low and high."""
        raised = (amplitude * db_to_ratio(ends) for ends in (self.middle_db, self.low_db, self.high_db))
        return [(float(middle), float(low), float(high)) for middle, low, high in zip(*raised, strict=True)]


def scatter(figures_db: Figures, board: Board, positions: Circuit, *, blocks: tuple[str, ...]) -> Scatter:
    """Return figures and their ranges.

    Parameters
    ----------
    figures_db
        The figures in dB (n,), of a board and of the circuit that says where its knobs and switches stand.
    board, positions
        The board as drawn, and the positions.
    blocks
        The parts of the board whose components matter.
    """
    middle = figures_db(board, positions)
    below, above = np.zeros_like(middle), np.zeros_like(middle)
    for cases in _cases(board, positions, blocks):
        changes = np.array([figures_db(*case) - middle for case in cases])
        below += np.minimum(changes.min(axis=0), 0.0) ** 2
        above += np.maximum(changes.max(axis=0), 0.0) ** 2
    moved = np.zeros_like(middle)
    for leaving_most in _pots_leaving_most(board, blocks):
        half = (figures_db(leaving_most, positions) - middle) / 2.0
        moved, below, above = moved + half, below + half**2, above + half**2
    low, high = middle + moved - np.sqrt(below), middle + moved + np.sqrt(above)
    return Scatter(middle, np.minimum(low, middle), np.maximum(high, middle))


def tolerance_share(part: Component) -> float:
    """Return a part's tolerance as a share of its value."""
    return float(part.tolerance.removesuffix("%")) / 100.0


def _cases(board: Board, positions: Circuit, blocks: tuple[str, ...]) -> Iterator[tuple[Case, Case]]:
    """Yield the two ends of each cause."""
    for part in board.components:
        if part.block in blocks and part.amount is not None and part.pot is None:
            share = tolerance_share(part)
            low, high = (_scaled(board, {part.reference: factor}) for factor in (1.0 - share, 1.0 + share))
            yield (low, positions), (high, positions)
    for pot in board.ganged("pot"):
        if pot[0].block not in blocks:
            continue
        gangs = [gang.reference for gang in pot]
        low, high = (_scaled(board, dict.fromkeys(gangs, factor)) for factor in (1.0 - TRACK_SHARE, 1.0 + TRACK_SHARE))
        yield (low, positions), (high, positions)
        if len(gangs) > 1:
            steps = (GANG_SHARE / 2, -GANG_SHARE / 2)
            low, high = (_scaled(board, {gangs[0]: 1.0 - step, gangs[1]: 1.0 + step}) for step in steps)
            yield (low, positions), (high, positions)
    for block, knob, at in (("filter", "tone", positions.tone), ("direct", "direct_tone", positions.direct_tone)):
        if block in blocks and at is not None and 0.0 < at < FULL_TURN:
            off = (max(at - KNOB_STEPS, 0.0), min(at + KNOB_STEPS, FULL_TURN))
            less, more = (with_settings(positions, {f"knobs.{knob}": position}) for position in off)
            yield (board, less), (board, more)


def _pots_leaving_most(board: Board, blocks: tuple[str, ...]) -> Iterator[Board]:
    """Yield the board with a pot that leaves the most it may, one end of one gang after the other."""
    for part in board.components:
        if part.pot is not None and part.block in blocks:
            most = left_at_ends(part.pot, POT_END_OHM)
            for left in ((most, 0.0), (0.0, most)):
                changed = replace(part, left_ohm=left)
                components = (changed if other is part else other for other in board.components)
                yield replace(board, components=tuple(components))


def _scaled(board: Board, factors: dict[str, float]) -> Board:
    """Return a board some of whose parts' values are multiplied."""
    components = (_scaled_part(part, factors.get(part.reference, 1.0)) for part in board.components)
    return replace(board, components=tuple(components))


def _scaled_part(part: Component, factor: float) -> Component:
    """Return a part with its value times a factor."""
    if factor == 1.0 or part.amount is None:
        return part
    pot = None if part.pot is None else part.pot.model_copy(update={"value": part.pot.value * factor})
    return replace(part, amount=part.amount * factor, pot=pot)
