"""Lock over boards: what a circuit's tolerances and devices leave of it, note by note.

Boards are heard at a lower rate than the take's: nothing that tells a comparator the pitch of a note lies high.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sublatch.arrays import Signal, Whole
from sublatch.circuit.boards import BoardDraws
from sublatch.circuit.model import Circuit
from sublatch.pitch.given.notes import GivenNotes
from sublatch.pitch.given.place import Reference
from sublatch.pitch.notes import Note
from sublatch.sampling.rates import resampled
from sublatch.signal.chain import detected_edges
from sublatch.takes.take import Take, take_from_samples
from sublatch.tracking.board_parts import Selection, part_to_select
from sublatch.tracking.track import note_locked_share, reference_of

RATE = 16000
"""Samples per second at which boards are heard; a take of less stays as it is."""
LOST = 0.85
"""A note that is held for less of its time counts as lost on a board."""


@dataclass(frozen=True, eq=False)
class BoardsLock:
    """How boards of one circuit hold on to the notes of a take.

    Attributes
    ----------
    take, circuit
        Their names.
    draws
        Which boards.
    notes
        The notes that count.
    shares
        Locked share (boards, notes), 0 to 1.
    selection
        Which part to select; None where it was not looked for, see `with_selection`.
    """

    take: str
    circuit: str
    draws: BoardDraws
    notes: tuple[Note, ...]
    shares: Signal
    selection: Selection | None = None

    @property
    def locked(self) -> Signal:
        """Each board's locked share of all notes' time (boards,), every second counting alike."""
        return np.asarray(self.shares @ _weights(self.notes))

    def percentile(self, percent: float) -> float:
        """Return the locked share that so many per cent of the boards have at most."""
        return float(np.percentile(self.locked, percent))

    def note_percentile(self, percent: float) -> Signal:
        """Return the same of each note (notes,)."""
        return np.asarray(np.percentile(self.shares, percent, axis=0))

    @property
    def lost_on(self) -> Whole:
        """On how many boards each note is held for less than 85 % of its time (notes,)."""
        return np.asarray(np.sum(self.shares < LOST, axis=0))

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of all boards together; of single notes, see `note_json_fields`."""
        return {
            **vars(self.draws),
            "locked_median": self.percentile(50),
            "locked_p10": self.percentile(10),
            "locked_p90": self.percentile(90),
            "locked": self.locked,
            **{f"{which}_board": number for which, number in self.numbers.items()},
            **({} if self.selection is None else self.selection.json_fields()),
        }

    def note_json_fields(self, place: int) -> dict[str, Any]:
        """Return what JSON tells of one note, by its place among the notes."""
        return {
            "locked_p10": float(self.note_percentile(10)[place]),
            "locked_p90": float(self.note_percentile(90)[place]),
            "lost_on_boards": int(self.lost_on[place]),
        }

    @property
    def numbers(self) -> dict[str, int]:
        """The numbers of the boards with the ``median`` and the ``poorest`` lock; the lower one of two alike."""
        order = np.argsort(self.locked, kind="stable")
        first = self.draws.first
        return {"poorest": first + int(order[0]), "median": first + int(order[(len(order) - 1) // 2])}


def lock_over_boards(
    take: Take,
    circuit: Circuit,
    *,
    name: str = "",
    draws: BoardDraws | None = None,
    tuning: str = "bass-4",
    notes: GivenNotes | None = None,
    progress: Callable[[], object] = lambda: None,
) -> BoardsLock | None:
    """Return how boards of a circuit hold on to the notes of a take.

    Parameters
    ----------
    take
        The take, in volts.
    circuit
        The circuit as drawn; only what leads to the drive matters.
    name
        What the circuit is called in the result; its title when not given.
    draws
        Which boards; thirty with parts of 5 % (resistors) and 10 % (capacitors) when not given.
    tuning, notes
        As for `track`.
    progress
        Called after each board.

    Returns
    -------
    BoardsLock or None
        None where the take has no note.
    """
    draws = draws or BoardDraws()
    played = reference_of(take, tuning=tuning, notes=notes)
    if not played.notes.notes:
        return None
    slower = at_rate(take, RATE)
    shares = np.empty((draws.count, len(played.notes.notes)))
    for row, number in zip(shares, draws.numbers, strict=True):
        row[:] = _shares(slower, draws.board(circuit, number), played)
        progress()
    return BoardsLock(take.name, name or circuit.title, draws, tuple(played.notes.notes), shares)


def with_selection(
    boards: BoardsLock,
    take: Take,
    circuit: Circuit,
    *,
    tuning: str = "bass-4",
    notes: GivenNotes | None = None,
    progress: Callable[[], object] = lambda: None,
) -> BoardsLock:
    """Return lock over boards with the part to select, where the boards fall short of the circuit as drawn.

    Parameters
    ----------
    boards
        What `lock_over_boards` found.
    take, circuit, tuning, notes
        What it was given.
    progress
        Called after each circuit that is heard: at most `hearings` of them.
    """
    played = reference_of(take, tuning=tuning, notes=notes)
    slower, weights = at_rate(take, RATE), _weights(boards.notes)

    def locked(heard: Circuit) -> float:
        share = float(_shares(slower, heard, played) @ weights)
        progress()
        return share

    return replace(boards, selection=part_to_select(circuit, boards.draws, boards.locked, locked_share=locked))


def _shares(slower: Take, circuit: Circuit, played: Reference) -> Signal:
    """Return the locked share of each note (notes,) on a take at the boards' rate."""
    drive = detected_edges(slower, circuit)[::2]
    return np.array([note_locked_share(drive, note, played.pitch) for note in played.notes.notes])


def _weights(notes: Sequence[Note]) -> Signal:
    """Return each note's share of all notes' time (notes,)."""
    seconds = np.array([note.end_s - note.start_s for note in notes])
    return np.asarray(seconds / np.sum(seconds))


def at_rate(take: Take, rate: int) -> Take:
    """Return a take at a lower rate; as it is where its own is no higher."""
    if take.sample_rate <= rate:
        return take
    samples = resampled(take.samples, take.sample_rate, rate)
    return take_from_samples(samples, rate, name=take.name, full_scale_volts=take.full_scale_volts)
