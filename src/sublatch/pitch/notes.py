"""The notes of a take: where each starts and ends, its pitch, and whether it is an open string.

A note starts where several bands of the spectrum rise at once, or where the pitch jumps; it must have a clear pitch.
What is not counted as a note is said in words: hum, chords, sounds without a pitch, pitches out of range.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sublatch.arrays import Array, Flags
from sublatch.pitch.open_strings import open_strings
from sublatch.pitch.reference.excerpts import HOP_S, RATE_HZ, sound_of
from sublatch.pitch.reference.track import CLEAR, HIGHEST_HZ, LOWEST_HZ, QUIET_DB, PitchTrack, reference_pitch
from sublatch.pitch.segments import FALL_S, LEVEL_DB, LEVEL_S, Stretch, first_run, hops, stop_of, stretches
from sublatch.takes.remarks import Remark
from sublatch.takes.take import SHORTEST_NOTE_S, SILENT_DBFS, Take, level_dbfs
from sublatch.units.scales import cents, hz_to_note

END_DB = 40.0
"""How far a note falls under its own peak before it no longer counts, in decibels."""
OPEN_CENTS = 35.0
"""How far from an open string's pitch a note may be and still be called one."""
STEADY_CENTS = 80.0
"""How far apart the lowest and the highest pitch of a steady note are at most."""
LEAST_S = 0.06
"""Shortest pitched stretch that is a note: two periods of a low B."""
CLEAR_NOTE = 0.55
"""Median clarity of a note; two notes at once have less."""
CLEAR_SHORT = 0.4
"""Likewise, where it is below `CLEAR_NOTE` for no longer than `UNCLEAR_S`: what comes before and after blurs it."""
UNCLEAR_S = 0.3
SHORT_S = 0.2
DEAD_DB = 15.0
"""A short note that falls so far, in decibels, within `DEAD_S` of its peak is a dead one."""
DEAD_S = 0.08
RISE_S = 0.03
RISE_DB = 1.0
"""A stretch whose level has not risen by so much, in decibels, over so many seconds begins in what sounded before."""
MAINS_HZ = (50.0, 60.0, 100.0, 120.0)
"""Pitches of hum from the mains."""
HUM_CENTS = 12.0
HUM_DB = 1.0
"""Standard deviation of the level up to which a stretch at a pitch of hum is hum."""
OWN_PARTIALS = (1, 5, 7)
"""Partials that two notes a fifth apart do not have, although they seem to be one an octave under the lower."""
OWN_DB = 60.0
"""How far under the strongest partial the strongest of these still counts."""

OCTAVE_MARGIN = 0.03
"""A note whose pitch scores ahead of its octaves by less, in what one partial brings, could be one of them."""
LATE_S = 0.15
"""How much later than the onset, in seconds, the pitch may be clear for the note to count from the onset."""
AHEAD_S = 0.02
"""How long before the next beginning, in seconds, its sound reaches into the spectra; that is left out."""
EDGE_S = 0.06
"""How much of a note at either end, in seconds, its pitch is not taken from, nor the level of hum."""
LOOK_S = 0.5
"""How much of a note, in seconds, is looked at for the partials that tell it from two."""
PLUCK_S = 0.03
"""How much of it, in seconds, the pluck's own noise covers; that is left out."""

_SEVERAL = "sounds with more than one pitch, or without a clear one"
_FIFTH = "two notes at once, a fifth apart"
_DEAD = "dead notes, noise, several notes at once, or notes too short for a pitch"
_BEYOND = f"a pitch below {LOWEST_HZ:.0f} Hz or above {HIGHEST_HZ:.0f} Hz, or several at once"


@dataclass(frozen=True)
class Note:
    """One note of a take.

    Attributes
    ----------
    start_s, end_s
        In seconds of the take.
    pitch_hz
        The middle one of its pitches, in hertz.
    name
        Of the nearest note in equal temperament, such as E1 (A4 = 440 Hz, ISO 16:1975).
    open_string
        Whether it is within 35 cents of an open string of the tuning.
    steady
        Whether the pitch stays within 80 cents; a slide's does not.
    lowest_hz, highest_hz
        Between which nine tenths of its pitches lie, its ends left out.
    remark
        What else there is to say, or nothing.
    """

    start_s: float
    end_s: float
    pitch_hz: float
    name: str
    open_string: bool
    steady: bool
    lowest_hz: float
    highest_hz: float
    remark: str = ""


