"""Lock: whether the drive runs at half the note's pitch, told from the times at which it changes.

Time is measured in periods of the note: the reference pitch, integrated from the note's start, turns seconds into
cycles, and a drive that locks changes once a cycle whatever the pitch does. An instant is in lock where it is within
some four cycles of the note over which the drive's pitch is within 50 cents of half the note's: what is odd costs its
own time, not that of the right cycles next to it. Dropouts are looked for where the four cycles with it in their middle
are not right, so that none is passed over, and then told by their own changes. The first lock is told at a change of
the drive, since a late octave is heard. A drive that changes three times a cycle sounds an octave down too, with more
edges, but has no lock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from sublatch.arrays import Flags, Signal
from sublatch.tracking.in_lock import GRID_PER_CYCLE, TOLERANCE_CENTS, WINDOW_CYCLES, cents_of, in_lock, rates

Kind = Literal["skip", "stall", "stray"]

ODD_CYCLE = 0.2
"""How far one change may be from a cycle after the one before, before it counts as the start of a dropout."""
HALF_CYCLE = (0.35, 0.65)
"""Between which lengths, in cycles, one change after another is a change too many."""
MISSING_CYCLES = 1.5
"""From which length on, in cycles, a change is missing."""
KIND_CENTS = 200.0
"""How far a drive may be from the note's own pitch, in cents, where it is said to run at that."""
LEAST_CYCLES = 1.0
"""A shorter stretch without lock is not counted as a dropout."""
LEAST_ODD_CYCLES = 1.5
"""A part of a dropout with fewer odd cycles is not told apart: the edges of a stall or a skip are seldom clean."""
EARLY_S = 0.15
"""What counts as the beginning of a note, in seconds."""
UNEVEN_CYCLES = 0.1
"""By how much one period of the drive must differ from the next, in cycles, for a step up or down."""
UNEVEN_STEPS = 4
"""How many steps, up and down in turn, make periods that alternate; a single change out of place makes three."""


@dataclass(frozen=True)
class Dropout:
    """A stretch of a sounding note without lock.

    Attributes
    ----------
    start_s, end_s
        In seconds of the take.
    kind
        ``skip``: the drive at the note's own pitch; ``stall``: no drive; ``stray``: anything else.
    """

    start_s: float
    end_s: float
    kind: Kind


@dataclass(frozen=True)
class Lock:
    """How a drive held on to one note.

    Attributes
    ----------
    locked_share
        Share of the note's time with lock, 0 to 1.
    first_lock_s, last_lock_s
        When it first locked and when it last did, in seconds of the take; None when it never did.
    dropouts
        In order of time.
    first_lock_ms
        Milliseconds from the note's start to the first change of the drive that four right periods follow, or where a
        note of fewer than five cycles has no room for four, one for every whole cycle after its first: together within
        50 cents of as many of the note's, none of them a half (up to 0.65 cycles) or with a change missing (from 1.5
        on). None where there is no such change.
    early_locked_share
        As `locked_share`, of the note's first 150 ms, or of all of it where it is shorter.
    uneven_share
        Share of the drive's periods in lock that alternate, 0 to 1: they belong to a row of longer and shorter ones in
        turn, each of at least four steps by more than a tenth of a cycle. None without a period in lock.
    """

    locked_share: float
    first_lock_s: float | None
    last_lock_s: float | None
    dropouts: tuple[Dropout, ...]
    first_lock_ms: float | None = None
    early_locked_share: float | None = None
    uneven_share: float | None = None

    @property
    def first_dropout_s(self) -> float | None:
        """When lock was first missing, in seconds of the take."""
        return self.dropouts[0].start_s if self.dropouts else None


def lock(
    drive: Signal,
    *,
    start_s: float,
    end_s: float,
    pitch_hz: float | None = None,
    track: tuple[ArrayLike, ArrayLike] | None = None,
) -> Lock:
    """Return how a drive holds on to one note.

    Parameters
    ----------
    drive
        Times in seconds (m,) at which the first flip-flop changes: once a period of the note where it locks.
    start_s, end_s
        From where to where the note counts, in seconds.
    pitch_hz
        The note's pitch, where it is steady.
    track
        Times in seconds (k,) and pitch in hertz (k,) where it is not; one of the two is needed.

    Raises
    ------
    ValueError
        When neither a pitch nor a track is given, or the note has no length.
    """
    to_cycles, to_seconds = _clock(start_s, end_s, pitch_hz, track)
    inside = drive[(drive >= start_s) & (drive <= end_s)]
    changes, grid, length = _in_cycles(inside, end_s, to_cycles)
    locked = in_lock(changes, grid, length=length)
    odd = np.abs(cents_of(rates(changes, grid, length=length))) >= TOLERANCE_CENTS
    lost = _joined([_lost(changes, grid[first], grid[last], length) for first, last in _runs(odd)])
    parts = [part for start, end in lost for part in _parts(changes, start, end)]
    times_s, first = to_seconds(grid), _first_right(changes, length)
    locked_s = times_s[locked]
    return Lock(
        locked_share=float(np.mean(locked)),
        first_lock_s=float(locked_s[0]) if len(locked_s) else None,
        last_lock_s=float(locked_s[-1]) if len(locked_s) else None,
        dropouts=_dropouts(parts, to_seconds),
        first_lock_ms=None if first is None else 1000.0 * float(inside[first] - start_s),
        early_locked_share=float(np.mean(locked[times_s < start_s + EARLY_S])),
        uneven_share=_uneven_share(changes, locked),
    )


