"""The tracking job: how a circuit's drive holds on to every note of a take."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Required, TypedDict

import numpy as np

from sublatch.arrays import Signal
from sublatch.circuit.devices.errors import comparator_offset_v
from sublatch.circuit.model import Circuit
from sublatch.circuit.real_thresholds import COMPARATORS
from sublatch.pitch.given.notes import GivenNotes
from sublatch.pitch.given.place import Placement, Reference, place
from sublatch.pitch.notes import Note, find_notes
from sublatch.pitch.reference.track import PitchTrack, reference_pitch
from sublatch.pitch.sounding import uncounted_share
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_edges, detector_key
from sublatch.signal.divider import drive_edges
from sublatch.signal.front_volts import front
from sublatch.takes.remarks import Remark
from sublatch.takes.take import Take
from sublatch.tracking.lock import Lock, lock, locked_share
from sublatch.tracking.lock_sums import LockSums, lock_sums
from sublatch.tracking.margins import UNKNOWN, Margins, NoteMargin, detected_margins, small_margins
from sublatch.tracking.phase import Fed, Switching

KEPT = 4
"""Takes whose notes are remembered."""


_notes: dict[tuple[str, str, GivenNotes | None], Reference] = {}


@dataclass(frozen=True)
class TrackedNote:
    """A note, how the drive held on to it, where in the note's cycle it switched, and what its edges have to spare."""

    note: Note
    lock: Lock
    switching: Switching
    margin: NoteMargin = UNKNOWN

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: note, lock, switching and margin flat."""
        return {
            "start_s": self.note.start_s,
            "end_s": self.note.end_s,
            "pitch_hz": self.note.pitch_hz,
            "name": self.note.name,
            "open_string": self.note.open_string,
            "locked_share": self.lock.locked_share,
            "first_lock_s": self.lock.first_lock_s,
            "last_lock_s": self.lock.last_lock_s,
            "first_lock_ms": self.lock.first_lock_ms,
            "early_locked_share": self.lock.early_locked_share,
            "uneven_share": self.lock.uneven_share,
            "first_dropout_s": self.lock.first_dropout_s,
            "dropouts": self.lock.dropouts,
            "phase_deg": self.switching.phase_deg,
            "spread_deg": self.switching.spread_deg,
            "jitter_deg": self.switching.jitter_deg,
            "jitter_ms": self.switching.jitter_ms,
            "step_share": self.switching.step_share,
            **vars(self.margin),
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
        What of the take was not counted as a note.
    drive_s
        Times in seconds (m,) at which the first flip-flop changes.
    track
        The reference pitch.
    unsure_share
        Share of all notes' time that those of unsure octave have, which are not among `notes`, 0 to 1.
    given
        How notes that were given lie in the take; None where its notes were found.
    comparators_off_mv
        How far the comparators are off, either way, in millivolts: what the margins are beyond.
    """

    take: str
    circuit: str
    notes: tuple[TrackedNote, ...]
    remarks: tuple[Remark, ...]
    drive_s: Signal
    track: PitchTrack
    unsure_share: float = 0.0
    given: Placement | None = None
    comparators_off_mv: float = 0.0

    @property
    def locked_share(self) -> float | None:
        """Share of all notes' time with lock; None without notes."""
        return locked_share_of(self.notes)

    @property
    def open_string_locked_share(self) -> float | None:
        """Likewise, over open strings alone."""
        return locked_share_of(item for item in self.notes if item.note.open_string)

    @property
    def step_share(self) -> float | None:
        """Mean step at the drive's edges as a share of the note's own peak; None without edges in lock."""
        return step_share_of(self.notes)

    @property
    def sums(self) -> LockSums:
        """How soon and how evenly the drive locks, over all notes."""
        return sums_of(self.notes)

    @property
    def least_margin_mv(self) -> float | None:
        """The least margin of a note, in millivolts at the comparator's input; None where none is known."""
        return least_margin_of(self.notes)

    @property
    def margin_remarks(self) -> tuple[Remark, ...]:
        """What there is to say of notes whose edges have little to spare: one remark or none."""
        return small_margins([(item.note, item.margin) for item in self.notes], off_mv=self.comparators_off_mv)

    @property
    def uncounted_share(self) -> float | None:
        """Share of the time in which the take sounds that is in none of the notes, 0 to 1; None where nothing does."""
        return uncounted_share(self.track, [item.note for item in self.notes])

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: shares and notes, no curves; how given notes lie where there are any."""
        told = {
            "take": self.take,
            "circuit": self.circuit,
            "locked_share": self.locked_share,
            "open_string_locked_share": self.open_string_locked_share,
            **vars(self.sums),
            "step_share": self.step_share,
            "least_margin_mv": self.least_margin_mv,
            "uncounted_share": self.uncounted_share,
            "unsure_share": self.unsure_share,
            "notes": self.notes,
            "remarks": (*self.remarks, *self.margin_remarks),
        }
        return told if self.given is None else told | {"given": self.given}


def track(
    take: Take,
    circuit: Circuit,
    *,
    name: str = "",
    tuning: str = "bass-4",
    notes: GivenNotes | None = None,
    cache: StageCache | None = None,
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
    notes
        The notes that were played, from `read_notes`, in place of those that are found.
    cache
        Results shared between circuits on this take.

    Raises
    ------
    UnitError
        When the tuning is not known.
    """
    cache = cache or StageCache()
    key = ("tracking", tuning, notes, _settings_that_count(circuit))

    def tracked() -> Tracking:
        return _track(take, circuit, reference_of(take, tuning=tuning, notes=notes), cache)

    return replace(cache.get(key, tracked), circuit=name or circuit.title)


