"""A take's notes gathered by string: each open string, and what is fretted between one string's pitch and the next's.

On which string a fretted note was played cannot be told from its sound, so that these go by pitch alone.
"""

from __future__ import annotations

from bisect import bisect
from collections import Counter
from dataclasses import dataclass
from typing import Any

from sublatch.pitch.open_strings import open_strings
from sublatch.tracking.lock_sums import LockSums
from sublatch.tracking.track import TrackedNote, Tracking, least_margin_of, locked_share_of, step_share_of, sums_of


@dataclass(frozen=True)
class StringLock:
    """How a circuit holds on to the notes of one string, or of the stretch between two.

    Attributes
    ----------
    name
        Such as "E1 open", "E1 to A1", "below E1" or "above G2".
    notes
        In order of time.
    """

    name: str
    notes: tuple[TrackedNote, ...]

    @property
    def locked_share(self) -> float | None:
        """Share of the notes' time with lock, 0 to 1."""
        return locked_share_of(self.notes)

    @property
    def least_locked_share(self) -> float:
        """The same of the note that is held on to worst."""
        return min(item.lock.locked_share for item in self.notes)

    @property
    def sums(self) -> LockSums:
        """How soon and how evenly the drive locks."""
        return sums_of(self.notes)

    @property
    def step_share(self) -> float | None:
        """Mean step at the drive's edges as a share of the note's own peak; None without edges in lock."""
        return step_share_of(self.notes)

    @property
    def least_margin_mv(self) -> float | None:
        """The least margin of a note, in millivolts at the comparator's input; None where none is known."""
        return least_margin_of(self.notes)

    @property
    def dropouts(self) -> dict[str, int]:
        """How many dropouts there are of each kind, the most frequent first."""
        return dict(Counter(dropout.kind for item in self.notes for dropout in item.lock.dropouts).most_common())

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the notes counted."""
        return {
            "name": self.name,
            "notes": len(self.notes),
            "locked_share": self.locked_share,
            "least_locked_share": self.least_locked_share,
            **vars(self.sums),
            "step_share": self.step_share,
            "least_margin_mv": self.least_margin_mv,
            "dropouts": self.dropouts,
        }


def by_string(tracking: Tracking, *, tuning: str) -> list[StringLock]:
    """Return how a circuit holds on to the notes of a take string by string, from the lowest pitch up.

    Parameters
    ----------
    tracking
        From `track`.
    tuning
        The instrument's open strings (see `open_strings`).

    Raises
    ------
    UnitError
        When the tuning is not known.
    """
    strings = sorted((pitch_hz, name) for name, pitch_hz in open_strings(tuning).items())
    rows: dict[tuple[int, bool], list[TrackedNote]] = {}
    for item in tracking.notes:
        rows.setdefault(_row(item, [pitch_hz for pitch_hz, _ in strings]), []).append(item)
    names = [name for _, name in strings]
    return [StringLock(_name(*key, names), tuple(rows[key])) for key in sorted(rows)]


def _row(item: TrackedNote, pitches_hz: list[float]) -> tuple[int, bool]:
    """Return a note's place among the rising strings: the string below it, −1 for none, and whether it is fretted."""
    if item.note.open_string:
        ratios = [max(item.note.pitch_hz / pitch_hz, pitch_hz / item.note.pitch_hz) for pitch_hz in pitches_hz]
        return ratios.index(min(ratios)), False
    return bisect(pitches_hz, item.note.pitch_hz) - 1, True


def _name(string: int, fretted: bool, names: list[str]) -> str:
    """Return what a row is called."""
    if not fretted:
        return f"{names[string]} open"
    if string < 0:
        return f"below {names[0]}"
    return f"above {names[-1]}" if string == len(names) - 1 else f"{names[string]} to {names[string + 1]}"
