"""Stretches: a take cut where notes may begin, and where in each a note ends.

A note may begin at an onset, where the pitch jumps, and where a note is stopped at once but something goes on sounding:
a soft stroke right after a hard one raises nothing, since the hard note's end is louder than its beginning.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sublatch.arrays import Array, Flags, Whole
from sublatch.pitch.reference.excerpts import HOP_S, RATE_HZ
from sublatch.pitch.reference.track import PitchTrack

JUMP_CENTS = 80.0
"""Step of the pitch from one moment to the next, in cents, that may be another note's beginning."""
JUMP_APART_S = 0.06
"""A jump nearer than this to an onset, in seconds, is that onset's own."""
STEADY_S = 0.06
STEADY_CENTS = 30.0
SLUR_S = 0.08
"""A finger that hammers on or pulls off leaves a steady pitch for as many seconds before and after, in cents, and takes
no longer than that from one to the other, with what the spectra blur."""
GAP_S = 0.1
"""Longest gap without a pitch, in seconds, that a note goes on after."""
STOP_DB = 15.0
STOP_S = 0.08
"""A note that falls by so many decibels within so many seconds is being stopped."""
STOPPED_DB = 35.0
"""And it is at its end if it soon is so far under its peak, in decibels."""
SOFT_DB = (6.0, 24.0)
"""How far a softer stroke lies under the note that was stopped for it, in decibels. Recorded notes that are left alone
fall by less than 5 in `FALL_S` (measured); what is further down may be a string that rings along."""
FALL_S = 0.06
"""How soon after the stop the softer stroke has taken over, in seconds."""
SETTLED_S = 0.12
"""For how long after its beginning, in seconds, a note may fall as fast by itself, as slapped ones do."""
LEVEL_S = 0.1
"""For how long the level must keep before the stop and after the stroke, in seconds: three periods of a low B."""
LEVEL_DB = 3.0
"""Within how many decibels it keeps, from the first half of that time to the second; a stopped note falls on."""
LEVEL_SHARE = 0.2
"""And within what share of the whole fall: a note that is damped slowly falls evenly, before and after as well."""
LIKE = 0.5
"""How like each other two periods after the stroke must be, 1 for the same. Spectra take in 176 ms and so show a pitch
for a while after the sound; the sound itself tells at once."""
LIKE_SHARE = 0.05
"""Up to what share of its length a period may differ from the pitch's, which strays where one note meets another."""


@dataclass(frozen=True)
class Stretch:
    """The moments from one place where a note may begin to the next; `start_s` is None where nothing was plucked."""

    first: int
    stop: int
    start_s: float | None


def hops(seconds: float) -> int:
    """Return how many moments of a pitch track go into a time."""
    return round(seconds / HOP_S)


def stretches(sound: Array, track: PitchTrack) -> list[Stretch]:
    """Return a take (n,) at 4 kHz cut at its onsets, where its pitch jumps or slurs, and at soft strokes after hard."""
    count = len(track.time_s)
    cents = 1200 * np.log2(track.pitch_hz)
    cuts: dict[int, float | None] = {min(hops(start_s), count - 1): float(start_s) for start_s in track.onset_s}
    for place in [*_jumps(track), *_slurs(cents)]:
        if all(abs(place - cut) > hops(JUMP_APART_S) for cut in cuts):
            cuts[place] = None
    cuts.setdefault(0, None)
    for first, stop in list(pairwise([*sorted(cuts), count])):
        cuts.update((place, place * HOP_S) for place in _softer_strokes(track, sound, first, stop))
    return [Stretch(first, stop, cuts[first]) for first, stop in pairwise([*sorted(cuts), count])]


def first_run(flags: Flags) -> Whole:
    """Return the places that are true, up to the first gap of more than a tenth of a second."""
    places = np.flatnonzero(flags)
    gaps = np.flatnonzero(np.diff(places) > hops(GAP_S))
    return places[: gaps[0] + 1] if len(gaps) else places


def stop_of(level_db: Array, sounding: Whole) -> int:
    """Return where a note ends: where it has died away, or where it is stopped and falls at once."""
    last = int(sounding[-1]) + 1
    peak = int(np.argmax(level_db))
    span = hops(STOP_S)
    for place in np.flatnonzero(level_db[:-span] - level_db[span:] > STOP_DB):
        after = level_db[place : place + 4 * span]
        if peak < place < last and np.min(after) < level_db[peak] - STOPPED_DB:
            return int(place) + span // 2
    return last


