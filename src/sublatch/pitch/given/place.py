"""Given notes put into a take: where they start, end and are pitched there, and how well they fit."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from sublatch.arrays import Array
from sublatch.pitch.given.notes import LEAST_S, GivenNote, GivenNotes
from sublatch.pitch.given.offset import MEET_S, best_offset_s, meeting
from sublatch.pitch.notes import END_DB, Note, Notes, note_of
from sublatch.pitch.open_strings import open_strings
from sublatch.pitch.reference.track import QUIET_DB, PitchTrack, reference_pitch
from sublatch.pitch.segments import first_run, hops, stop_of
from sublatch.takes.remarks import Remark
from sublatch.takes.take import Take
from sublatch.units.scales import hz_to_note

NEAR_CENTS = 80.0
"""How far from the given pitch, in cents, the take's own pitch may lie and still be that of the note."""
HEARD_S = 0.06
"""For how long, in seconds, a note must be pitched for its pitch to be known from the take."""


@dataclass(frozen=True)
class Placement:
    """How given notes lie in a take.

    Attributes
    ----------
    file
        Name of the file that gives them.
    start_s
        Where its zero lies in the take, in seconds.
    found
        Whether that was found by the onsets, not told.
    starts, starts_met
        How many notes lie in the take, and how many of these start within 50 ms of an onset.
    """

    file: str
    start_s: float
    found: bool
    starts: int
    starts_met: int

    def remarks(self) -> tuple[Remark, ...]:
        """Return what there is to say of it."""
        how = "found" if self.found else "as told"
        said = [
            Remark(
                "given",
                f"notes as given by {self.file}, its zero at {self.start_s:.3f} s ({how}): {self.starts_met} of "
                f"{self.starts} starts meet an onset within {1000 * MEET_S:.0f} ms",
            )
        ]
        if 2 * self.starts_met < self.starts:
            ask = (
                "is it another take's file? --notes-start says where it begins"
                if self.found
                else "does it begin there?"
            )
            said.append(
                Remark("given-misplaced", f"fewer than half of the given notes start where the take does; {ask}")
            )
        if not self.starts:
            said.append(Remark("no-notes", "no notes: none of those given begins in the take"))
        return tuple(said)


@dataclass(frozen=True, eq=False)
class Reference:
    """What a drive is held against: the notes of a take, found or given, its pitch, and how given notes lie in it."""

    notes: Notes
    pitch: PitchTrack
    placement: Placement | None = None


def place(take: Take, given: GivenNotes, *, tuning: str = "bass-4") -> Reference:
    """Return given notes as those of a take.

    Parameters
    ----------
    take
        Of any length.
    given
        The notes, from `read_notes`.
    tuning
        The instrument's open strings (see `open_strings`).

    Returns
    -------
    Reference
        Starts that meet an onset within 50 ms are moved onto it; a note ends where the next begins or where it has
        died away, if that is earlier than given. Its pitch is the take's own where that lies within 80 cents of the
        given one, else the given one; an octave is always as given.

    Raises
    ------
    UnitError
        When the tuning is not known.
    """
    strings_hz = list(open_strings(tuning).values())
    track = reference_pitch(take)
    start_s = best_offset_s(given.notes, track) if given.start_s is None else given.start_s
    inside, outside = _inside(given.notes, start_s, take.seconds)
    starts, onsets = meeting(np.array([note.start_s for note in inside]), track.onset_s)
    placement = Placement(given.file, start_s, given.start_s is None, len(inside), len(starts))
    moved = _moved(inside, dict(zip(starts.tolist(), track.onset_s[onsets].tolist(), strict=True)))
    pitch_hz = track.pitch_hz.copy()
    notes = tuple(_placed(note, track, pitch_hz, strings_hz) for note in moved)
    pitch_hz.setflags(write=False)
    remarks = [*placement.remarks(), *given.remarks, *_left_out(outside), *_heard_otherwise(moved, track)]
    return Reference(Notes(notes, tuple(remarks)), replace(track, pitch_hz=pitch_hz), placement)


def _inside(notes: tuple[GivenNote, ...], start_s: float, seconds: float) -> tuple[list[GivenNote], list[GivenNote]]:
    """Return the notes in seconds of the take, those that begin in it and the others."""
    inside, outside = list[GivenNote](), list[GivenNote]()
    for note in notes:
        begin_s, end_s = note.start_s + start_s, min(note.end_s + start_s, seconds)
        begins = begin_s >= -MEET_S and end_s - max(begin_s, 0.0) >= LEAST_S
        (inside if begins else outside).append(
            GivenNote(max(begin_s, 0.0) if begins else begin_s, end_s, note.pitch_hz)
        )
    return inside, outside


