"""Tuning: the search for a detector that locks best on a player's own notes, over parts that can be bought."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from sublatch.circuit.boards import BoardDraws
from sublatch.circuit.model import Circuit
from sublatch.errors import AudioDataError
from sublatch.tracking.board_parts import Selection
from sublatch.tracking.tune.differences import changes_between
from sublatch.tracking.tune.fast_lock import TuneNote
from sublatch.tracking.tune.figures import CircuitFigures, HeldOut, TuneFigures, locked_shares
from sublatch.tracking.tune.measure import Measure, Progress
from sublatch.tracking.tune.search import Candidates

__all__ = ["HeldOut", "TuneAim", "TuneFigures", "TuneNote", "TuneResult", "locked_shares", "tune"]

MOST_HELD_OUT = 0.9
SEARCHED_ON = 10
"""Boards that circuits are heard on in the search, at most."""


@dataclass(frozen=True)
class TuneAim:
    """What counts in a search.

    Attributes
    ----------
    step_weight
        What steps at the drive's edges cost, 0 to 1: the share of its lock that a note loses whose every step is as
        large as its peak. At 0, where the edges fall does not matter.
    boards
        Which boards the result is measured on. It is searched on others, see `searched_boards`.
    """

    step_weight: float = 0.0
    boards: BoardDraws = field(default_factory=BoardDraws)


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
        Lock and steps on the notes that were searched on.
    held_out
        Likewise on the notes that were held out.
    trials
        How many circuits were tried.
    searched_on_count, held_out_count
        How many notes were searched on, and how many held out.
    draws
        The boards that were measured; others were searched on.
    selection
        Which part to select for the best circuit, or to buy tighter, where its boards fall short of it.
    """

    circuit: Circuit
    changes: dict[str, str]
    before: TuneFigures
    after: TuneFigures
    held_out: HeldOut
    trials: int
    searched_on_count: int
    held_out_count: int
    draws: BoardDraws
    selection: Selection

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the counts together, no circuit."""
        figures = {"before": self.before, "after": self.after, "held_out": self.held_out}
        counts = {"searched_on": self.searched_on_count, "held_out": self.held_out_count}
        told = {**figures, "changes": self.changes, "trials": self.trials, "notes": counts}
        searched_on = searched_boards(self.draws).count
        return told | {"boards": {**vars(self.draws), "searched_on": searched_on, **self.selection.json_fields()}}


def tune(
    notes: Sequence[TuneNote],
    circuit: Circuit,
    *,
    trials: int = 500,
    seed: int = 0,
    held_out_share: float = 0.25,
    aim: TuneAim | None = None,
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
    aim
        What counts; lock alone, over thirty boards, when not given.
    progress
        Called after every trial, and every board that is measured then, with how many are done and how many there are.
        There are more with each circuit that is measured.

    Returns
    -------
    TuneResult
        Never worse than the start on any of six figures: lock, less what steps cost, over all notes and over the open
        strings of the circuit as drawn, and over all notes the 10th percentile of boards, of the notes searched on and
        of those held out. An interruption from the keyboard ends the search early, with what was best until then.

    Raises
    ------
    AudioDataError
        When there are no notes, a note has no length, or a number is out of range.
    CircuitError
        When the boards' battery may have aged to more than the circuit's supply.

    Notes
    -----
    A note with a locked share L and a step share s, the mean of |x| at its edges over its peak in the cycle around,
    counts as L (1 − w s) with a step weight w. A sine switched at phase φ of its cycle has s = sin φ; so with w = 0.5,
    moving all edges from 30° to the zero crossings is worth a quarter of the lock. Since w is 1 at most, lock never
    counts against a circuit.

    What counts in the search is the 10th percentile over boards, the same for all circuits: parts and devices off by
    lot, and the takes up to 6 dB softer or louder, by lot too.
    """
    aim = aim or TuneAim()
    boards, step_weight = aim.boards, aim.step_weight
    _check(notes, trials, held_out_share, step_weight)
    others = searched_boards(boards)
    boards.board(circuit, boards.first)  # what cannot be drawn is refused before the search
    chosen, held_out = _split(notes, held_out_share)
    search = Candidates(chosen, circuit, np.random.default_rng(seed), draws=others, step_weight=step_weight)
    try:
        for done in range(trials):
            search.step(done / trials)
            if progress is not None:
                progress(done + 1, trials)
    except KeyboardInterrupt:
        pass
    measure = Measure([*chosen, *held_out], boards, progress=progress, done=search.trials)
    return _measured(circuit, search, measure, (len(chosen), len(held_out)), step_weight)


