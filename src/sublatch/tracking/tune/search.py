"""The search itself: circuits kept by sort of detector, each new one a change to one of them, judged over boards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from sublatch.arrays import Signal
from sublatch.circuit.boards import BoardDraws
from sublatch.circuit.components.lots import lot
from sublatch.circuit.model import Circuit
from sublatch.tracking.board_parts import PERCENT
from sublatch.tracking.tune.fast_lock import Listener, TuneNote
from sublatch.tracking.tune.figures import without_steps
from sublatch.tracking.tune.variants import moved, sort_of, starting_points
from sublatch.units.scales import db_to_ratio

OPEN_STRING_WEIGHT = 2.0
POOR, POOR_WEIGHT = 0.85, 1.0
"""Lock that a note lacks below this share counts by so much more: a note that drops out is heard as a fault."""
MOST = 1.0
"""The score of a board that holds every note."""
LEVEL_DB = 6.0
"""How much softer or louder than the takes a board may be played."""
POOL = 5
"""Circuits of each sort of detector that are developed further."""
PATIENCE = (0.2, 0.003)
"""How far behind in score a sort of detector may lie and still be tried often, at the start and at the end."""
REACH = (6.0, 1.5)
"""Steps that a value moves at the start and at the end of the search."""


@dataclass(order=True)
class Found:
    """A circuit, how good it is, and how good each of its boards is (boards,)."""

    score: float
    circuit: Circuit = field(compare=False)
    boards: Signal = field(compare=False)


class Candidates:
    """The best circuits so far of each sort of detector, each step a change to one of them."""

    def __init__(
        self,
        notes: Sequence[TuneNote],
        circuit: Circuit,
        rng: np.random.Generator,
        *,
        draws: BoardDraws,
        step_weight: float = 0.0,
    ) -> None:
        self._step_weight = step_weight
        self._draws = draws
        self._listener = Listener(notes)
        self._weights = np.array([OPEN_STRING_WEIGHT if note.open_string else 1.0 for note in notes])
        self._rng = rng
        self._first = iter(starting_points(circuit))
        self._seen: set[Circuit] = set()
        self._pools: dict[object, list[Found]] = {}
        self.trials = 0

    @property
    def pool(self) -> list[Found]:
        """The best circuits so far of all sorts, the best first."""
        return sorted((found for pool in self._pools.values() for found in pool), reverse=True)

    def step(self, progress: float) -> None:
        """Try one more circuit; `progress` goes from 0 to 1."""
        fresh = (circuit for circuit in self._first if circuit not in self._seen)
        candidate = next(fresh, None) or self._another(progress)
        self._seen.add(candidate)
        pool = self._pools.setdefault(sort_of(candidate), [])
        found = self._found(candidate, pool)
        if found is not None:
            pool[:] = sorted([*pool, found], reverse=True)[:POOL]
        self.trials += 1

    def _another(self, progress: float) -> Circuit:
        """Return a circuit not tried before, most often near the best."""
        reach, patience = (ends[0] * (ends[1] / ends[0]) ** progress for ends in (REACH, PATIENCE))
        pools = list(self._pools.values())
        best = np.array([pool[0].score for pool in pools])
        chance = np.exp((best - best.max()) / patience)
        while True:
            pool = pools[self._rng.choice(len(pools), p=chance / chance.sum())]
            parent = pool[min(int(self._rng.geometric(0.5)), len(pool)) - 1]
            candidate = moved(parent.circuit, self._rng, reach=reach)
            if candidate not in self._seen:
                return candidate
            reach *= 1.1

    def _found(self, circuit: Circuit, pool: Sequence[Found]) -> Found | None:
        """Return how good a circuit is over boards; None as soon as it can no longer be one of the best.

        The boards that are the best circuit's poorest are heard first.
        """
        boards = np.full(self._draws.count, MOST)
        for place in np.argsort(pool[0].boards, kind="stable") if pool else range(len(boards)):
            boards[place] = self._on_board(circuit, self._draws.numbers[place])
            if len(pool) == POOL and score_of(boards) <= pool[-1].score:
                return None
        return Found(score_of(boards), circuit, boards)

    def _on_board(self, circuit: Circuit, number: int) -> float:
        """Return how good one board of a circuit is, played at a level of its own."""
        level = float(db_to_ratio(LEVEL_DB * lot(number, "level")))
        return self._weighed(self._draws.board(circuit, number), level=level)

    def _weighed(self, circuit: Circuit, *, level: float) -> float:
        """Return the weighted mean of the notes' lock less what steps cost, with what poor notes lack counted again."""
        if self._step_weight > 0.0:
            shares, steps = self._listener.locked_and_step_shares(circuit, level=level)
            counted = without_steps(shares, steps, self._step_weight)
        else:
            shares = counted = self._listener.locked_shares(circuit, level=level)
        lacking = np.maximum(0.0, POOR - shares)
        return float(np.average(counted - POOR_WEIGHT * lacking, weights=self._weights))


def score_of(boards: Signal) -> float:
    """Return how good a circuit is whose boards are so good (boards,): what nine in ten of them reach."""
    return float(np.percentile(boards, PERCENT, method="hazen"))