def _moved(notes: list[GivenNote], onset_s: dict[int, float]) -> list[GivenNote]:
    """Return the notes, those with an onset starting there; none begins after its end or in the one before."""
    moved = [replace(note, start_s=onset_s.get(number, note.start_s)) for number, note in enumerate(notes)]
    for number, note in enumerate(moved):
        later_s = moved[number + 1].start_s if number + 1 < len(moved) else np.inf
        end_s = min(note.end_s, later_s)
        moved[number] = note if end_s == note.end_s else replace(note, end_s=end_s)
        if moved[number].end_s - moved[number].start_s < LEAST_S:
            moved[number] = notes[number]
    return moved


def _placed(note: GivenNote, track: PitchTrack, pitch_hz: Array, strings_hz: list[float]) -> Note:
    """Return a note as it lies in the take, and write its pitch into `pitch_hz` (k,), moment by moment."""
    span = slice(hops(note.start_s), max(hops(note.end_s), hops(note.start_s) + 1))
    level_db = track.level_db[span]
    loud = first_run(level_db > max(np.max(level_db) - END_DB, np.max(track.level_db) - QUIET_DB))
    stop = span.start + (stop_of(level_db, loud) if len(loud) else len(level_db))
    end_s = note.end_s if stop >= span.stop else max(track.time_s[stop], note.start_s + LEAST_S)
    inside = slice(span.start, hops(float(end_s)) + 1)
    own_hz = track.pitch_hz[inside]
    near = np.abs(_cents(own_hz, note.pitch_hz)) <= NEAR_CENTS
    known = np.count_nonzero(near) >= max(hops(HEARD_S), np.count_nonzero(np.isfinite(own_hz)) / 2)
    found = note_of(note.start_s, float(end_s), own_hz[near] if known else np.array([note.pitch_hz]), strings_hz)
    pitch_hz[inside] = np.where(near & known, own_hz, found.pitch_hz if known else note.pitch_hz)
    return found


def _heard_otherwise(notes: list[GivenNote], track: PitchTrack) -> list[Remark]:
    """Return the remark on notes whose pitch in the take is another, and whether most are octaves off."""
    heard = [(note, _heard_hz(note, track)) for note in notes]
    other = [(note, hz) for note, hz in heard if hz is not None and abs(_cents(hz, note.pitch_hz)) > NEAR_CENTS]
    if not other:
        return []
    (first, hz), times = other[0], f"{len(other)} × from" if len(other) > 1 else "at"
    names = f"{hz_to_note(first.pitch_hz)} given, {hz_to_note(hz)} found"
    hint = _octave_hint([float(_cents(hz, note.pitch_hz)) for note, hz in other], len(notes))
    return [
        Remark("given-differs", f"given otherwise than found, {times} {first.start_s:.2f} s ({names}); as given{hint}")
    ]


def _octave_hint(off_cents: list[float], count: int) -> str:
    """Return a guess where more than half of so many notes are found the same whole octaves off, else nothing."""
    octaves = Counter(round(off / 1200) for off in off_cents if abs(off - 1200 * round(off / 1200)) <= NEAR_CENTS)
    step, times = octaves.most_common(1)[0] if octaves else (0, 0)
    if not 2 * times > count:
        return ""
    many = "an octave" if abs(step) == 1 else f"{abs(step)} octaves"
    return f"; is the file {many} {'higher' if step < 0 else 'lower'} than it sounds?"


def _heard_hz(note: GivenNote, track: PitchTrack) -> float | None:
    """Return the take's own pitch over most of a note; None where it has none for long enough."""
    own_hz = track.pitch_hz[hops(note.start_s) : hops(note.end_s)]
    own_hz = own_hz[np.isfinite(own_hz)]
    return float(np.median(own_hz)) if len(own_hz) >= hops(HEARD_S) else None


def _left_out(notes: list[GivenNote]) -> list[Remark]:
    """Return the remark on notes that lie outside the take."""
    if not notes:
        return []
    what = "1 given note" if len(notes) == 1 else f"{len(notes)} given notes"
    return [Remark("given-left-out", f"left out, outside the take: {what}, at {notes[0].start_s:.2f} s and on")]


def _cents(hz: Array | float, from_hz: float) -> Array:
    """Return how far pitches lie above another, in cents; NaN where there is none."""
    return np.asarray(1200.0 * np.log2(hz / from_hz))