def locked_share(
    drive: Signal,
    *,
    start_s: float,
    end_s: float,
    pitch_hz: float | None = None,
    track: tuple[ArrayLike, ArrayLike] | None = None,
) -> float:
    """Return the locked share alone of what `lock` tells, which takes a third of the time."""
    to_cycles, _ = _clock(start_s, end_s, pitch_hz, track)
    changes, grid, length = _in_cycles(drive[(drive >= start_s) & (drive <= end_s)], end_s, to_cycles)
    return float(np.mean(in_lock(changes, grid, length=length)))


def locked_percent(share: float | None) -> str:
    """Return a share of time with lock in per cent, a dash where there is none; it says 100 only of all the time."""
    if share is None:
        return "–"
    return "100" if share == 1.0 else f"{min(100 * share, 99.9):.1f}"


Clock = Callable[[Signal], Signal]


def _clock(
    start_s: float, end_s: float, pitch_hz: float | None, track: tuple[ArrayLike, ArrayLike] | None
) -> tuple[Clock, Clock]:
    """Return the functions from seconds to cycles since the note's start, and back."""
    if end_s <= start_s:
        raise ValueError(f"a note must end after it starts, got {start_s:.4f} s to {end_s:.4f} s")
    if pitch_hz is not None:
        return (lambda t: (t - start_s) * pitch_hz), (lambda c: start_s + c / pitch_hz)
    if track is None:
        raise ValueError("lock needs a pitch_hz or a track")
    times, pitch = (np.asarray(values, dtype=float) for values in track)
    grid = np.linspace(start_s, end_s, max(2, int((end_s - start_s) * 1000)))
    at = np.interp(grid, times, pitch)
    cycles = np.concatenate(([0.0], np.cumsum(0.5 * (at[1:] + at[:-1]) * np.diff(grid))))
    return (lambda t: np.interp(t, grid, cycles)), (lambda c: np.interp(c, cycles, grid))


def _in_cycles(inside: Signal, end_s: float, to_cycles: Clock) -> tuple[Signal, Signal, float]:
    """Return a note's changes (m,), the places at which lock is told (n,), and its length, all in cycles."""
    length = float(to_cycles(np.array([end_s]))[0])
    grid = (np.arange(max(1, int(length * GRID_PER_CYCLE))) + 0.5) / GRID_PER_CYCLE
    return to_cycles(inside), grid, length


def _first_right(changes: Signal, length: float) -> int | None:
    """Return the number of the first change that right periods follow, None without one."""
    ahead = int(np.clip(np.floor(length) - 1.0, 1.0, WINDOW_CYCLES))
    if len(changes) <= ahead:
        return None
    periods = np.lib.stride_tricks.sliding_window_view(np.diff(changes), ahead)
    whole = np.all((periods > HALF_CYCLE[1]) & (periods < MISSING_CYCLES), axis=1)
    near = np.abs(cents_of(ahead / (changes[ahead:] - changes[:-ahead]))) < TOLERANCE_CENTS
    found = np.flatnonzero(whole & near)
    return int(found[0]) if len(found) else None


def _uneven_share(changes: Signal, locked: Flags) -> float | None:
    """Return which share of the drive's periods whose middles are in lock alternates; None without any."""
    middles = 0.5 * (changes[1:] + changes[:-1])
    counted = locked[np.minimum((middles * GRID_PER_CYCLE).astype(np.intp), len(locked) - 1)]
    return float(np.mean(_alternating(np.diff(changes))[counted])) if np.any(counted) else None


def _alternating(periods: Signal) -> Flags:
    """Return which periods alternate: all steps at their sides go up and down in turn, and there are enough of them."""
    steps = np.diff(periods)
    large = np.abs(steps) > UNEVEN_CYCLES
    in_turn = np.zeros(len(steps), dtype=np.bool_)
    for first, last in _runs(large[1:] & large[:-1] & (steps[1:] * steps[:-1] < 0.0)):
        in_turn[first : last + 2] = last + 2 - first >= UNEVEN_STEPS
    before, after = np.concatenate((in_turn[:1], in_turn)), np.concatenate((in_turn, in_turn[-1:]))
    return before & after if len(steps) else np.zeros(len(periods), dtype=np.bool_)


def _dropouts(parts: list[Part], to_seconds: Clock) -> tuple[Dropout, ...]:
    """Return the parts of dropouts, in cycles since the note's start, as dropouts in seconds of the take."""
    ends_s = to_seconds(np.array([(start, end) for start, end, _ in parts]).reshape(-1, 2))
    return tuple(
        Dropout(float(start_s), float(end_s), kind)
        for (start_s, end_s), (_, _, kind) in zip(ends_s, parts, strict=True)
    )


