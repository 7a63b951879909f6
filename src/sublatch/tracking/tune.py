"""Tuning: the search for a detector that locks best on a player's own notes, over parts that can be bought."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sublatch.circuit.model import Circuit
from sublatch.errors import AudioDataError
from sublatch.signal.chain import detected_edges
from sublatch.signal.divider import drive_edges
from sublatch.tracking.changes import changes_between
from sublatch.tracking.lock import lock
from sublatch.tracking.moves import moved, starting_points, with_other_parts
from sublatch.tracking.search import Listener, TuneNote

__all__ = ["HeldOut", "LockedShares", "TuneNote", "TuneResult", "locked_shares", "tune"]

Signal = NDArray[np.float64]
Progress = Callable[[int, int], None]

OPEN_STRING_WEIGHT = 2.0
POOR, POOR_WEIGHT = 0.85, 1.0
"""Lock that a note lacks below this share counts by so much more: a note that drops out is heard as a fault."""
PARTS_OFF = 0.1
PART_VARIANTS = (1, 2)
LEVELS = (0.5, 2.0)
"""What a circuit must bear: parts 10 % off in two ways, and a take 6 dB softer or louder."""
POOL = 5
"""Circuits of each kind of detector that are developed further."""
PATIENCE = (0.3, 0.01)
"""How far behind in score a kind of detector may lie and still be tried often, at the start and at the end."""
REACH = (6.0, 1.5)
"""Steps that a value moves at the start and at the end of the search."""
MOST_HELD_OUT = 0.9


@dataclass(frozen=True)
class LockedShares:
    """How much of a set of notes was locked.

    Attributes
    ----------
    locked_share
        Mean over all notes, 0 to 1; None without notes.
    open_string_locked_share
        Mean over the open strings; None where there are none.
    """

    locked_share: float | None
    open_string_locked_share: float | None


@dataclass(frozen=True)
class HeldOut:
    """Lock on notes that were not searched on, at the start and with the tuned circuit."""

    before: LockedShares
    after: LockedShares


@dataclass(frozen=True, eq=False)
class TuneResult:
    """A tuned circuit, and how it locks compared with the one at the start.

    Attributes
    ----------
    circuit
        The best circuit; the one at the start where nothing was better.
    changes
        What is to be changed in the circuit at the start: values as the trade writes them by dotted path, fit for
        `load_circuit`.
    before, after
        Lock on the notes that were searched on.
    held_out
        Lock on the notes that were held out.
    trials
        How many circuits were tried.
    searched_on_count, held_out_count
        How many notes were searched on, and how many held out.
    """

    circuit: Circuit
    changes: dict[str, str]
    before: LockedShares
    after: LockedShares
    held_out: HeldOut
    trials: int
    searched_on_count: int
    held_out_count: int

    def to_dict(self) -> dict[str, Any]:
        """Return all but the circuit as plain values for JSON."""
        figures = {"before": asdict(self.before), "after": asdict(self.after), "held_out": asdict(self.held_out)}
        counts = {"searched_on": self.searched_on_count, "held_out": self.held_out_count}
        return {**figures, "changes": dict(self.changes), "trials": self.trials, "notes": counts}


@dataclass(order=True)
class _Found:
    """A circuit, how good it is, and what it lost with each thing it had to bear, on average."""

    score: float
    circuit: Circuit = field(compare=False)
    lost: float = field(compare=False)


def tune(
    notes: Sequence[TuneNote],
    circuit: Circuit,
    *,
    trials: int = 500,
    seed: int = 0,
    held_out_share: float = 0.25,
    progress: Progress | None = None,
) -> TuneResult:
    """Search the detector that locks best on these notes.

    Parameters
    ----------
    notes
        The notes, at least one.
    circuit
        Where to start.
    trials
        How many circuits to try, 1 or more.
    seed
        Same notes, circuit, trials and seed: same answer.
    held_out_share
        Share of the notes that is not searched on but only measured, 0 to 0.9.
    progress
        Called after every trial with how many are done and how many there are.

    Returns
    -------
    TuneResult
        Never worse than the start on any of the four figures. An interruption from the keyboard ends the search early,
        with what was best until then.

    Raises
    ------
    AudioDataError
        When there are no notes, a note has no length, or a number is out of range.
    """
    _check(notes, trials, held_out_share)
    chosen, held_out = _split(notes, held_out_share)
    search = _Search(chosen, circuit, np.random.default_rng(seed))
    try:
        for done in range(trials):
            search.step(done / trials)
            if progress is not None:
                progress(done + 1, trials)
    except KeyboardInterrupt:
        pass
    return _measured(circuit, search, chosen, held_out)


class _Search:
    """The best circuits so far of each kind of detector, each step a change to one of them."""

    def __init__(self, notes: Sequence[TuneNote], circuit: Circuit, rng: np.random.Generator) -> None:
        self._listener = Listener(notes)
        self._weights = np.array([OPEN_STRING_WEIGHT if note.open_string else 1.0 for note in notes])
        self._rng = rng
        self._first = iter(starting_points(circuit))
        self._seen: set[Circuit] = set()
        self._pools: dict[str, list[_Found]] = {}
        self.trials = 0

    @property
    def pool(self) -> list[_Found]:
        """The best circuits so far of all kinds, the best first."""
        return sorted((found for pool in self._pools.values() for found in pool), reverse=True)

    def step(self, progress: float) -> None:
        """Try one more circuit; `progress` goes from 0 to 1."""
        fresh = (circuit for circuit in self._first if circuit not in self._seen)
        candidate = next(fresh, None) or self._another(progress)
        self._seen.add(candidate)
        pool = self._pools.setdefault(candidate.detector.kind, [])
        found = self._found(candidate, pool)
        if found is not None:
            pool[:] = sorted([*pool, found], reverse=True)[:POOL]
        self.trials += 1

    def _another(self, progress: float) -> Circuit:
        """Return a circuit not tried before, most often near the best."""
        reach, patience = (ends[0] + (ends[1] - ends[0]) * progress for ends in (REACH, PATIENCE))
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

    def _found(self, circuit: Circuit, pool: Sequence[_Found]) -> _Found | None:
        """Return how good a circuit is, half as drawn and half with what it must bear; None where it is no use.

        What it has still to bear is taken to cost it half of what that cost the best.
        """
        as_drawn = self._weighed(circuit)
        count, lost = len(LEVELS) + len(PART_VARIANTS), 0.0
        for trial in range(count):
            if len(pool) == POOL:
                expected = lost + (count - trial) * pool[0].lost / 2
                if as_drawn - expected / (2 * count) <= pool[-1].score:
                    return None
            lost += as_drawn - self._borne(circuit, trial)
        return _Found(as_drawn - lost / (2 * count), circuit, lost / count)

    def _borne(self, circuit: Circuit, trial: int) -> float:
        """Return how good a circuit is with the take at another level, or with parts that are off."""
        if trial < len(LEVELS):
            return self._weighed(circuit, level=LEVELS[trial])
        variant = PART_VARIANTS[trial - len(LEVELS)]
        return self._weighed(with_other_parts(circuit, off=PARTS_OFF, variant=variant))

    def _weighed(self, circuit: Circuit, *, level: float = 1.0) -> float:
        """Return the weighted mean of the notes' lock, with what poor notes lack counted again."""
        shares = self._listener.locked_shares(circuit, level=level)
        return float(np.average(shares - POOR_WEIGHT * np.maximum(0.0, POOR - shares), weights=self._weights))


