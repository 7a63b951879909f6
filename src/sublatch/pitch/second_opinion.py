"""A second opinion on pitches, by the library librosa: YIN for a take's range, pYIN for its notes.

It shares nothing with `sublatch.pitch.reference` but the range and the sample rate converter: for tests, and for users
who ask. librosa compiles for seconds on its first use, so that nothing else here imports it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sublatch.pitch.notes import Note
from sublatch.pitch.reference.track import HIGHEST_HZ, LOWEST_HZ
from sublatch.sampling.rates import resampled
from sublatch.takes.take import Take
from sublatch.units.scales import cents

FRAME_S = 0.128
"""What pYIN looks at at a time, in seconds: nearly four periods of a low B."""
AGREE_CENTS = 50.0
"""How far apart two opinions on a pitch are at most that agree, in cents."""

_RATE_HZ = 8000
_HOP = _RATE_HZ // 100
_FRAME = round(FRAME_S * _RATE_HZ)
_BLOCK = 1000
_WINDOW = _RATE_HZ // 20
_GATE_DB = 40.0
_ABOVE_NOISE_DB = 10.0
_STEP_CENTS = 35.0
_SHORTEST_HOPS = 8
_ONSET_DB = 3.0
_ONSET_HOPS = 6
_OCTAVE_CENTS = 60.0
_MOST_RATIO = 4
_PERIODIC = 0.8
_LOOKS = 9
_RESOLUTION = 0.2
"""Step of pYIN's pitches in semitones; half of it takes five times as long."""

Curve = NDArray[np.float64]


@dataclass(frozen=True)
class _Stretch:
    """Frames `start` to `stop` at a steady pitch."""

    start: int
    stop: int
    pitch_hz: float


@dataclass(frozen=True)
class NoteOpinion:
    """A note, and the pitch in hertz that pYIN has over it; None where it has none."""

    note: Note
    pitch_hz: float | None

    @property
    def difference_cents(self) -> float | None:
        """How far pYIN's pitch lies above the note's, in cents."""
        return None if self.pitch_hz is None else cents(self.note.pitch_hz, self.pitch_hz)

    @property
    def differs(self) -> bool:
        """Whether the two differ by more than 50 cents."""
        return self.difference_cents is not None and abs(self.difference_cents) > AGREE_CENTS

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the note's place and name, and both pitches."""
        return {
            "start_s": self.note.start_s,
            "end_s": self.note.end_s,
            "name": self.note.name,
            "pitch_hz": self.note.pitch_hz,
            "second_pitch_hz": self.pitch_hz,
            "difference_cents": self.difference_cents,
        }


