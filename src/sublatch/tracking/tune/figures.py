"""How well a circuit does on a set of notes, by the whole signal path: how much is locked, and where the edges fall.

An edge at a zero crossing of the note makes no step; one at a crest makes the largest there is. How much lock that is
worth is for the user to say: with a weight w, the time that a note is locked counts for 1 − w · step share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sublatch.arrays import Flags, Signal
from sublatch.circuit.model import Circuit
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_edges
from sublatch.signal.divider import drive_edges
from sublatch.signal.front_volts import front
from sublatch.takes.take import Take
from sublatch.tracking.board_parts import PERCENT
from sublatch.tracking.boards import RATE, at_rate
from sublatch.tracking.lock import lock, locked_share
from sublatch.tracking.phase import Fed
from sublatch.tracking.tune.fast_lock import TuneNote


@dataclass(frozen=True)
class TuneFigures:
    """How well a circuit does on a set of notes, every note counting alike.

    Attributes
    ----------
    locked_share
        Mean share of the notes' time with lock, 0 to 1, of the circuit as drawn; None without notes.
    open_string_locked_share
        Likewise over the open strings; None where there are none.
    step_share
        Mean step at the edges in lock, as a share of the note's peak in the cycle around, 0 to 1; None where no note
        has enough of them.
    locked_median, locked_p10
        Median and 10th percentile of the boards' mean locked shares; None without notes.
    """

    locked_share: float | None
    open_string_locked_share: float | None
    step_share: float | None
    locked_median: float | None
    locked_p10: float | None


@dataclass(frozen=True)
class HeldOut:
    """The figures of notes that were not searched on, at the start and with the tuned circuit."""

    before: TuneFigures
    after: TuneFigures


@dataclass(frozen=True, eq=False)
class NoteFigures:
    """How well a circuit, or one board of it, does on each of some notes.

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
    def step_share(self) -> float | None:
        """The mean step of the notes that have one; None without any."""
        return _mean(self.step_shares[np.isfinite(self.step_shares)])

    def part(self, some: slice) -> NoteFigures:
        """Return the figures of some of the notes."""
        return NoteFigures(self.locked_shares[some], self.step_shares[some], self.open_strings[some])

    def locked(self, *, step_weight: float = 0.0) -> float | None:
        """Return the mean lock less what steps cost; None without notes."""
        return _mean(without_steps(self.locked_shares, self.step_shares, step_weight))

    def open_locked(self, *, step_weight: float = 0.0) -> float | None:
        """Return the same over the open strings."""
        return _mean(without_steps(self.locked_shares, self.step_shares, step_weight)[self.open_strings])


@dataclass(frozen=True, eq=False)
class CircuitFigures:
    """How well a circuit does on each of some notes, as drawn and on boards."""

    drawn: NoteFigures
    boards: tuple[NoteFigures, ...]

    @property
    def told(self) -> TuneFigures:
        """The figures of all these notes together."""
        drawn = self.drawn
        over_boards = (self.percentile(50.0), self.percentile(PERCENT))
        return TuneFigures(drawn.locked(), drawn.open_locked(), drawn.step_share, *over_boards)

    def weighed(self, step_weight: float) -> list[float]:
        """Return what must not get worse: lock less what steps cost, of all notes, of open strings, and over boards."""
        drawn = self.drawn
        figures = (
            drawn.locked(step_weight=step_weight),
            drawn.open_locked(step_weight=step_weight),
            self.percentile(PERCENT, step_weight=step_weight),
        )
        return [figure for figure in figures if figure is not None]

    def percentile(self, percent: float, *, step_weight: float = 0.0) -> float | None:
        """Return the mean lock, less what steps cost, that so many per cent of the boards have at most."""
        shares = [board.locked(step_weight=step_weight) for board in self.boards]
        known = [share for share in shares if share is not None]
        return float(np.percentile(known, percent)) if known else None

    def part(self, some: slice) -> CircuitFigures:
        """Return the figures of some of the notes."""
        return CircuitFigures(self.drawn.part(some), tuple(board.part(some) for board in self.boards))


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
        locks.append(lock(drive, start_s=note.start_s, end_s=note.end_s, pitch_hz=note.pitch_hz))
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


def slower(notes: Sequence[TuneNote]) -> list[TuneNote]:
    """Return notes in takes at the rate at which boards are heard."""
    takes = {id(note.take): note.take for note in notes}
    low = {key: at_rate(take, RATE) for key, take in takes.items()}
    return [replace(note, take=low[id(note.take)]) for note in notes]


def locked_shares(notes: Sequence[TuneNote], circuit: Circuit) -> Signal:
    """Return the share of each note's time with lock (n,), 0 to 1, by the whole signal path."""
    takes = {id(note.take): note.take for note in notes}
    drives = {key: drive_edges(detected_edges(take, circuit), stages=1) for key, take in takes.items()}
    shares = [
        locked_share(drives[id(note.take)], start_s=note.start_s, end_s=note.end_s, pitch_hz=note.pitch_hz)
        for note in notes
    ]
    return np.array(shares)


def _heard(take: Take, circuit: Circuit) -> tuple[Signal, Fed]:
    """Return the times at which the first flip-flop changes, and what the octave stage is fed."""
    cache = StageCache()
    drive = drive_edges(detected_edges(take, circuit, cache=cache), stages=1)
    return drive, Fed(front(take, circuit, cache)[0], sample_rate=take.sample_rate)


def _mean(shares: Signal) -> float | None:
    """Return the mean of shares (n,); None without any."""
    return float(np.mean(shares)) if len(shares) else None
