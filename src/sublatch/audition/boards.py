"""Candidates on a board: the one with a number, or the median or poorest of thirty by their lock on the takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sublatch.audition.folder.manifest import Manifest, digest
from sublatch.audition.plan.records import Audition, Candidate, TakeEntry
from sublatch.circuit.boards import drawn_board
from sublatch.errors import AudioDataError, AudioFileError
from sublatch.takes.take import Take, read_take

COUNT = 30
"""Boards among which the median and the poorest one are found, from the first on."""


@dataclass(frozen=True)
class BoardShares:
    """What boards make of a take: the notes' time in seconds, and the locked share of each board."""

    seconds: float
    locked: tuple[float, ...]


def with_boards_found(plan: Audition, manifest: Manifest) -> Audition:
    """Return an audition whose candidates on a median or poorest board have that board's number and values.

    Parameters
    ----------
    plan
        The audition.
    manifest
        What an earlier run has kept, and what this one keeps.

    Notes
    -----
    Over all takes that can be read, every second of a note counting alike. Without any note it is the first board.
    """
    if not any(isinstance(candidate.board, str) for candidate in plan.candidates):
        return plan
    takes = [(entry, take) for entry in plan.plan.takes if (take := _read(plan, entry)) is not None]
    found = (_found(candidate, plan, takes, manifest) for candidate in plan.candidates)
    return replace(plan, candidates=tuple(found))


def on_board(candidate: Candidate, number: int) -> Candidate:
    """Return a candidate on the board with a number."""
    settings = {**candidate.settings, "board": number}
    return replace(candidate, circuit=drawn_board(candidate.circuit, number), settings=settings, board=number)


def _read(plan: Audition, entry: TakeEntry) -> Take | None:
    """Return a take; None where it cannot be read, which is told when its turn comes."""
    try:
        return read_take(plan.take_path(entry), full_scale_volts=plan.full_scale_volts(entry), channel=entry.channel)
    except (AudioFileError, AudioDataError):
        return None


def _found(
    candidate: Candidate, plan: Audition, takes: Sequence[tuple[TakeEntry, Take]], manifest: Manifest
) -> Candidate:
    """Return a candidate on the board that its word stands for."""
    if not isinstance(candidate.board, str):
        return candidate
    shares = [_shares(candidate, take, plan.tuning(entry), manifest) for entry, take in takes]
    total = sum((one.seconds * np.array(one.locked) for one in shares), np.zeros(COUNT))
    order = np.argsort(total, kind="stable")
    place = 0 if candidate.board == "poorest" else (len(order) - 1) // 2
    return on_board(candidate, 1 + int(order[place]))


def _shares(candidate: Candidate, take: Take, tuning: str, manifest: Manifest) -> BoardShares:
    """Return what boards of a candidate make of a take, kept from an earlier run or worked out."""
    circuit = candidate.circuit.model_dump(mode="json", exclude={"title", "knobs", "filter", "mix"})
    key = digest("boards", take.fingerprint(), tuning, circuit)
    kept = manifest.measured(key, BoardShares)
    if kept is None:
        from sublatch.circuit.boards import BoardDraws
        from sublatch.tracking.boards import lock_over_boards

        lock = lock_over_boards(take, candidate.circuit, draws=BoardDraws(COUNT), tuning=tuning)
        kept = BoardShares(0.0, (0.0,) * COUNT)
        if lock is not None:
            seconds = sum(note.end_s - note.start_s for note in lock.notes)
            kept = BoardShares(seconds, tuple(round(float(share), 6) for share in lock.locked))
    manifest.keep_measured(key, kept)
    return kept
