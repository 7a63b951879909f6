"""The tracking job: how a circuit's drive holds on to every note of a take."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sublatch.circuit.model import Circuit
from sublatch.signal.chain import detected_edges
from sublatch.signal.stages import StageCache
from sublatch.take import Take
from sublatch.tracking.lock import Lock, lock
from sublatch.tracking.notes import Note, find_notes
from sublatch.tracking.pitch import PitchTrack, reference_pitch


@dataclass(frozen=True)
class TrackedNote:
    """A note, and how the drive held on to it."""

    note: Note
    lock: Lock

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain values for JSON."""
        return {
            "start_s": self.note.start_s,
            "end_s": self.note.end_s,
            "pitch_hz": self.note.pitch_hz,
            "name": self.note.name,
            "open_string": self.note.open_string,
            "locked_share": self.lock.locked_share,
            "first_lock_s": self.lock.first_lock_s,
            "last_lock_s": self.lock.last_lock_s,
            "first_dropout_s": self.lock.first_dropout_s,
            "dropouts": [{"start_s": d.start_s, "end_s": d.end_s, "kind": d.kind} for d in self.lock.dropouts],
        }


@dataclass(frozen=True, eq=False)
class Tracking:
    """How one circuit tracks one take.

    Attributes
    ----------
    take, circuit
        Their names.
    notes
        In order of time.
    remarks
        What of the take was not counted as a note, in words.
    drive_s
        Times in seconds (m,) at which the first flip-flop changes.
    track
        The reference pitch.
    """

    take: str
    circuit: str
    notes: tuple[TrackedNote, ...]
    remarks: tuple[str, ...]
    drive_s: NDArray[np.float64]
    track: PitchTrack

    @property
    def locked_share(self) -> float | None:
        """Share of all notes' time with lock; None without notes."""
        return _share(self.notes)

    @property
    def open_string_locked_share(self) -> float | None:
        """Likewise, over open strings alone."""
        return _share(item for item in self.notes if item.note.open_string)

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain values for JSON."""
        return {
            "take": self.take,
            "circuit": self.circuit,
            "locked_share": self.locked_share,
            "open_string_locked_share": self.open_string_locked_share,
            "notes": [item.to_dict() for item in self.notes],
            "remarks": list(self.remarks),
        }


def track(
    take: Take, circuit: Circuit, *, name: str = "", tuning: str = "bass-4", cache: StageCache | None = None
) -> Tracking:
    """Return how a circuit's drive holds on to every note of a take.

    Parameters
    ----------
    take
        The take, in volts.
    circuit
        The circuit.
    name
        What the circuit is called in the result; its title when not given.
    tuning
        The instrument's open strings (see `open_strings`).
    cache
        Results shared between circuits on this take.

    Raises
    ------
    UnitError
        When the tuning is not known.
    """
    found = find_notes(take, tuning=tuning)
    pitch = reference_pitch(take)
    drive = detected_edges(take, circuit, cache=cache)[::2]
    notes = tuple(TrackedNote(note, _lock(drive, note, pitch)) for note in found.notes)
    return Tracking(take.name, name or circuit.title, notes, tuple(found.remarks), drive, pitch)


def _lock(drive: NDArray[np.float64], note: Note, pitch: PitchTrack) -> Lock:
    """Return the lock on one note: against its one pitch where that is steady, along its track where it moves."""
    if note.steady:
        return lock(drive, start_s=note.start_s, end_s=note.end_s, pitch_hz=note.pitch_hz)
    inside = (pitch.time_s >= note.start_s) & (pitch.time_s <= note.end_s) & np.isfinite(pitch.pitch_hz)
    if np.count_nonzero(inside) < 2:
        return lock(drive, start_s=note.start_s, end_s=note.end_s, pitch_hz=note.pitch_hz)
    curve = pitch.time_s[inside], pitch.pitch_hz[inside]
    return lock(drive, start_s=note.start_s, end_s=note.end_s, track=curve)


def _share(notes: Iterable[TrackedNote]) -> float | None:
    """Return the share of time with lock, every second of a note counting alike."""
    weighed = [(item.note.end_s - item.note.start_s, item.lock.locked_share) for item in notes]
    total = sum(seconds for seconds, _ in weighed)
    return sum(seconds * share for seconds, share in weighed) / total if weighed else None


def mean_share(results: Sequence[Tracking], *, open_strings: bool = False) -> float | None:
    """Return the share of time with lock over several takes."""
    return _share(item for result in results for item in result.notes if item.note.open_string or not open_strings)
