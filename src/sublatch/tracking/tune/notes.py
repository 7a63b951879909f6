"""The notes of takes that a circuit can be tuned on: those with one steady pitch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sublatch.errors import NotesError
from sublatch.pitch.given.notes import GivenNotes
from sublatch.pitch.given.place import place
from sublatch.pitch.notes import Note, find_notes
from sublatch.takes.remarks import Remark
from sublatch.takes.take import Take
from sublatch.tracking.tune.fast_lock import TuneNote

LOW = "lower than the lowest open string"


@dataclass(frozen=True, eq=False)
class TakeNotes:
    """What one take gives for tuning.

    Attributes
    ----------
    take
        The take.
    notes
        Its steady notes, in order of time.
    remarks
        What of it was left out and why, and what else there is to say.
    """

    take: Take
    notes: tuple[TuneNote, ...]
    remarks: tuple[Remark, ...]


@dataclass(frozen=True, eq=False)
class TuneNotes:
    """What several takes give for tuning, take by take."""

    takes: tuple[TakeNotes, ...]

    @property
    def notes(self) -> tuple[TuneNote, ...]:
        """The notes of all takes."""
        return tuple(note for one in self.takes for note in one.notes)


def tune_notes(takes: Sequence[Take], *, tuning: str = "bass-4", notes: GivenNotes | None = None) -> TuneNotes:
    """Return the notes of takes that a circuit can be tuned on.

    Parameters
    ----------
    takes
        The takes, in volts.
    tuning
        The instrument's open strings (see `open_strings`); lock on those counts for more.
    notes
        The notes that were played, from `read_notes`, in place of those that are found; with one take alone.

    Returns
    -------
    TuneNotes
        Its `notes` are for `tune`. A note whose pitch moves is left out, as is whatever has no clear pitch, and a
        remark of its take says so.

    Raises
    ------
    NotesError
        When notes are given for several takes.
    UnitError
        When the tuning is not known.
    """
    if notes is not None and len(takes) != 1:
        raise NotesError(f"{notes.file}: given notes are those of one take, got {len(takes)} takes")
    return TuneNotes(tuple(_of_one(take, tuning, notes) for take in takes))


def _of_one(take: Take, tuning: str, given: GivenNotes | None) -> TakeNotes:
    """Return what one take gives."""
    found = find_notes(take, tuning=tuning) if given is None else place(take, given, tuning=tuning).notes
    steady = [note for note in found.notes if note.steady]
    notes = tuple(TuneNote(take, note.start_s, note.end_s, note.pitch_hz, note.open_string) for note in steady)
    moving = [note for note in found.notes if not note.steady]
    return TakeNotes(take, notes, (*take.remarks, *found.remarks, *_moving(moving), *_too_low(steady)))


def _moving(notes: Sequence[Note]) -> list[Remark]:
    """Return the remark on notes that are left out because they have no one pitch."""
    if not notes:
        return []
    what = f"left out: {notes[0].remark}" if len(notes) == 1 else "left out: notes whose pitch moves"
    return [Remark("left-out", f"{what}, {_places(notes)}")]


def _too_low(notes: Sequence[Note]) -> list[Remark]:
    """Return the remark on notes under the lowest open string, which are kept all the same."""
    low = [note for note in notes if note.remark == LOW]
    if not low:
        return []
    names = ", ".join(dict.fromkeys(note.name for note in sorted(low, key=lambda note: note.pitch_hz)))
    return [Remark("below-strings", f"{LOW}: {names}, {_places(low)}; is the tuning right?")]


def _places(notes: Sequence[Note]) -> str:
    """Return how many notes there are, and where the first is."""
    return f"at {notes[0].start_s:.2f} s" if len(notes) == 1 else f"{len(notes)} × from {notes[0].start_s:.2f} s"