def _jumps(track: PitchTrack) -> list[int]:
    """Return the moments at which the pitch jumps."""
    voiced = np.flatnonzero(np.isfinite(track.pitch_hz))
    steps = np.abs(1200 * np.diff(np.log2(track.pitch_hz[voiced])))
    return [int(place) for place in voiced[1:][steps > JUMP_CENTS]]


def _slurs(cents: Array) -> list[int]:
    """Return the moments at which one steady pitch gives way to another at once, as when a finger hammers on."""
    side, half = hops(STEADY_S), hops(SLUR_S) // 2
    if len(cents) <= 2 * side + 2 * half:
        return []
    spread = np.ptp(np.lib.stride_tricks.sliding_window_view(cents, side), axis=-1)
    middle = np.arange(side + half, len(cents) - side - half)
    before, after = spread[middle - half - side], spread[middle + half]
    step = np.abs(cents[middle + half] - cents[middle - half])
    slurred = (before < STEADY_CENTS) & (after < STEADY_CENTS) & (step > JUMP_CENTS)
    runs = np.split(middle[slurred], np.flatnonzero(np.diff(middle[slurred]) > half) + 1)
    return [int(run[len(run) // 2]) for run in runs if len(run)]


def _softer_strokes(track: PitchTrack, sound: Array, first: int, stop: int) -> list[int]:
    """Return the moments of a stretch at which a note is stopped and something softer goes on at a level."""
    level, fall = hops(LEVEL_S), hops(FALL_S)
    places = np.arange(first + hops(SETTLED_S), stop - fall - level)
    unrest = _unrest_db(track.level_db, places)
    found: list[int] = []
    for place in (int(places[k]) for k in np.argsort(unrest, kind="stable") if unrest[k] < np.inf):
        apart = all(abs(place - other) >= hops(SETTLED_S) for other in found)
        later = slice(place + fall, place + fall + level)
        if apart and _is_periodic(sound, (place + fall) * HOP_S, float(np.median(track.pitch_hz[later]))):
            found.append(place)
    return [place + _middle(track.level_db[place : place + fall + 1]) for place in found]


def _unrest_db(level_db: Array, places: Whole) -> Array:
    """Return how far the level around each place is from two even ones with a fall between; infinite otherwise."""
    sums = np.concatenate(([0.0], np.cumsum(level_db)))
    level, fall, half = hops(LEVEL_S), hops(FALL_S), (hops(LEVEL_S) + 1) // 2

    def mean(start: int, stop: int) -> Array:
        return np.asarray((sums[places + stop] - sums[places + start]) / (stop - start))

    fall_db = mean(-level, 0) - mean(fall, fall + level)
    changes = [np.abs(mean(start, start + half) - mean(start + half, start + level)) for start in (-level, fall)]
    least_db, most_db = SOFT_DB
    even = np.maximum(*changes) < np.minimum(LEVEL_DB, LEVEL_SHARE * fall_db)
    return np.where((least_db < fall_db) & (fall_db < most_db) & even, changes[0] + changes[1], np.inf)


def _middle(fall_db: Array) -> int:
    """Return where a fall is half done."""
    return int(np.argmax(fall_db < 0.5 * (fall_db[0] + fall_db[-1])))


def _is_periodic(sound: Array, start_s: float, pitch_hz: float) -> bool:
    """Return whether a sound repeats itself at a pitch from a moment on, by its own two next periods alone."""
    if not np.isfinite(pitch_hz):
        return False
    period = RATE_HZ / pitch_hz
    begin, length = round(start_s * RATE_HZ), round(period)
    lags = range(int((1 - LIKE_SHARE) * period), int((1 + LIKE_SHARE) * period) + 2)
    one, rest = sound[begin : begin + length], sound[begin : begin + length + lags[-1]]
    if len(rest) < length + lags[-1]:
        return False
    others = _without_slope(np.array([rest[lag : lag + length] for lag in lags]))
    one = _without_slope(one[np.newaxis])[0]
    norms = np.sqrt(np.sum(one**2) * np.sum(others**2, axis=1)) + 1e-20
    return bool(np.max(others @ one / norms) > LIKE)


def _without_slope(parts: Array) -> Array:
    """Return excerpts (m, n) without the straight line through each, which is no sound."""
    ramp = np.linspace(-1.0, 1.0, parts.shape[1])
    level = parts - np.mean(parts, axis=1, keepdims=True)
    return np.asarray(level - np.outer(level @ ramp / np.sum(ramp**2), ramp))
