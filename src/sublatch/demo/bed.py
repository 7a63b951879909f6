"""An invented backing for the walking line: bass drum, snare, hi-hat and soft chords."""

from __future__ import annotations

from math import ceil

import numpy as np

from sublatch.arrays import Signal
from sublatch.demo.noise import RATES_HZ, burst, check_range
from sublatch.demo.score import LEAD_IN_S, SCORES
from sublatch.units.scales import note_to_hz

PEAK = 0.5
"""Highest sample, as a share of full scale."""
BEATS_A_BAR = 4
CHORDS = (
    ("A3 C4 E4",),
    ("A3 C4 G4",),
    ("A3 C4 F4",),
    ("G#3 B3 E4",),
    ("A3 C4 E4",),
    ("G3 C4 E4",),
    ("A3 D4 F4", "G#3 B3 E4"),
    ("A3 C4 E4",),
)
"""The chords of each bar, evenly spaced in it."""
_OVERTONES = (1.0, 0.4, 0.18, 0.06)


def demo_bed(sample_rate: int = 48000) -> Signal:
    """Return a backing as long as the walking line and in its tempo.

    Parameters
    ----------
    sample_rate
        In hertz, 8000 to 192000.

    Returns
    -------
    ndarray of shape (n,)
        Mono, in units of full scale, peak 0.5. Its first beat falls on the line's first beat.

    Raises
    ------
    AudioDataError
        When the sample rate is out of range.
    """
    check_range("sample_rate", sample_rate, *RATES_HZ, unit="Hz")
    score = SCORES["walking-line"]
    beat_s = score.beat_s
    rng = np.random.default_rng(7)
    out = np.zeros(ceil(score.seconds * sample_rate))
    for bar, names in enumerate(CHORDS):
        start_s = LEAD_IN_S + bar * BEATS_A_BAR * beat_s
        _drums(out, start_s, beat_s=beat_s, sample_rate=sample_rate, rng=rng)
        span_s = beat_s * BEATS_A_BAR / len(names)
        for index, chord in enumerate(names):
            _add(out, _chord(chord, span_s, sample_rate=sample_rate), start_s + index * span_s, sample_rate)
    return np.asarray(out * (PEAK / np.max(np.abs(out))))


def _drums(out: Signal, start_s: float, *, beat_s: float, sample_rate: int, rng: np.random.Generator) -> None:
    """Add one bar: bass drum on 1 and 3, snare on 2 and 4, hi-hat swung between."""
    for beat in range(BEATS_A_BAR):
        drum = _snare(sample_rate, rng) if beat % 2 else _bass_drum(sample_rate)
        _add(out, (0.5 if beat % 2 else 0.8) * drum, start_s + beat * beat_s, sample_rate)
        _add(out, 0.12 * _hat(sample_rate, rng), start_s + beat * beat_s, sample_rate)
        if beat % 2:
            _add(out, 0.08 * _hat(sample_rate, rng), start_s + (beat + 2 / 3) * beat_s, sample_rate)


def _bass_drum(sample_rate: int) -> Signal:
    """Return a sine that falls from 140 to 50 Hz and dies away."""
    time_s = np.arange(round(0.35 * sample_rate)) / sample_rate
    phase = 2 * np.pi * (50.0 * time_s - 90.0 * 0.03 * np.expm1(-time_s / 0.03))
    return np.asarray(np.sin(phase) * np.exp(-time_s / 0.07) * _fade_out(len(time_s)))


def _snare(sample_rate: int, rng: np.random.Generator) -> Signal:
    """Return a burst of noise over a short tone."""
    time_s = np.arange(round(0.25 * sample_rate)) / sample_rate
    rattle = burst(len(time_s), sample_rate=sample_rate, low_hz=900.0, high_hz=7000.0, decay_s=0.16, rng=rng)
    tone = np.sin(2 * np.pi * 185.0 * time_s) * np.exp(-time_s / 0.035)
    return np.asarray((0.6 * rattle + 0.4 * tone) * _fade_out(len(time_s)))


def _hat(sample_rate: int, rng: np.random.Generator) -> Signal:
    """Return a short burst of high noise."""
    count = round(0.12 * sample_rate)
    hiss = burst(count, sample_rate=sample_rate, low_hz=6000.0, high_hz=12000.0, decay_s=0.06, rng=rng)
    return np.asarray(hiss * _fade_out(count))


def _chord(names: str, seconds: float, *, sample_rate: int) -> Signal:
    """Return soft held notes that swell and fade, each doubled a little out of tune."""
    time_s = np.arange(round((seconds + 0.15) * sample_rate)) / sample_rate
    out = np.zeros(len(time_s))
    for name in names.split():
        for detune in (0.999, 1.0012):
            for number, strength in enumerate(_OVERTONES, start=1):
                if note_to_hz(name) * number * detune < sample_rate / 2:
                    out += strength * np.sin(2 * np.pi * note_to_hz(name) * number * detune * time_s)
    swell = np.minimum(1.0, time_s / 0.15) * np.minimum(1.0, (time_s[-1] - time_s) / 0.15)
    return np.asarray(0.03 * out * (0.5 - 0.5 * np.cos(np.pi * swell)))


def _fade_out(count: int) -> Signal:
    """Return a window that is 1 but for its last fifth, where it falls to 0."""
    left = (count - 1 - np.arange(count)) / max(1, count / 5)
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.minimum(1.0, left)))


def _add(out: Signal, sound: Signal, start_s: float, sample_rate: int) -> None:
    """Add a sound to `out` from a time on, as far as `out` reaches."""
    start = round(start_s * sample_rate)
    stop = min(len(out), start + len(sound))
    out[start:stop] += sound[: stop - start]
