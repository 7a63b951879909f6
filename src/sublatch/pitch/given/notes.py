"""Notes as a file gives them: one at a time, in seconds of the file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf

from sublatch.errors import NotesError
from sublatch.takes.remarks import Remark
from sublatch.units.scales import hz_to_note

LATEST_S = 1000.0
"""Latest start and longest length of a note, in seconds."""
LEAST_S = 0.02
"""Shortest note that counts, in seconds; two that start within less are a chord."""
LOWEST_HZ, HIGHEST_HZ = 20.0, 2000.0
"""Between which pitches a note may be given, in hertz: further than pitches are found, up to where octave boxes go."""


@dataclass(frozen=True)
class GivenNote:
    """One note: start and end in seconds after the file's zero, pitch in hertz."""

    start_s: float
    end_s: float
    pitch_hz: float


@dataclass(frozen=True)
class GivenNotes:
    """The notes that a file gives.

    Attributes
    ----------
    file
        Its name.
    notes
        One at a time, in order of time.
    remarks
        What was changed to make it one at a time, and what was left out.
    start_s
        Where the file's zero lies in the take, in seconds; None where it is to be found.
    """

    file: str
    notes: tuple[GivenNote, ...]
    remarks: tuple[Remark, ...] = ()
    start_s: float | None = None


@dataclass(frozen=True)
class Entry:
    """A note as it stands in a file, and how a message says which one it is."""

    where: str
    start_s: float
    length_s: float
    pitch_hz: float

    @property
    def name(self) -> str:
        """The note's name with its start, for messages."""
        return f"{hz_to_note(self.pitch_hz)} at {self.start_s:.3f} s"


def in_range(entry: Entry, *, file: str) -> Entry:
    """Return an entry that can be a note.

    Raises
    ------
    NotesError
        When its time or its pitch is out of range.
    """
    where = f"{file}: {entry.where}"
    if not (0.0 <= entry.start_s <= LATEST_S and 0.0 <= entry.length_s <= LATEST_S):
        raise NotesError(
            f"{where}: a note must start at 0 to {LATEST_S:g} s and be no longer than that, got {entry.name}, "
            f"{entry.length_s:.3f} s long"
        )
    if not LOWEST_HZ <= entry.pitch_hz <= HIGHEST_HZ:
        raise NotesError(
            f"{where}: a note must be from {LOWEST_HZ:g} Hz to {HIGHEST_HZ:g} Hz, got {entry.name} "
            f"({entry.pitch_hz:.6g} Hz); is it the right part?"
        )
    return entry


def one_at_a_time(entries: Sequence[Entry], *, file: str) -> GivenNotes:
    """Return the notes of a file one at a time.

    Parameters
    ----------
    entries
        In any order; what overlaps the next is shortened, what is shorter than 20 ms left out, with a remark.
    file
        The file's name.

    Raises
    ------
    NotesError
        When notes start together, or there is none.
    """
    ordered = sorted((entry for entry in entries if entry.length_s >= LEAST_S), key=lambda entry: entry.start_s)
    if not ordered:
        came = f"got {len(entries)}, all shorter" if entries else "got none"
        raise NotesError(f"{file}: must give at least one note of {1000 * LEAST_S:g} ms or more, {came}")
    _refuse_chords(ordered, file)
    next_s = [*(entry.start_s for entry in ordered[1:]), inf]
    notes = tuple(
        GivenNote(one.start_s, min(one.start_s + one.length_s, later_s), one.pitch_hz)
        for one, later_s in zip(ordered, next_s, strict=True)
    )
    overlap = [one for one, later_s in zip(ordered, next_s, strict=True) if one.start_s + one.length_s > later_s + 1e-6]
    short = [entry for entry in entries if entry.length_s < LEAST_S]
    remarks = (
        *_remark("given-overlap", f"{file}: shortened where the next begins", overlap),
        *_remark("given-left-out", f"{file}: left out, shorter than {1000 * LEAST_S:g} ms", short),
    )
    return GivenNotes(file, notes, remarks)


def _refuse_chords(ordered: Sequence[Entry], file: str) -> None:
    """Raise an error where two notes start together."""
    for one, other in pairwise(ordered):
        if other.start_s - one.start_s < LEAST_S:
            raise NotesError(
                f"{file}: must give one note at a time, got {one.name} ({one.where}) and {other.name} "
                f"({other.where}) together; give the one part, without chords"
            )


def _remark(code: str, what: str, entries: Sequence[Entry]) -> list[Remark]:
    """Return the remark on what was done with some notes, none where there are none."""
    more = f" and {len(entries) - 1} more" if len(entries) > 1 else ""
    return [Remark(code, f"{what}: {entries[0].name}{more}")] if entries else []
