"""How well a circuit does on a set of notes, by the whole signal path: how much is locked, and where the edges fall.

An edge at a zero crossing of the note makes no step; one at a crest makes the largest there is. How much lock that is
worth is for the user to say: with a weight w, the time that a note is locked counts for 1 − w · step share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sublatch.arrays import Flags, Signal
from sublatch.circuit.model import Circuit
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_edges
from sublatch.signal.divider import drive_edges
from sublatch.signal.front_volts import front
from sublatch.takes.take import Take
from sublatch.tracking.lock import Lock, lock
from sublatch.tracking.phase import Fed
from sublatch.tracking.tune.fast_lock import TuneNote


@dataclass(frozen=True)
class TuneFigures:
    """How well a circuit does on a set of notes, every note counting alike.

    Attributes
    ----------
    locked_share
        Mean share of the notes' time with lock, 0 to 1; None without notes.
    open_string_locked_share
        Likewise over the open strings; None where there are none.
    step_share
        Mean step at the edges in lock, as a share of the note's peak in the cycle around, 0 to 1; None where no note
        has enough of them.
    """

    locked_share: float | None
    open_string_locked_share: float | None
    step_share: float | None


@dataclass(frozen=True)
class HeldOut:
    """The figures of notes that were not searched on, at the start and with the tuned circuit."""

    before: TuneFigures
    after: TuneFigures


@dataclass(frozen=True, eq=False)
class NoteFigures:
    """How well a circuit does on each of some notes.

    Attributes
    ----------
    locked_shares
        Share of each note's time with lock (n,).
    step_shares
        Mean step at each note's edges (n,); NaN where too few are in lock.
    open_strings
        Which are open strings (n,).
    """

    locked_shares: Signal
    step_shares: Signal
    open_strings: Flags

    @property
    def means(self) -> TuneFigures:
        """The figures of all these notes together."""
        opened = self.locked_shares[self.open_strings]
        known = self.step_shares[np.isfinite(self.step_shares)]
        return TuneFigures(*(float(np.mean(one)) if len(one) else None for one in (self.locked_shares, opened, known)))

    def weighed(self, step_weight: float) -> tuple[float | None, float | None]:
        """Return the mean lock less what steps cost, over all notes and over the open strings; None without any."""
        counted = without_steps(self.locked_shares, self.step_shares, step_weight)
        sets = (counted, counted[self.open_strings])
        return tuple(float(np.mean(one)) if len(one) else None for one in sets)  # type: ignore[return-value]


def without_steps(locked_shares: Signal, step_shares: Signal, step_weight: float) -> Signal:
    """Return the share of each note's time with lock (n,), less what the steps at its edges cost."""
    return locked_shares * (1.0 - step_weight * np.nan_to_num(step_shares))


def note_figures(notes: Sequence[TuneNote], circuit: Circuit) -> NoteFigures:
    """Return how well a circuit does on each note, by the whole signal path."""
    heard: dict[int, tuple[Signal, Fed]] = {}
    locks, steps = [], []
    for note in notes:
        if id(note.take) not in heard:
            heard[id(note.take)] = _heard(note.take, circuit)
        drive, fed = heard[id(note.take)]
        locks.append(_lock(note, drive))
        switched = drive_edges(drive, stages=circuit.divider.stages - 1)
        where = fed.switching(
            switched,
            start_s=note.start_s,
            end_s=note.end_s,
            pitch_hz=note.pitch_hz,
            dropouts=locks[-1].dropouts,
        )
        steps.append(np.nan if where.step_share is None else where.step_share)
    return NoteFigures(
        locked_shares=np.array([one.locked_share for one in locks]),
        step_shares=np.array(steps),
        open_strings=np.array([note.open_string for note in notes], dtype=np.bool_),
    )


def locked_shares(notes: Sequence[TuneNote], circuit: Circuit) -> Signal:
    """Return the share of each note's time with lock (n,), 0 to 1, by the whole signal path."""
    takes = {id(note.take): note.take for note in notes}
    drives = {key: drive_edges(detected_edges(take, circuit), stages=1) for key, take in takes.items()}
    return np.array([_lock(note, drives[id(note.take)]).locked_share for note in notes])


def _heard(take: Take, circuit: Circuit) -> tuple[Signal, Fed]:
    """Return the times at which the first flip-flop changes, and what the octave stage is fed."""
    cache = StageCache()
    drive = drive_edges(detected_edges(take, circuit, cache=cache), stages=1)
    return drive, Fed(front(take, circuit, cache)[0], sample_rate=take.sample_rate)


def _lock(note: TuneNote, drive: Signal) -> Lock:
    """Return the lock on one note."""
    return lock(drive, start_s=note.start_s, end_s=note.end_s, pitch_hz=note.pitch_hz)