def _measured(start: Circuit, search: _Search, chosen: Sequence[TuneNote], held_out: Sequence[TuneNote]) -> TuneResult:
    """Return the first circuit of the pool that the whole signal path finds no worse than the start anywhere."""

    def figures(circuit: Circuit) -> tuple[LockedShares, LockedShares]:
        return _shares(chosen, circuit), _shares(held_out, circuit)

    def result(circuit: Circuit, after: tuple[LockedShares, LockedShares]) -> TuneResult:
        changes, held = changes_between(start, circuit), HeldOut(before[1], after[1])
        return TuneResult(circuit, changes, before[0], after[0], held, search.trials, len(chosen), len(held_out))

    before = figures(start)
    for found in search.pool:
        if found.circuit == start:
            break  # what follows scored no better
        after = figures(found.circuit)
        if after != before and all(_no_worse(a, b) for a, b in zip(after, before, strict=True)):
            return result(found.circuit, after)
    return result(start, before)


def _shares(notes: Sequence[TuneNote], circuit: Circuit) -> LockedShares:
    """Return the lock of a circuit on notes, by the whole signal path."""
    shares = locked_shares(notes, circuit)
    opened = shares[[note.open_string for note in notes]] if len(shares) else shares
    return LockedShares(*(float(np.mean(one)) if len(one) else None for one in (shares, opened)))


def locked_shares(notes: Sequence[TuneNote], circuit: Circuit) -> Signal:
    """Return the share of each note's time with lock (n,), 0 to 1, by the whole signal path."""
    takes = {id(note.take): note.take for note in notes}
    drives = {key: drive_edges(detected_edges(take, circuit), stages=1) for key, take in takes.items()}
    found = [
        lock(drives[id(note.take)], start_s=note.start_s, end_s=note.end_s, pitch_hz=note.pitch_hz) for note in notes
    ]
    return np.array([one.locked_share for one in found])


def _no_worse(after: LockedShares, before: LockedShares) -> bool:
    """Return whether neither figure has fallen."""
    pairs = (
        (after.locked_share, before.locked_share),
        (after.open_string_locked_share, before.open_string_locked_share),
    )
    return all(now is None or then is None or now >= then for now, then in pairs)


def _split(notes: Sequence[TuneNote], held_out_share: float) -> tuple[list[TuneNote], list[TuneNote]]:
    """Return the notes to search on and those held out, both spread over open strings and pitches."""
    order = sorted(range(len(notes)), key=lambda i: (not notes[i].open_string, notes[i].pitch_hz, i))
    count = min(round(held_out_share * len(notes)), len(notes) - 1)
    held_out = {order[int((k + 0.5) * len(notes) / count)] for k in range(count)}
    return (
        [note for i, note in enumerate(notes) if i not in held_out],
        [note for i, note in enumerate(notes) if i in held_out],
    )


def _check(notes: Sequence[TuneNote], trials: int, held_out_share: float) -> None:
    """Raise an error for what cannot be tuned on."""
    if not notes:
        raise AudioDataError("there must be at least one note to tune on, got none; were all too short or too soft?")
    if trials < 1:
        raise AudioDataError(f"trials must be 1 or more, got {trials}")
    if not 0.0 <= held_out_share <= MOST_HELD_OUT:
        raise AudioDataError(f"held_out_share must be 0 to {MOST_HELD_OUT:g}, got {held_out_share:g}")
    for note in notes:
        if not 0.0 <= note.start_s < note.end_s <= note.take.seconds + 1e-9 or not note.pitch_hz > 0.0:
            raise AudioDataError(
                f"a note must lie within its take and have a pitch, got {note.start_s:.3f} s to {note.end_s:.3f} s at "
                f"{note.pitch_hz:g} Hz in {note.take.name!r} of {note.take.seconds:.3f} s"
            )
