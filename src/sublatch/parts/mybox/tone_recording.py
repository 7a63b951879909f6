"""What a recording of a steady tone through a box tells: how it makes the octave, and its output filter.

While the detector holds on, the octave stage multiplies the tone by a square wave of half its rate. The lines of the
product are known in closed form, so that what is missing of the upper ones is the output filter's doing.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi

import numpy as np
from scipy.optimize import least_squares

from sublatch.arrays import Array, Signal
from sublatch.errors import AudioDataError
from sublatch.parts.choose.curves import FLAT_Q, second_order_corner, second_order_peak_db
from sublatch.parts.mybox.facts import KINDS_BY_SLOPE
from sublatch.takes.take import Take
from sublatch.units import format_hertz

LINES = np.arange(1.0, 16.0)
"""Multiples of half the tone's frequency that are looked at."""
SKIPPED, LEAST_SECONDS = 0.2, 1.0
"""Share of the recording that is left out at each end, and what must be left."""
OFF_SHARE = 0.02
"""How far the tone may be off: phones and recorders have clocks of their own."""
HEARD_DB = -65.0
"""Lines that are further below the strongest one are taken for noise."""
GATED_DB = -20.0
"""From this on, the tone's own line against that of the octave is a note let through."""
MOST_OFF_DB = 1.5
"""A recording whose lines are further from the best model's on average is none of a tone through such a box."""
BETTER_DB = 0.1
"""A steeper filter must fit better by this to be believed."""
PHASES, CORNERS_HZ = 12, np.geomspace(40.0, 8000.0, 24)


@dataclass(frozen=True)
class ToneReading:
    """What a recording of a tone tells of a box.

    Attributes
    ----------
    tone_hz
        The tone as it is in the recording.
    octave_kind
        ``gain-gated`` or ``polarity-switched``.
    filter_kind
        The output filter's kind.
    corner_hz
        Its corner; None where the recording shows none.
    peak_db
        Its peak.
    off_db
        How far the lines are from those of such a box, on average.
    """

    tone_hz: float
    octave_kind: str
    filter_kind: str
    corner_hz: float | None
    peak_db: float
    off_db: float


def read_tone(take: Take, tone_hz: float) -> ToneReading:
    """Return how a box makes the octave and what its output filter is, from a tone recorded through it.

    Parameters
    ----------
    take
        The recording: the effect's output alone, with no direct signal in it.
    tone_hz
        The tone that was played.

    Raises
    ------
    AudioDataError
        When the recording is too short, or holds no such tone an octave down.

    Notes
    -----
    sin 2x times a square wave of phase p, ±1 at the rate of x, has at odd multiples k the amplitudes (2/π) |1/(k − 2) −
    e^(−4jp)/(k + 2)|, and none at even ones; a gate is half of it and half of the tone (Fourier series of the square
    wave). The filter is taken for maximally flat, 1 / √(1 + (f/fc)^2n), one of second order for any Q.
    """
    steady = _steady(take)
    half_hz = _half_hz(steady, take.sample_rate, tone_hz)
    amplitude = _amplitudes(steady, half_hz * LINES, take.sample_rate)
    level_db = 20.0 * np.log10(np.maximum(amplitude, 1e-12))
    is_gated = bool(level_db[1] - max(level_db[0], level_db[2]) > GATED_DB)
    heard = level_db > np.max(level_db) + HEARD_DB
    used = heard & ((LINES % 2 == 1) | ((LINES == 2) & is_gated))
    if np.count_nonzero(used) < 4:
        raise AudioDataError(
            f"{take.name}: fewer than four lines of {format_hertz(tone_hz)} an octave down; does the effect hold on to "
            "it, and is it recorded?"
        )
    found = _filter(level_db[used], LINES[used], half_hz)
    if found.off_db > MOST_OFF_DB:
        raise AudioDataError(
            f"{take.name}: the lines are {found.off_db:.1f} dB from those of {format_hertz(tone_hz)} an octave down "
            "on average; is direct at 0, and is nothing clipped?"
        )
    kind = "gain-gated" if is_gated else "polarity-switched"
    filter_kind = KINDS_BY_SLOPE[6 * found.order]
    return ToneReading(2.0 * half_hz, kind, filter_kind, found.corner_hz, found.peak_db, found.off_db)


