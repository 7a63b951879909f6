"""How candidates track a take: worked out once for each detector, and known again in a later run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from sublatch.arrays import Array
from sublatch.audition.folder.manifest import Manifest, digest
from sublatch.audition.plan.records import Candidate
from sublatch.circuit.model import Circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.json_data import plain_values
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_edges, detector_key
from sublatch.signal.moves import Move
from sublatch.takes.remarks import Remark
from sublatch.takes.take import Take
from sublatch.tracking.lock import Dropout
from sublatch.tracking.lock_sums import LockSums

if TYPE_CHECKING:
    from sublatch.tracking.track import Tracking

DECIMALS = 6
"""Decimals that are kept of times, pitches and shares: a microsecond, a millionth."""


@dataclass(frozen=True)
class TakeNote:
    """A note of a take.

    Attributes
    ----------
    start_s, end_s
        In seconds of the take.
    pitch_hz, name
        Its pitch, and the note nearest to it.
    open_string
        Whether it is an open string of the tuning.
    """

    start_s: float
    end_s: float
    pitch_hz: float
    name: str
    open_string: bool


@dataclass(frozen=True)
class Tracked:
    """A take's notes, and how one detector holds on to them.

    Attributes
    ----------
    notes, remarks
        In order of time, and what was not counted as a note, in words.
    locked_share, open_string_locked_share
        Share of the notes' time with lock, 0 to 1, of all notes and of open strings; None without any.
    note_locked_shares
        The same note by note.
    dropouts
        Of all notes, in order of time.
    sums
        How soon and how evenly the drive locks.
    note_first_lock_ms
        Milliseconds from each note's start to its first lock; None for one that never locks.
    uncounted_share
        Share of the time in which the take sounds that is in none of the notes, 0 to 1; None where nothing does.
    unsure_share
        Share of all notes' time that those of unsure octave have, which are not among `notes`, 0 to 1.
    """

    notes: tuple[TakeNote, ...] = ()
    remarks: tuple[Remark, ...] = ()
    locked_share: float | None = None
    open_string_locked_share: float | None = None
    note_locked_shares: tuple[float, ...] = ()
    dropouts: tuple[Dropout, ...] = ()
    sums: LockSums = field(default_factory=LockSums)
    note_first_lock_ms: tuple[float | None, ...] = ()
    uncounted_share: float | None = None
    unsure_share: float = 0.0


Record = TypeVar("Record", TakeNote, Dropout, LockSums, Tracked)


def track_candidates(
    take: Take, candidates: Sequence[Candidate], *, tuning: str, cache: StageCache, manifest: Manifest
) -> list[Tracked]:
    """Return how each candidate tracks a take, those with the same detector at the cost of one.

    Of a candidate's moves only the drive switch's change what its detector does, and count.

    Parameters
    ----------
    take
        The take.
    candidates
        The candidates.
    tuning
        The instrument's open strings.
    cache
        Results shared with the renderings of this take.
    manifest
        What an earlier run has kept, and what this one keeps.
    """
    tracked: dict[str, Tracked] = {}
    keys = [_key(take, candidate, tuning) for candidate in candidates]
    for key, candidate in zip(keys, candidates, strict=True):
        if key not in tracked:
            tracked[key] = manifest.measured(key, Tracked) or _tracked(take, candidate, tuning, cache)
            manifest.keep_measured(key, tracked[key])
    return [tracked[key] for key in keys]


def _key(take: Take, candidate: Candidate, tuning: str) -> str:
    """Return what stands for all that tracking depends on: nothing from the divider on."""
    moves = plain_values(_drive_moves(candidate))
    return digest("tracking", take.fingerprint(), tuning, detector_key(candidate.circuit), *([moves] if moves else []))


def _drive_moves(candidate: Candidate) -> list[Move]:
    """Return a candidate's moves of the drive switch."""
    return [move for move in candidate.moves if move.control == "switches.drive"]


def _tracked(take: Take, candidate: Candidate, tuning: str, cache: StageCache) -> Tracked:
    """Return how a candidate tracks a take."""
    from sublatch.tracking.track import note_lock, track

    tracking = track(take, candidate.circuit, name=candidate.name, tuning=tuning, cache=cache)
    moves = _drive_moves(candidate)
    if moves:
        drive_s = _thrown_drive(take, candidate.circuit, moves, cache)
        notes = (replace(t, lock=note_lock(drive_s, t.note, tracking.track)) for t in tracking.notes)
        tracking = replace(tracking, notes=tuple(notes), drive_s=drive_s)
    return _shortened(tracking)


def _thrown_drive(take: Take, circuit: Circuit, moves: Sequence[Move], cache: StageCache) -> Array:
    """Return the first flip-flop's edges in seconds (m,) while the drive switch is thrown: each one's in its time."""
    positions = [moves[0].start, *(move.end for move in moves)]
    bounds_s = [-np.inf, *(0.5 * (move.start_s + move.stop_s) for move in moves), np.inf]
    stretches = []
    for position, (since_s, until_s) in zip(positions, pairwise(bounds_s), strict=True):
        edges = detected_edges(take, with_settings(circuit, {"switches.drive": position}), cache=cache)[::2]
        stretches.append(edges[(edges > since_s) & (edges <= until_s)])
    return np.concatenate(stretches)


def _shortened(tracking: Tracking) -> Tracked:
    """Return what an audition says of tracking, in whole millionths so that it is short."""
    notes = [tracked.note for tracked in tracking.notes]
    locks = [tracked.lock for tracked in tracking.notes]
    first_ms = (lock.first_lock_ms for lock in locks)
    tracked = Tracked(
        notes=tuple(_rounded(TakeNote(n.start_s, n.end_s, n.pitch_hz, n.name, n.open_string)) for n in notes),
        remarks=tuple(tracking.remarks),
        locked_share=tracking.locked_share,
        open_string_locked_share=tracking.open_string_locked_share,
        note_locked_shares=tuple(round(lock.locked_share, DECIMALS) for lock in locks),
        dropouts=tuple(_rounded(dropout) for lock in locks for dropout in lock.dropouts),
        sums=_rounded(tracking.sums),
        note_first_lock_ms=tuple(None if ms is None else round(ms, DECIMALS) for ms in first_ms),
        uncounted_share=tracking.uncounted_share,
        unsure_share=tracking.unsure_share,
    )
    return _rounded(tracked)


def _rounded(record: Record) -> Record:
    """Return a record with its own numbers in whole millionths."""
    rounded: dict[str, Any] = {
        name: round(value, DECIMALS) for name, value in vars(record).items() if isinstance(value, float)
    }
    return replace(record, **rounded)