def _runs(flags: Flags) -> list[tuple[int, int]]:
    """Return the first and the last index of each stretch of true flags."""
    steps = np.diff(np.concatenate(([0], flags.astype(np.int8), [0])))
    starts, stops = np.flatnonzero(steps == 1), np.flatnonzero(steps == -1)
    return [(int(start), int(stop) - 1) for start, stop in zip(starts, stops, strict=True)]


Stretch = tuple[float, float]
Part = tuple[float, float, Kind]


def _lost(changes: Signal, low: float, high: float, length: float) -> Stretch:
    """Return one stretch without lock, its ends moved to the odd cycles that made it."""
    inner = _odd_stretch(changes, low, high, length)
    return inner if inner is not None else (float(low), float(high))


def _joined(lost: list[Stretch]) -> list[Stretch]:
    """Return stretches with those that overlap made one, and the shortest left out."""
    joined: list[Stretch] = []
    for start, end in sorted(lost):
        if joined and start < joined[-1][1]:
            joined[-1] = joined[-1][0], max(end, joined[-1][1])
        else:
            joined.append((start, end))
    return [(start, end) for start, end in joined if end - start >= LEAST_CYCLES]


def _odd_stretch(changes: Signal, low: float, high: float, length: float) -> tuple[float, float] | None:
    """Return from where to where changes do not follow one another by a cycle; the note's ends count as changes."""
    bounds = np.concatenate(([0.0], changes, [length]))
    gaps = np.diff(bounds)
    odd = np.abs(gaps - 1.0) > ODD_CYCLE
    odd[0], odd[-1] = gaps[0] > 1.0 + ODD_CYCLE, gaps[-1] > 1.0 + ODD_CYCLE
    near = odd & (bounds[1:] >= low - 0.5) & (bounds[:-1] <= high + 0.5)
    where = np.flatnonzero(near)
    return None if len(where) == 0 else (float(bounds[where[0]]), float(bounds[where[-1] + 1]))


def _parts(changes: Signal, start: float, end: float) -> list[Part]:
    """Return the parts of a dropout by how lock was lost, from one change to another."""
    bounds = np.concatenate(([start], changes[(changes > start + 1e-9) & (changes < end - 1e-9)], [end]))
    gaps = np.diff(bounds)
    named = _kinds(gaps)
    if not any(named):
        return [(start, end, _kind_of_drift(len(gaps) / (end - start)))]
    first = next(kind for kind in named if kind)
    parts: list[Part] = []
    for low, high, kind in zip(bounds[:-1], bounds[1:], named, strict=True):
        parts.append((float(low), float(high), kind or (parts[-1][2] if parts else first)))
    odd = np.concatenate(([0.0], np.cumsum(np.where([kind is None for kind in named], 0.0, gaps))))
    return _without_scraps(_same_joined(parts), lambda place: float(np.interp(place, bounds, odd)))


def _kinds(gaps: Signal) -> list[Kind | None]:
    """Return what each time from change to change tells, in cycles; None for a cycle as it should be."""
    pairs = np.abs(gaps[1:] + gaps[:-1] - 1.0) < ODD_CYCLE
    paired = np.concatenate((pairs, [False])) | np.concatenate(([False], pairs))
    low, high = HALF_CYCLE
    kinds: list[Kind | None] = []
    for gap, is_half in zip(gaps, paired | ((gaps > low) & (gaps < high)), strict=True):
        if abs(gap - 1.0) <= ODD_CYCLE:
            kinds.append(None)
        else:
            kinds.append("stall" if gap >= MISSING_CYCLES else "skip" if is_half else "stray")
    return kinds


def _kind_of_drift(rate: float) -> Kind:
    """Return how lock was lost where no cycle stands out, by the changes a cycle over the whole stretch."""
    return "skip" if abs(1200.0 * np.log2(rate / 2.0)) < KIND_CENTS else "stray"


def _without_scraps(parts: list[Part], odd: Callable[[float], float]) -> list[Part]:
    """Return the parts of a dropout, the shortest joined to the longer of their neighbours until none is too short.

    What is odd up to a place is given in cycles. A cycle that is a little late or early at either end is left out.
    """
    while len(parts) > 1:
        lengths = [odd(end) - odd(start) for start, end, _ in parts]
        place = int(np.argmin(lengths))
        if lengths[place] >= LEAST_ODD_CYCLES:
            break
        if parts[place][2] == "stray" and place in (0, len(parts) - 1):
            del parts[place]
            continue
        around = [other for other in (place - 1, place + 1) if 0 <= other < len(parts)]
        other = max(around, key=lambda one: lengths[one])
        first, last = sorted((place, other))
        parts[first : last + 1] = [(parts[first][0], parts[last][1], parts[other][2])]
        parts = _same_joined(parts)
    return parts


def _same_joined(parts: list[Part]) -> list[Part]:
    """Return parts with neighbours of one kind made one."""
    joined: list[Part] = []
    for start, end, kind in parts:
        if joined and joined[-1][2] == kind:
            joined[-1] = (joined[-1][0], end, kind)
        else:
            joined.append((start, end, kind))
    return joined