def same_detectors(circuits: Mapping[str, Circuit]) -> list[tuple[str, ...]]:
    """Return the names of circuits, those together that track alike because their detectors are the same.

    Parameters
    ----------
    circuits
        Circuits by name; all that lies between the instrument and the drive is compared, with the drive switch.
    """
    groups: dict[object, list[str]] = {}
    for name, circuit in circuits.items():
        groups.setdefault(_settings_that_count(circuit), []).append(name)
    return [tuple(names) for names in groups.values()]


def _settings_that_count(circuit: Circuit) -> object:
    """Return the settings that tracking depends on: those of all that leads to the drive."""
    return detector_key(circuit), circuit.divider


def _track(take: Take, circuit: Circuit, played: Reference, cache: StageCache) -> Tracking:
    """Return how a circuit tracks what was played on a take."""
    drive = detected_edges(take, circuit, cache=cache)[::2]
    switched = drive_edges(drive, stages=circuit.divider.stages - 1)
    fed = cache.get(("fed", circuit.input), lambda: _fed(take, circuit, cache))
    margins = detected_margins(take, circuit, cache=cache)
    notes = tuple(_tracked(note, drive, switched, played.pitch, fed, margins) for note in played.notes.notes)
    remarks = (*played.notes.remarks, *played.notes.counted_remarks)
    return Tracking(
        *(take.name, circuit.title, notes, remarks, drive, played.pitch),
        unsure_share=played.notes.unsure_share,
        given=played.placement,
        comparators_off_mv=1000.0 * max(abs(comparator_offset_v(circuit.devices, role)) for role in COMPARATORS),
    )


def reference_of(take: Take, *, tuning: str, notes: GivenNotes | None = None) -> Reference:
    """Return what a drive is held against: given notes, or those found; remembered for the last few takes."""
    key = take.fingerprint(), tuning, notes
    if key not in _notes:
        if notes is None:
            played = Reference(find_notes(take, tuning=tuning), reference_pitch(take))
        else:
            played = place(take, notes, tuning=tuning)
        if len(_notes) >= KEPT:
            _notes.pop(next(iter(_notes)), None)
        _notes[key] = played
    return _notes[key]


class _Against(TypedDict, total=False):
    """What a drive is held against over one note, as `lock` takes it."""

    start_s: Required[float]
    end_s: Required[float]
    pitch_hz: float
    track: tuple[Signal, Signal]