@dataclass(frozen=True)
class Notes:
    """The notes of a take.

    Attributes
    ----------
    notes
        In order of time.
    remarks
        What was not counted as a note, one sentence each.
    unsure
        Notes that could as well be an octave lower or higher; they are not among `notes`.
    """

    notes: tuple[Note, ...]
    remarks: tuple[Remark, ...]
    unsure: tuple[Note, ...] = ()

    @property
    def unsure_share(self) -> float:
        """Return what share of all notes' time the unsure ones have, 0 to 1."""
        unsure_s, sure_s = (sum(note.end_s - note.start_s for note in notes) for notes in (self.unsure, self.notes))
        return unsure_s / (unsure_s + sure_s) if self.unsure else 0.0

    @property
    def counted_remarks(self) -> tuple[Remark, ...]:
        """What there is to say of notes that are counted: a pitch that moves, or one under the lowest string."""
        said = [(note, note.remark if not note.steady else f"{note.remark}: {note.name}") for note in self.notes]
        return tuple(
            Remark("counted", f"counted: {what}, at {note.start_s:.2f} s") for note, what in said if note.remark
        )


@dataclass(frozen=True)
class _Left:
    """What is not counted as a note, and where it starts."""

    what: str
    start_s: float


def find_notes(take: Take, *, track: PitchTrack | None = None, tuning: str = "bass-4") -> Notes:
    """Return the notes of a take.

    Parameters
    ----------
    take
        Of any length.
    track
        Its pitch, if that is known already.
    tuning
        A name such as "bass-4", or the strings' notes: "D1 A1 D2 G2".

    Returns
    -------
    notes : Notes
        With a remark for everything that sounds and is not counted, and where nothing is.

    Raises
    ------
    UnitError
        If the tuning is not known.
    """
    strings_hz = list(open_strings(tuning).values())
    peak_dbfs = level_dbfs(float(np.max(np.abs(take.samples))) / take.full_scale_volts)
    if peak_dbfs is None or peak_dbfs < SILENT_DBFS:
        return Notes((), (_no_notes("the take is silent"),))
    if take.seconds < SHORTEST_NOTE_S:
        return Notes((), (_no_notes(f"{1000 * take.seconds:.3g} ms is too short for one"),))
    track = reference_pitch(take) if track is None else track
    sound = sound_of(take)
    parts = stretches(sound, track)
    found = [_look(part, track, sound, strings_hz) for part in parts]
    found = [_with_neighbours(one, found[max(place - 1, 0) : place + 2]) for place, one in enumerate(found)]
    notes = tuple(one for one in found if isinstance(one, Note) and not _is_unsure(one, track))
    unsure = tuple(one for one in found if isinstance(one, Note) and _is_unsure(one, track))
    after = [_beyond(track, one, part) for one, part in zip(found, parts, strict=True) if isinstance(one, Note)]
    remarks = _remarks([one for one in (*found, *after) if isinstance(one, _Left)])
    if unsure:
        counted = f"{len(unsure)} {'note' if len(unsure) == 1 else 'notes'}"
        from_s = f"{'at' if len(unsure) == 1 else 'from'} {unsure[0].start_s:.2f} s"
        remarks = (Remark("unsure", f"not counted: the octave of {counted} is unsure, {from_s}"), *remarks)
    if not notes:
        remarks = (_no_notes("nothing has a clear beginning and a clear pitch"), *remarks)
    return Notes(notes, remarks, unsure)


def _is_unsure(note: Note, track: PitchTrack) -> bool:
    """Return whether an octave of a note's pitch accounts for most of it nearly as well, or better."""
    return bool(np.median(track.octave_margin[hops(note.start_s) : hops(note.end_s) + 1]) < OCTAVE_MARGIN)