def _steady(take: Take) -> Signal:
    """Return the middle of a recording, without what stands still in it."""
    count = len(take.samples)
    middle = take.samples[round(SKIPPED * count) : count - round(SKIPPED * count)]
    if len(middle) < LEAST_SECONDS * take.sample_rate:
        least = LEAST_SECONDS / (1.0 - 2.0 * SKIPPED)
        raise AudioDataError(f"{take.name}: a tone of {least:.1f} s or more is needed, got {take.seconds:.2f} s")
    return np.asarray(middle - np.mean(middle))


def _half_hz(samples: Signal, sample_rate: int, tone_hz: float) -> float:
    """Return half the tone's frequency, as the recording has it.

    Notes
    -----
    The parabola through the logarithms of the three highest points of a windowed spectrum.
    """
    count = 4 * len(samples)
    level = np.log(np.abs(np.fft.rfft(samples * np.hanning(len(samples)), count)) + 1e-300)
    low, high = (round(tone_hz / 2.0 * factor * count / sample_rate) for factor in (1.0 - OFF_SHARE, 1.0 + OFF_SHARE))
    top = low + int(np.argmax(level[low : high + 1]))
    before, there, after = level[top - 1 : top + 2]
    bend = before - 2.0 * there + after
    shift = 0.0 if bend >= 0.0 else float(0.5 * (before - after) / bend)
    return (top + float(np.clip(shift, -0.5, 0.5))) * sample_rate / count


def _amplitudes(samples: Signal, frequency_hz: Array, sample_rate: int) -> Array:
    """Return the amplitude of each line."""
    window = np.hanning(len(samples))
    time_s = np.arange(len(samples)) / sample_rate
    seen = [abs(np.sum(window * samples * np.exp(-2j * pi * hertz * time_s))) for hertz in frequency_hz]
    return np.array(seen) * 2.0 / np.sum(window) * (frequency_hz < 0.45 * sample_rate)


@dataclass(frozen=True)
class _Fit:
    """A filter that was fitted to lines: its order, corner and peak, and how far the lines are off on average."""

    order: int
    corner_hz: float | None
    peak_db: float
    off_db: float


def _filter(level_db: Array, line: Array, half_hz: float) -> _Fit:
    """Return the filter that makes lines as they are, no steeper than it must be."""
    best = _fitted(level_db, line, half_hz, 0)
    for order in (1, 2, 3):
        steeper = _fitted(level_db, line, half_hz, order)
        best = steeper if steeper.off_db < best.off_db - BETTER_DB else best
    return best


def _fitted(level_db: Array, line: Array, half_hz: float, order: int) -> _Fit:
    """Return the filter of an order that fits lines best."""

    def misses(unknown: Array) -> Array:
        off = level_db - _model_db(line, half_hz, order, unknown)
        return np.asarray(off - np.mean(off))

    corners = np.log(CORNERS_HZ[: None if order else 1])
    starts = [np.array([phase, corner, log(FLAT_Q)]) for phase in np.linspace(0.0, pi, PHASES) for corner in corners]
    first = min(starts, key=lambda unknown: float(np.sum(misses(unknown) ** 2)))
    count = (1, 2, 3, 2)[order]
    found = least_squares(lambda part: misses(np.concatenate([part, first[count:]])), first[:count])
    off_db = float(np.sqrt(np.mean(found.fun**2)))
    if order == 0:
        return _Fit(order, None, 0.0, off_db)
    natural_hz, q = float(np.exp(found.x[1])), float(np.exp(found.x[2])) if order == 2 else FLAT_Q
    if order != 2:
        return _Fit(order, natural_hz, 0.0, off_db)
    return _Fit(order, natural_hz * float(second_order_corner(q)), float(second_order_peak_db(q)), off_db)


def _model_db(line: Array, half_hz: float, order: int, unknown: Array) -> Array:
    """Return the levels of lines of a box, but for a common gain.

    The unknowns are the phase of e^(−4jp), and the logarithms of the natural frequency and of Q.
    """
    with np.errstate(divide="ignore", over="ignore"):
        switched = 2.0 / pi * np.abs(1.0 / (line - 2.0) - np.exp(-1j * unknown[0]) / (line + 2.0))
        square = np.square(line * half_hz / np.exp(unknown[1]))
        curves = (1.0, 1.0 + square, np.square(1.0 - square) + square / np.exp(2.0 * unknown[2]), 1.0 + square**3)
    amplitude = np.where(line == 2, 1.0, switched)
    return np.asarray(20.0 * np.log10(np.maximum(amplitude / np.sqrt(curves[order]), 1e-12)))
