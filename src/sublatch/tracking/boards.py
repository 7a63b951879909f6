"""Lock over boards: what a circuit's tolerances and devices leave of it, note by note.

Boards are heard at a lower rate than the take's: nothing that tells a comparator the pitch of a note lies high.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sublatch.arrays import Signal, Whole
from sublatch.circuit.boards import MOST_BOARDS, drawn_board
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.model import Circuit
from sublatch.errors import CircuitError
from sublatch.pitch.given.notes import GivenNotes
from sublatch.pitch.notes import Note
from sublatch.sampling.rates import resampled
from sublatch.signal.chain import detected_edges
from sublatch.takes.take import Take, take_from_samples
from sublatch.tracking.track import note_lock, reference_of

RATE = 16000
"""Samples per second at which boards are heard; a take of less stays as it is."""
LOST = 0.85
"""A note that is held for less of its time counts as lost on a board."""


@dataclass(frozen=True)
class BoardDraws:
    """Which boards are looked at.

    Attributes
    ----------
    count
        How many, 1 to 1000.
    first
        Number of the first; the others follow.
    tolerances
        How far their parts may be off, and how they are spread.
    least_supply_v
        Down to where a battery may have aged; None for one that has not.
    """

    count: int = 30
    first: int = 1
    tolerances: Tolerances = field(default_factory=Tolerances)
    least_supply_v: float | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.count <= MOST_BOARDS:
            raise CircuitError(f"boards must be 1 to {MOST_BOARDS}, got {self.count}")

    @property
    def numbers(self) -> range:
        """The boards' numbers."""
        return range(self.first, self.first + self.count)

    def board(self, circuit: Circuit, number: int) -> Circuit:
        """Return one of them."""
        return drawn_board(circuit, number, tolerances=self.tolerances, least_supply_v=self.least_supply_v)


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
    """

    take: str
    circuit: str
    draws: BoardDraws
    notes: tuple[Note, ...]
    shares: Signal

    @property
    def locked(self) -> Signal:
        """Each board's locked share of all notes' time (boards,), every second counting alike."""
        seconds = np.array([note.end_s - note.start_s for note in self.notes])
        return np.asarray(self.shares @ seconds / np.sum(seconds))

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
            "count": self.draws.count,
            "first": self.draws.first,
            "tolerances": self.draws.tolerances,
            "least_supply_v": self.draws.least_supply_v,
            "locked_median": self.percentile(50),
            "locked_p10": self.percentile(10),
            "locked_p90": self.percentile(90),
            "locked": self.locked,
            **{f"{which}_board": number for which, number in self.numbers.items()},
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
        drive = detected_edges(slower, draws.board(circuit, number))[::2]
        row[:] = [note_lock(drive, note, played.pitch).locked_share for note in played.notes.notes]
        progress()
    return BoardsLock(take.name, name or circuit.title, draws, tuple(played.notes.notes), shares)


def at_rate(take: Take, rate: int) -> Take:
    """Return a take at a lower rate; as it is where its own is no higher."""
    if take.sample_rate <= rate:
        return take
    samples = resampled(take.samples, take.sample_rate, rate)
    return take_from_samples(samples, rate, name=take.name, full_scale_volts=take.full_scale_volts)