def _with_neighbours(one: Note | _Left | None, near: list[Note | _Left | None]) -> Note | _Left | None:
    """Return what a stretch is; a short note beside a fifth is a part of it, cut off where the two beat."""
    if not isinstance(one, Note) or one.end_s - one.start_s > SHORT_S:
        return one
    beside = any(isinstance(other, _Left) and other.what == _FIFTH for other in near)
    return _Left(_FIFTH, one.start_s) if beside else one


def _no_notes(why: str) -> Remark:
    """Return the remark that there is no note."""
    return Remark("no-notes", f"no notes: {why}")


def _remarks(left: list[_Left]) -> tuple[Remark, ...]:
    """Return what was left out, kind by kind."""
    kinds: dict[str, list[_Left]] = {}
    for one in left:
        kinds.setdefault(one.what, []).append(one)
    return tuple(
        Remark(
            "not-counted", f"not counted: {what}, {f'{len(ones)} × from' if len(ones) > 1 else 'at'} {first_s:.2f} s"
        )
        for what, ones in kinds.items()
        for first_s in (ones[0].start_s,)
    )


def _look(part: Stretch, track: PitchTrack, sound: Array, strings_hz: list[float]) -> Note | _Left | None:
    """Return the note of a stretch, or what else is in it; None for nothing."""
    ahead = hops(AHEAD_S)
    inside = slice(part.first, part.stop - ahead if part.stop - part.first > 2 * ahead else part.stop)
    pitch_hz, level_db, clarity = track.pitch_hz[inside], track.level_db[inside], track.clarity[inside]
    dead = _is_dead(level_db) and not _is_softer(track.level_db, inside)
    pitched = np.isfinite(pitch_hz)
    loud = level_db > max(np.max(level_db) - END_DB, np.max(track.level_db) - QUIET_DB)
    begin_s = part.first * HOP_S if part.start_s is None else part.start_s
    sounding = first_run(pitched & loud)
    if len(sounding) * HOP_S < LEAST_S:
        if np.count_nonzero(~pitched & loud & (clarity >= CLEAR)) * HOP_S >= (SHORT_S if dead else LEAST_S):
            return _Left(_BEYOND, begin_s)
        quiet = np.max(level_db) < np.max(track.level_db) - END_DB
        return None if part.start_s is None or quiet else _Left(_DEAD, begin_s)
    pitch_hz = pitch_hz[sounding]
    if _is_hum(pitch_hz, level_db[sounding]):
        return _Left(f"hum at {float(np.median(pitch_hz)):.0f} Hz", begin_s)
    stop = stop_of(level_db, sounding)
    if (stop - sounding[0]) * HOP_S < SHORT_S and dead:
        return _Left(_DEAD, begin_s)
    clear = float(np.median(clarity[sounding]))
    unclear = (track.clarity >= CLEAR) & (track.clarity < CLEAR_NOTE)
    unclear_s = _run_s(unclear, part.first + int(np.median(sounding)))
    if clear < CLEAR_SHORT or (clear < CLEAR_NOTE and unclear_s > UNCLEAR_S):
        return _Left(_SEVERAL, begin_s)
    start_s = (part.first + int(sounding[0])) * HOP_S
    if part.start_s is not None and start_s - part.start_s < LATE_S:
        start_s = part.start_s
    end_s = (part.first + stop) * HOP_S
    return _note(start_s, end_s, pitch_hz, sound, strings_hz)


def _run_s(flags: Flags, place: int) -> float:
    """Return for how many seconds around a place all flags are true."""
    before, after = np.flatnonzero(~flags[:place]), np.flatnonzero(~flags[place:])
    first = int(before[-1]) + 1 if len(before) else 0
    stop = place + int(after[0]) if len(after) else len(flags)
    return (stop - first) * HOP_S


def _beyond(track: PitchTrack, note: Note, part: Stretch) -> _Left | None:
    """Return what sounds out of the range of pitches after a note, with no beginning of its own; None for nothing."""
    first = hops(note.end_s)
    inside = slice(first, part.stop - hops(AHEAD_S))
    loud = track.level_db[inside] > np.max(track.level_db) - END_DB
    there = np.flatnonzero(~np.isfinite(track.pitch_hz[inside]) & loud & (track.clarity[inside] >= CLEAR))
    return _Left(_BEYOND, (first + int(there[0])) * HOP_S) if len(there) * HOP_S >= LEAST_S else None