@dataclass(frozen=True)
class PitchOpinions:
    """What pYIN says of the notes of a take, in order of time."""

    notes: tuple[NoteOpinion, ...]

    @property
    def agree_share(self) -> float | None:
        """Share of the notes whose two pitches agree within 50 cents; None without notes."""
        return self._share(lambda one: one.pitch_hz is not None and not one.differs)

    @property
    def no_pitch_share(self) -> float | None:
        """Share of the notes over which pYIN has no pitch; None without notes."""
        return self._share(lambda one: one.pitch_hz is None)

    def _share(self, is_so: Callable[[NoteOpinion], bool]) -> float | None:
        """Return the share of the notes of which something is so."""
        return sum(map(is_so, self.notes)) / len(self.notes) if self.notes else None

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: every note, and the shares."""
        return {"notes": self.notes, "agree_share": self.agree_share, "no_pitch_share": self.no_pitch_share}


def pitch_opinions(
    take: Take, notes: Sequence[Note], *, progress: Callable[[], object] = lambda: None
) -> PitchOpinions:
    """Return what pYIN says of the pitches of notes.

    Parameters
    ----------
    take
        Of any length; it takes some seconds to begin, then an eighth of the take's length.
    notes
        Its notes.
    progress
        Called after each of `opinion_blocks` parts of the take.

    Returns
    -------
    PitchOpinions
        For each note the median of the frames that are voiced, of those that lie wholly in it, or in its middle third
        where it is short.

    Notes
    -----
    pYIN (Mauch and Dixon, ICASSP 2014, from memory) takes YIN's pitches for many thresholds, and the likeliest path
    through them. Frames of 128 ms, every 10 ms, take in a fast note's neighbours; pitches are told in steps of a fifth
    of a semitone.
    """
    import librosa

    found = []
    for part in _blocks(_prepared(take)):
        found.append(librosa.pyin(part, resolution=_RESOLUTION, **_settings())[0])
        progress()
    pitch_hz = np.concatenate(found)
    return PitchOpinions(tuple(NoteOpinion(note, _median(pitch_hz, note)) for note in notes))


def opinion_blocks(take: Take) -> int:
    """Return in how many parts `pitch_opinions` listens to a take."""
    return sum(1 for _ in _blocks(_prepared(take)))


def _prepared(take: Take) -> Curve:
    """Return a take at 8 kHz."""
    samples = take.samples - np.mean(take.samples)
    return np.ascontiguousarray(resampled(samples, take.sample_rate, _RATE_HZ, quality="HQ"))


def _median(pitch_hz: Curve, note: Note) -> float | None:
    """Return the median pitch over a note, None where no frame is voiced."""
    edge_s = min(FRAME_S / 2, (note.end_s - note.start_s) / 3)
    first, last = (round(second * _RATE_HZ / _HOP) for second in (note.start_s + edge_s, note.end_s - edge_s))
    voiced = pitch_hz[first : last + 1]
    voiced = voiced[np.isfinite(voiced)]
    return float(np.median(voiced)) if len(voiced) else None


def yin_range(
    samples: Curve, sample_rate: int, *, noise: float = 0.0, is_hum: bool = False
) -> tuple[float, float] | None:
    """Return the lowest and the highest pitch that a take dwells on.

    Parameters
    ----------
    samples
        The take, of shape (n,).
    sample_rate
        In hertz.
    noise
        RMS of its noise, in the same unit; frames must be 10 dB above it where it lies 30 dB under the loudest.
    is_hum
        Whether that is mains hum, which has a pitch itself: frames must then be 10 dB above it in any case.

    Returns
    -------
    tuple of float, or None
        Both in hertz; None when nothing is pitched.

    Notes
    -----
    YIN (de Cheveigné and Kawahara, J. Acoust. Soc. Am. 111:1917, 2002) gives a pitch every 10 ms. Frames in a
    row that are loud enough, periodic, and within 35 cents of their neighbours for 80 ms are a stretch. YIN
    errs by whole ratios, in attacks downwards and in tails upwards; so stretches whose pitches are in a ratio
    of 1 to 4, with no new pluck (a rise by 3 dB) in between, are one note, and its pitch is the one that most of
    it has. An octave that is reached without a pluck is therefore missed. Of each note the 5th and the 95th
    percentile count, so that a slide's ends do.
    """
    sound = np.ascontiguousarray(resampled(samples - np.mean(samples), sample_rate, _RATE_HZ, quality="HQ"))
    if len(sound) < _FRAME:
        return None
    pitch_hz = _yin(sound)
    level_db = _levels_db(sound, len(pitch_hz))
    loudest_db = np.max(level_db)
    gate_db = loudest_db - _GATE_DB
    if noise > 0.0 and ((noise_db := 20.0 * np.log10(noise)) < loudest_db - 30.0 or is_hum):
        gate_db = max(gate_db, noise_db + _ABOVE_NOISE_DB)
    usable = (level_db > gate_db) & (pitch_hz > LOWEST_HZ * 1.01) & (pitch_hz < HIGHEST_HZ * 1.01)
    stretches = [part for part in _stretches(pitch_hz, usable) if _is_periodic(sound, pitch_hz, part)]
    ends = [_ends(note, pitch_hz) for note in _notes(stretches, level_db)]
    return (min(low for low, _ in ends), max(high for _, high in ends)) if ends else None


def _yin(sound: Curve) -> Curve:
    """Return the pitch in hertz every 10 ms, found 10 s at a time to save memory."""
    import librosa

    return np.concatenate([librosa.yin(part, **_settings()) for part in _blocks(sound)])


def _settings() -> dict[str, Any]:
    """Return what YIN and pYIN are told alike."""
    range_hz = {"fmin": LOWEST_HZ, "fmax": HIGHEST_HZ}
    return {**range_hz, "sr": _RATE_HZ, "frame_length": _FRAME, "hop_length": _HOP, "center": False}


def _blocks(sound: Curve) -> Iterator[Curve]:
    """Give a sound in parts of 1000 frames, every 10 ms one, the first around the sound's beginning."""
    padded = np.pad(sound, _FRAME // 2)
    count = 1 + (len(padded) - _FRAME) // _HOP
    for first in range(0, count, _BLOCK):
        last = min(first + _BLOCK, count) - 1
        yield padded[first * _HOP : last * _HOP + _FRAME]


def _levels_db(sound: Curve, count: int) -> Curve:
    """Return the level of 50 ms around each frame's middle, in decibels."""
    energy = np.concatenate([[0.0], np.cumsum(np.pad(sound, _WINDOW) ** 2)])
    first = np.minimum(np.arange(count) * _HOP + _WINDOW // 2, len(energy) - 1 - _WINDOW)
    power = np.maximum(energy[first + _WINDOW] - energy[first], 0.0) / _WINDOW
    return np.asarray(10.0 * np.log10(power + 1e-20))


def _stretches(pitch_hz: Curve, usable: NDArray[np.bool_]) -> list[_Stretch]:
    """Return where usable frames follow each other without a jump in pitch for long enough."""
    step_cents = np.abs(1200.0 * np.diff(np.log2(pitch_hz)))
    joined = usable[1:] & usable[:-1] & (step_cents < _STEP_CENTS)
    found = []
    for is_joined, run in groupby(range(len(joined)), key=lambda index: bool(joined[index])):
        frames = list(run)
        start, stop = frames[0], frames[-1] + 2
        if is_joined and stop - start >= _SHORTEST_HOPS:
            found.append(_Stretch(start, stop, float(np.median(pitch_hz[start:stop]))))
    return found


def _is_periodic(sound: Curve, pitch_hz: Curve, part: _Stretch) -> bool:
    """Return whether the sound repeats itself, period for period; noise does not, whatever its pitch is said to be."""
    likeness = []
    for frame in np.linspace(part.start, part.stop - 1, _LOOKS).astype(int):
        lag = round(_RATE_HZ / pitch_hz[frame])
        length = max(_WINDOW, 2 * lag)
        first = max(min(frame * _HOP - (length + lag) // 2, len(sound) - length - lag), 0)
        later = sound[first + lag : first + lag + length]
        here = sound[first : first + len(later)]
        scale = np.sqrt(np.dot(here, here) * np.dot(later, later))
        likeness.append(np.dot(here, later) / scale if scale > 0.0 else 0.0)
    return bool(np.median(likeness) >= _PERIODIC)


def _notes(stretches: list[_Stretch], level_db: Curve) -> list[list[_Stretch]]:
    """Return the stretches gathered into notes."""
    notes: list[list[_Stretch]] = []
    for part in stretches:
        if notes and _goes_on(notes[-1][-1], part, level_db):
            notes[-1].append(part)
        else:
            notes.append([part])
    return notes


def _goes_on(before: _Stretch, after: _Stretch, level_db: Curve) -> bool:
    """Return whether two stretches are one note: pitches in a whole ratio, and no new pluck between them."""
    ratio = max(before.pitch_hz, after.pitch_hz) / min(before.pitch_hz, after.pitch_hz)
    whole = round(ratio)
    if whole > _MOST_RATIO or abs(1200.0 * np.log2(ratio / whole)) > _OCTAVE_CENTS:
        return False
    level = level_db[max(before.stop - _ONSET_HOPS // 2, 0) : after.start + _ONSET_HOPS]
    rise_db = np.max(level - np.minimum.accumulate(level))
    return bool(rise_db < _ONSET_DB)


def _ends(note: list[_Stretch], pitch_hz: Curve) -> tuple[float, float]:
    """Return the lowest and highest pitch of a note, from those of its stretches that agree with most of it."""

    def agreeing(part: _Stretch) -> list[_Stretch]:
        return [other for other in note if abs(1200.0 * np.log2(other.pitch_hz / part.pitch_hz)) < _OCTAVE_CENTS]

    best = max((agreeing(part) for part in note), key=lambda group: sum(one.stop - one.start for one in group))
    frames = np.concatenate([pitch_hz[part.start : part.stop] for part in best])
    low_hz, high_hz = np.percentile(frames, (5, 95))
    return float(low_hz), float(high_hz)
