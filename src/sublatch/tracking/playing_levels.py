"""Lock over playing level: whether a circuit holds on because it is good, or because the take has just the right level.

The take is played again softer and louder, in decibels against what it is; the notes stay what they are. The window is
the stretch of levels around the best one within which the circuit keeps 95 % of its best lock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sublatch.arrays import Signal
from sublatch.circuit.model import Circuit
from sublatch.errors import AudioDataError
from sublatch.pitch.given.notes import GivenNotes
from sublatch.pitch.notes import Note
from sublatch.signal.cache import StageCache
from sublatch.takes.take import Take
from sublatch.tracking.drive_over_level import drives_over_level
from sublatch.tracking.track import note_locked_share, reference_of
from sublatch.units.scales import db_to_ratio

GAINS_DB = tuple(float(gain) for gain in range(-24, 13, 3))
"""Playing levels that are tried, in decibels against the take as it is."""
MOST_GAIN_DB = 120.0
KEPT_SHARE = 0.95
"""Share of its best lock that a circuit keeps within its window."""


@dataclass(frozen=True)
class LevelWindow:
    """The levels within which a circuit keeps 95 % of its best lock.

    Attributes
    ----------
    low_db, high_db
        Lowest and highest gain in decibels against the take as it is.
    low_volts, high_volts
        The take's peak at that gain, in volts.
    or_lower, or_higher
        Whether the window goes on beyond the levels that were tried.
    best_share
        The best lock at any of these levels, 0 to 1.
    """

    low_db: float
    high_db: float
    low_volts: float
    high_volts: float
    or_lower: bool
    or_higher: bool
    best_share: float


@dataclass(frozen=True, eq=False)
class LevelRow:
    """All notes of one name: the name, whether it is an open string, and their lock at each level (k,)."""

    name: str
    open_string: bool
    shares: Signal


@dataclass(frozen=True, eq=False)
class LevelLock:
    """How a circuit's lock on one take depends on playing level.

    Attributes
    ----------
    take, circuit
        Their names.
    gains_db
        Levels in decibels against the take as it is (k,), rising.
    peak_volts
        The peak of the take as it is.
    notes
        In order of time.
    shares
        Share of each note's time with lock at each level (notes, k).
    """

    take: str
    circuit: str
    gains_db: Signal
    peak_volts: float
    notes: tuple[Note, ...]
    shares: Signal

    @property
    def locked_share(self) -> Signal | None:
        """Share of all notes' time with lock at each level (k,); None without notes."""
        return self.mean_of(range(len(self.notes)))

    @property
    def window(self) -> LevelWindow | None:
        """Where 95 % of the best lock on all notes is kept; None where nothing ever locks."""
        overall = self.locked_share
        return None if overall is None else level_window(self.gains_db, overall, peak_volts=self.peak_volts)

    def mean_of(self, chosen: Sequence[int]) -> Signal | None:
        """Return the share of some notes' time with lock at each level (k,), notes by number; None without any."""
        if not chosen:
            return None
        seconds = [self.notes[number].end_s - self.notes[number].start_s for number in chosen]
        return np.asarray(np.average(self.shares[list(chosen)], axis=0, weights=seconds), dtype=np.float64)

    def by_name(self) -> list[LevelRow]:
        """Return the lock of notes of the same name together, from the lowest to the highest."""
        names: dict[str, list[int]] = {}
        for number in sorted(range(len(self.notes)), key=lambda number: self.notes[number].pitch_hz):
            names.setdefault(self.notes[number].name, []).append(number)
        return [
            LevelRow(name, any(self.notes[number].open_string for number in chosen), shares)
            for name, chosen in names.items()
            if (shares := self.mean_of(chosen)) is not None
        ]

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the window, and the map by note."""
        notes = [
            {"start_s": note.start_s, "name": note.name, "locked_share": shares}
            for note, shares in zip(self.notes, self.shares, strict=True)
        ]
        return {
            "take": self.take,
            "circuit": self.circuit,
            "level_window": self.window,
            "level_map": {
                "gains_db": self.gains_db,
                "peak_volts": self.peak_volts,
                "locked_share": self.locked_share,
                "notes": notes,
            },
        }


def lock_over_level(
    take: Take,
    circuit: Circuit,
    *,
    gains_db: Sequence[float] = GAINS_DB,
    name: str = "",
    tuning: str = "bass-4",
    notes: GivenNotes | None = None,
    cache: StageCache | None = None,
) -> LevelLock:
    """Return how a circuit's lock depends on the level at which a take is played.

    Parameters
    ----------
    take
        The take, in volts.
    circuit
        The circuit.
    gains_db
        Levels to try, in decibels against the take as it is, −120 to 120, rising.
    name
        What the circuit is called in the result; its title when not given.
    tuning
        The instrument's open strings (see `open_strings`).
    notes
        The notes that were played, from `read_notes`, in place of those that are found.
    cache
        Results shared between circuits on this take, and with `track`.

    Raises
    ------
    AudioDataError
        When there are no levels, or they do not rise.
    UnitError
        When the tuning is not known.

    Notes
    -----
    At 0 dB every share is what `track` finds. The input follower has no limits here, so that only the comparator's
    thresholds, the detector's amplifiers at their limits, and a leveller make level matter.
    """
    gains = _checked(gains_db)
    cache = cache or StageCache()
    played = reference_of(take, tuning=tuning, notes=notes)
    counted = played.notes.notes
    shares = np.empty((len(counted), len(gains)))
    if counted:
        ratios = [float(db_to_ratio(gain)) for gain in gains]
        drives = drives_over_level(take, ratios, circuit=circuit, cache=cache)
        shares = np.array([[note_locked_share(drive, note, played.pitch) for drive in drives] for note in counted])
    peak_volts = float(np.max(np.abs(take.samples)))
    return LevelLock(take.name, name or circuit.title, gains, peak_volts, counted, shares)


def level_window(gains_db: Signal, shares: Signal, *, peak_volts: float) -> LevelWindow | None:
    """Return the levels around the best one within which a circuit keeps 95 % of its best lock.

    Parameters
    ----------
    gains_db
        Levels in decibels against the take as it is (k,), rising.
    shares
        Lock at each (k,), 0 to 1; straight in between.
    peak_volts
        The peak of the take as it is.

    Returns
    -------
    LevelWindow or None
        None where nothing ever locks. Where the best lock comes more than once the window is the one around the level
        nearest to the take's own.
    """
    best = float(np.max(shares))
    if best <= 0.0:
        return None
    least = KEPT_SHARE * best
    tops = np.flatnonzero(shares == best)
    top = int(tops[np.argmin(np.abs(gains_db[tops]))])
    low, high = _reach(gains_db, shares, least, top, -1), _reach(gains_db, shares, least, top, 1)
    return LevelWindow(
        low_db=low,
        high_db=high,
        low_volts=peak_volts * float(db_to_ratio(low)),
        high_volts=peak_volts * float(db_to_ratio(high)),
        or_lower=bool(np.all(shares[: top + 1] >= least)),
        or_higher=bool(np.all(shares[top:] >= least)),
        best_share=best,
    )


def _reach(gains_db: Signal, shares: Signal, least: float, top: int, step: int) -> float:
    """Return how far the window reaches down (step −1) or up (+1) from its best level."""
    place = top
    while 0 <= place + step < len(shares) and shares[place + step] >= least:
        place += step
    beyond = place + step
    if not 0 <= beyond < len(shares):
        return float(gains_db[place])
    way = (shares[place] - least) / (shares[place] - shares[beyond])
    return float(gains_db[place] + way * (gains_db[beyond] - gains_db[place]))


def _checked(gains_db: Sequence[float]) -> Signal:
    """Return levels as an array; refuse what cannot be asked."""
    gains = np.asarray(gains_db, dtype=np.float64)
    if gains.ndim != 1 or len(gains) == 0:
        raise AudioDataError(f"gains_db must hold at least one level in dB, got {list(gains_db)!r}")
    if not np.all(np.abs(gains) <= MOST_GAIN_DB):
        raise AudioDataError(f"gains_db must lie within ±{MOST_GAIN_DB:g} dB, got {list(gains_db)!r}; are they ratios?")
    if np.any(np.diff(gains) <= 0.0):
        raise AudioDataError(f"gains_db must rise from each to the next, got {list(gains_db)!r}")
    return gains