def note_lock(drive: Signal, note: Note, pitch: PitchTrack) -> Lock:
    """Return the lock on one note: against its one pitch where that is steady, along its track where it moves."""
    return lock(drive, **_against(note, pitch))


def note_locked_share(drive: Signal, note: Note, pitch: PitchTrack) -> float:
    """Return the locked share of one note, as `note_lock` has it."""
    return locked_share(drive, **_against(note, pitch))


def _against(note: Note, pitch: PitchTrack) -> _Against:
    """Return what a drive is held against over one note."""
    track = _moving_pitch(note, pitch)
    if track is None:
        return {"start_s": note.start_s, "end_s": note.end_s, "pitch_hz": note.pitch_hz}
    return {"start_s": note.start_s, "end_s": note.end_s, "track": track}


def _fed(take: Take, circuit: Circuit, cache: StageCache) -> Fed:
    """Return what the octave stage is fed."""
    return Fed(front(take, circuit, cache)[0], sample_rate=take.sample_rate)


def _tracked(note: Note, drive: Signal, switched: Signal, pitch: PitchTrack, fed: Fed, margins: Margins) -> TrackedNote:
    """Return how the drive holds on to one note, where the octave stage is switched, and what the edges can spare."""
    held = note_lock(drive, note, pitch)
    track = _moving_pitch(note, pitch)
    where = fed.switching(
        switched,
        start_s=note.start_s,
        end_s=note.end_s,
        pitch_hz=note.pitch_hz if track is None else None,
        track=track,
        dropouts=held.dropouts,
    )
    spare = margins.of_note(start_s=note.start_s, end_s=note.end_s, dropouts=held.dropouts)
    return TrackedNote(note, held, where, spare)


def _moving_pitch(note: Note, pitch: PitchTrack) -> tuple[Signal, Signal] | None:
    """Return times and pitch of a note whose pitch moves; None where its one pitch is all there is to go by."""
    if note.steady:
        return None
    inside = (pitch.time_s >= note.start_s) & (pitch.time_s <= note.end_s) & np.isfinite(pitch.pitch_hz)
    return (pitch.time_s[inside], pitch.pitch_hz[inside]) if np.count_nonzero(inside) >= 2 else None


def locked_share_of(notes: Iterable[TrackedNote]) -> float | None:
    """Return the share of time with lock, 0 to 1, every second of a note counting alike; None without notes."""
    weighed = [(item.note.end_s - item.note.start_s, item.lock.locked_share) for item in notes]
    total = sum(seconds for seconds, _ in weighed)
    return sum(seconds * share for seconds, share in weighed) / total if weighed else None


def sums_of(notes: Iterable[TrackedNote]) -> LockSums:
    """Return how soon and how evenly a drive locks, over notes."""
    return lock_sums([(item.note.end_s - item.note.start_s, item.lock) for item in notes])


def mean_share(results: Sequence[Tracking], *, open_strings: bool = False) -> float | None:
    """Return the share of time with lock over several takes."""
    return locked_share_of(
        item for result in results for item in result.notes if item.note.open_string or not open_strings
    )


def mean_step(results: Sequence[Tracking]) -> float | None:
    """Return the mean step over the edges of several takes, as a share of the note's peak; None without any."""
    return step_share_of(item for result in results for item in result.notes)


def step_share_of(notes: Iterable[TrackedNote]) -> float | None:
    """Return the mean step over the edges of notes, as a share of each note's own peak; None without any."""
    found = [item.switching for item in notes]
    known = [(one.edges, one.step_share) for one in found if one.step_share is not None]
    total = sum(edges for edges, _ in known)
    return sum(edges * share for edges, share in known) / total if total else None


def least_margin_of(notes: Iterable[TrackedNote]) -> float | None:
    """Return the least margin of notes, in millivolts at the comparator's input; None where none is known."""
    return min((item.margin.margin_mv for item in notes if item.margin.margin_mv is not None), default=None)