def _is_hum(pitch_hz: Array, level_db: Array) -> bool:
    """Return whether a stretch is at a pitch of hum and as loud all the way."""
    ends_hz = [float(end_hz) for end_hz in np.percentile(pitch_hz, (25, 75))]
    at_mains = any(all(abs(cents(mains_hz, end_hz)) < HUM_CENTS for end_hz in ends_hz) for mains_hz in MAINS_HZ)
    edge = max(2, min(hops(EDGE_S), len(level_db) // 4))
    return at_mains and float(np.std(level_db[edge:-edge])) < HUM_DB


def _is_softer(level_db: Array, inside: slice) -> bool:
    """Return whether a stretch begins in what sounded before, which falls to a level that then keeps."""
    before, begun = inside.start - hops(RISE_S), inside.start + hops(RISE_S)
    if before < 0 or np.max(level_db[inside.start : begun + 1]) > level_db[before] + RISE_DB:
        return False
    kept_db = level_db[inside.start + hops(FALL_S) :][: hops(LEVEL_S)]
    return inside.start + hops(FALL_S + LEVEL_S) <= inside.stop and bool(np.ptp(kept_db) < LEVEL_DB)


def _is_dead(level_db: Array) -> bool:
    """Return whether a sound dies at once."""
    peak = int(np.argmax(level_db))
    after = level_db[peak : peak + hops(DEAD_S) + 1]
    return bool(np.min(after) < level_db[peak] - DEAD_DB)


def _note(start_s: float, end_s: float, pitch_hz: Array, sound: Array, strings_hz: list[float]) -> Note | _Left:
    """Return a note, unless it turns out to be two."""
    note = note_of(start_s, end_s, pitch_hz, strings_hz)
    if note.steady and end_s - start_s > SHORT_S and not _has_own_partials(sound, start_s, end_s, note.pitch_hz):
        return _Left(_FIFTH, start_s)
    return note


def note_of(start_s: float, end_s: float, pitch_hz: Array, strings_hz: list[float]) -> Note:
    """Return a note by its pitches (k,), moment by moment, and those of the open strings."""
    edge = min(hops(EDGE_S), (len(pitch_hz) - 1) // 3)
    settled = pitch_hz[edge : len(pitch_hz) - edge]
    middle_hz = float(np.median(settled))
    low_hz, high_hz = (float(value) for value in np.percentile(settled, (5, 95)))
    steady = cents(low_hz, high_hz) < STEADY_CENTS
    remark = "" if steady else f"the pitch moves, {hz_to_note(settled[0])} to {hz_to_note(settled[-1])}"
    if cents(middle_hz, min(strings_hz)) > 100 - OPEN_CENTS:
        remark = remark or "lower than the lowest open string"
    is_open = steady and any(abs(cents(string_hz, middle_hz)) <= OPEN_CENTS for string_hz in strings_hz)
    return Note(start_s, end_s, middle_hz, hz_to_note(middle_hz), is_open, steady, low_hz, high_hz, remark)


def _has_own_partials(sound: Array, start_s: float, end_s: float, pitch_hz: float) -> bool:
    """Return whether a note has any of the partials that two notes a fifth apart do not have."""
    excerpt = sound[round((start_s + PLUCK_S) * RATE_HZ) : round(min(end_s, start_s + LOOK_S) * RATE_HZ)]
    spectrum = np.abs(np.fft.rfft(excerpt * np.blackman(len(excerpt)), 4 * RATE_HZ))
    size = round(4 * max(0.03 * pitch_hz, 2.0))
    places = [round(4 * number * pitch_hz) for number in OWN_PARTIALS if number * pitch_hz < 0.45 * RATE_HZ]
    own = [spectrum[place - size : place + size + 1] for place in places]
    standing_out = [np.max(one) for one in own if np.argmax(one) not in (0, 2 * size)]
    return bool(max(standing_out, default=0.0) > np.max(spectrum) * 10 ** (-OWN_DB / 20))
