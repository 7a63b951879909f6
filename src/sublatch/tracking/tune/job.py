"""Tuning: the search for a detector that locks best on a player's own notes, over parts that can be bought."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sublatch.circuit.model import Circuit
from sublatch.errors import AudioDataError
from sublatch.tracking.tune.differences import changes_between
from sublatch.tracking.tune.fast_lock import TuneNote
from sublatch.tracking.tune.figures import HeldOut, NoteFigures, TuneFigures, locked_shares, note_figures
from sublatch.tracking.tune.search import Candidates

__all__ = ["HeldOut", "TuneFigures", "TuneNote", "TuneResult", "locked_shares", "tune"]

Progress = Callable[[int, int], None]

MOST_HELD_OUT = 0.9


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
    """

    circuit: Circuit
    changes: dict[str, str]
    before: TuneFigures
    after: TuneFigures
    held_out: HeldOut
    trials: int
    searched_on_count: int
    held_out_count: int

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the counts together, no circuit."""
        figures = {"before": self.before, "after": self.after, "held_out": self.held_out}
        counts = {"searched_on": self.searched_on_count, "held_out": self.held_out_count}
        return {**figures, "changes": self.changes, "trials": self.trials, "notes": counts}


def tune(
    notes: Sequence[TuneNote],
    circuit: Circuit,
    *,
    trials: int = 500,
    seed: int = 0,
    held_out_share: float = 0.25,
    step_weight: float = 0.0,
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
    step_weight
        What steps at the drive's edges cost, 0 to 1: the share of its lock that a note loses whose every step is as
        large as its peak. At 0, where the edges fall does not matter.
    progress
        Called after every trial with how many are done and how many there are.

    Returns
    -------
    TuneResult
        Never worse than the start on any of four figures: lock, less what steps cost, over all notes and over the open
        strings, of the notes searched on and of those held out. An interruption from the keyboard ends the search
        early, with what was best until then.

    Raises
    ------
    AudioDataError
        When there are no notes, a note has no length, or a number is out of range.

    Notes
    -----
    A note with a locked share L and a step share s, the mean of |x| at its edges over its peak in the cycle around,
    counts as L (1 − w s) with a step weight w. A sine switched at phase φ of its cycle has s = sin φ; so with w = 0.5,
    moving all edges from 30° to the zero crossings is worth a quarter of the lock. Since w is 1 at most, lock never
    counts against a circuit.

    Half of what counts in the search is lock on the notes as they are, half is lock under what a circuit must bear: the
    take 6 dB softer or louder, and parts 20 % off.
    """
    _check(notes, trials, held_out_share, step_weight)
    chosen, held_out = _split(notes, held_out_share)
    search = Candidates(chosen, circuit, np.random.default_rng(seed), step_weight=step_weight)
    try:
        for done in range(trials):
            search.step(done / trials)
            if progress is not None:
                progress(done + 1, trials)
    except KeyboardInterrupt:
        pass
    return _measured(circuit, search, chosen, held_out, step_weight)


def _measured(
    start: Circuit, search: Candidates, chosen: Sequence[TuneNote], held_out: Sequence[TuneNote], step_weight: float
) -> TuneResult:
    """Return the first circuit of the pool that the whole signal path finds no worse than the start anywhere."""

    def result(circuit: Circuit, after: Sequence[NoteFigures]) -> TuneResult:
        then, now = ([one.means for one in both] for both in (before, after))
        changes, held = changes_between(start, circuit), HeldOut(then[1], now[1])
        return TuneResult(circuit, changes, then[0], now[0], held, search.trials, len(chosen), len(held_out))

    def weighed(both: Sequence[NoteFigures]) -> list[float]:
        return [value for one in both for value in one.weighed(step_weight) if value is not None]

    before = [note_figures(notes, start) for notes in (chosen, held_out)]
    for found in search.pool:
        if found.circuit == start:
            break  # what follows scored no better
        after = [note_figures(notes, found.circuit) for notes in (chosen, held_out)]
        old, new = weighed(before), weighed(after)
        if new != old and all(now >= then for now, then in zip(new, old, strict=True)):
            return result(found.circuit, after)
    return result(start, before)


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
