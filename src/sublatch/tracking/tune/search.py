"""The search itself: circuits kept by sort of detector, each new one a change to one of them, judged by its lock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from sublatch.circuit.model import Circuit
from sublatch.tracking.tune.fast_lock import Listener, TuneNote
from sublatch.tracking.tune.figures import without_steps
from sublatch.tracking.tune.variants import moved, sort_of, starting_points, with_other_parts

OPEN_STRING_WEIGHT = 2.0
POOR, POOR_WEIGHT = 0.85, 1.0
"""Lock that a note lacks below this share counts by so much more: a note that drops out is heard as a fault."""
LEVELS = (0.5, 2.0)
PARTS_OFF = 0.2
PART_VARIANTS = (1, 2)
TRIALS_BORNE = len(LEVELS) + len(PART_VARIANTS)
"""What a circuit must bear: a take 6 dB softer or louder, and parts 20 % off in two ways."""
POOL = 5
"""Circuits of each sort of detector that are developed further."""
PATIENCE = (0.2, 0.003)
"""How far behind in score a sort of detector may lie and still be tried often, at the start and at the end."""
REACH = (6.0, 1.5)
"""Steps that a value moves at the start and at the end of the search."""


@dataclass(order=True)
class Found:
    """A circuit, how good it is, and what it lost with each thing it had to bear, on average."""

    score: float
    circuit: Circuit = field(compare=False)
    lost: float = field(compare=False)


class Candidates:
    """The best circuits so far of each sort of detector, each step a change to one of them."""

    def __init__(
        self, notes: Sequence[TuneNote], circuit: Circuit, rng: np.random.Generator, *, step_weight: float = 0.0
    ) -> None:
        self._step_weight = step_weight
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
        """Return how good a circuit is, half as drawn and half with what it must bear; None where it is no use.

        What it has still to bear is taken to cost it half of what that cost the best.
        """
        as_drawn, lost = self._weighed(circuit), 0.0
        for trial in range(TRIALS_BORNE):
            if len(pool) == POOL:
                expected = lost + (TRIALS_BORNE - trial) * pool[0].lost / 2
                if as_drawn - expected / (2 * TRIALS_BORNE) <= pool[-1].score:
                    return None
            lost += as_drawn - self._borne(circuit, trial)
        return Found(as_drawn - lost / (2 * TRIALS_BORNE), circuit, lost / TRIALS_BORNE)

    def _borne(self, circuit: Circuit, trial: int) -> float:
        """Return how good a circuit is with the take at another level, or with parts that are off."""
        if trial < len(LEVELS):
            return self._weighed(circuit, level=LEVELS[trial])
        variant = PART_VARIANTS[trial - len(LEVELS)]
        return self._weighed(with_other_parts(circuit, off=PARTS_OFF, variant=variant))

    def _weighed(self, circuit: Circuit, *, level: float = 1.0) -> float:
        """Return the weighted mean of the notes' lock less what steps cost, with what poor notes lack counted again."""
        if self._step_weight > 0.0:
            shares, steps = self._listener.locked_and_step_shares(circuit, level=level)
            counted = without_steps(shares, steps, self._step_weight)
        else:
            shares = counted = self._listener.locked_shares(circuit, level=level)
        lacking = np.maximum(0.0, POOR - shares)
        return float(np.average(counted - POOR_WEIGHT * lacking, weights=self._weights))