def searched_boards(measured: BoardDraws) -> BoardDraws:
    """Return the boards of a search: ten, or as many as are measured, of the numbers that follow theirs."""
    return replace(measured, first=measured.first + measured.count, count=min(SEARCHED_ON, measured.count))


def _measured(
    start: Circuit, search: Candidates, measure: Measure, counts: tuple[int, int], step_weight: float
) -> TuneResult:
    """Return the first circuit of the pool that the whole signal path finds no worse than the start anywhere."""
    sets = slice(counts[0]), slice(counts[0], None)

    def weighed(figures: CircuitFigures) -> list[float]:
        return [value for some in sets for value in figures.part(some).weighed(step_weight)]

    def is_worse(before: CircuitFigures, after: CircuitFigures) -> bool:
        return any(now < then for now, then in zip(weighed(after), weighed(before), strict=True))

    before = best = measure.whole(start, measure.as_drawn(start))
    circuit = start
    for found in search.pool:
        if found.circuit == start:
            break  # what follows scored no better
        drawn = measure.as_drawn(found.circuit)
        if is_worse(replace(before, boards=()), CircuitFigures(drawn, ())):
            continue
        after = measure.whole(found.circuit, drawn)
        if weighed(after) != weighed(before) and not is_worse(before, after):
            circuit, best = found.circuit, after
            break
    (old, old_held), (new, new_held) = ([one.part(some).told for some in sets] for one in (before, best))
    changes, held = changes_between(start, circuit), HeldOut(old_held, new_held)
    selection = measure.selection(circuit, best)
    return TuneResult(circuit, changes, old, new, held, search.trials, *counts, measure.draws, selection)


def _split(notes: Sequence[TuneNote], held_out_share: float) -> tuple[list[TuneNote], list[TuneNote]]:
    """Return the notes to search on and those held out, both spread over open strings and pitches."""
    order = sorted(range(len(notes)), key=lambda i: (not notes[i].open_string, notes[i].pitch_hz, i))
    count = min(round(held_out_share * len(notes)), len(notes) - 1)
    held_out = {order[int((k + 0.5) * len(notes) / count)] for k in range(count)}
    return (
        [note for i, note in enumerate(notes) if i not in held_out],
        [note for i, note in enumerate(notes) if i in held_out],
    )


def _check(notes: Sequence[TuneNote], trials: int, held_out_share: float, step_weight: float) -> None:
    """Raise an error for what cannot be tuned on."""
    if not notes:
        raise AudioDataError("there must be at least one note to tune on, got none; were all too short or too soft?")
    if trials < 1:
        raise AudioDataError(f"trials must be 1 or more, got {trials}")
    if not 0.0 <= held_out_share <= MOST_HELD_OUT:
        raise AudioDataError(f"held_out_share must be 0 to {MOST_HELD_OUT:g}, got {held_out_share:g}")
    if not 0.0 <= step_weight <= 1.0:
        raise AudioDataError(
            f"step_weight must be 0 to 1, got {step_weight:g}; at 1, a note that is always switched at its crests "
            "counts for nothing"
        )
    for note in notes:
        if not 0.0 <= note.start_s < note.end_s <= note.take.seconds + 1e-9 or not note.pitch_hz > 0.0:
            raise AudioDataError(
                f"a note must lie within its take and have a pitch, got {note.start_s:.3f} s to {note.end_s:.3f} s at "
                f"{note.pitch_hz:g} Hz in {note.take.name!r} of {note.take.seconds:.3f} s"
            )
