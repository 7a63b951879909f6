"""Whether a rendered sound is an octave below its note, told from its samples alone by short-time spectra.

Nothing here comes from the package: a sound, its rate, and the note's times and pitch are all it is given.
"""

from __future__ import annotations

import numpy as np
from scipy.signal import resample_poly
from scipy.signal.windows import hann

CYCLES = 8.0
"""Length of a spectrum in periods of the note, a Hann window: it tells components half the note's pitch apart from one
another. At half its height the window is half as long, and so four periods."""
FRAMES_PER_CYCLE = 2
LOWEST, STEP = 0.2, 0.002
"""From which share of the note's pitch spectra are looked at, and how finely; lower is not told from 0 Hz."""
CENTS = 50.0
RATE_HZ = 4000
"""What sounds are resampled to, more or less; the notes' pitches lie under 500 Hz."""


def coarse(sound, rate):
    """Return a sound at a rate that is enough for its lowest components, and that rate."""
    share = max(1, rate // RATE_HZ)
    return resample_poly(sound, 1, share), rate / share


def frames(start_s, end_s, pitch_hz):
    """Return where the middles of frames lie, in periods since the note began, and how long their window is.

    Every window lies inside the note; where the note is shorter than one, its frame is as long as the note.
    """
    length = (end_s - start_s) * pitch_hz
    window = min(CYCLES, length)
    return window / 2 + np.arange(int((length - window) * FRAMES_PER_CYCLE) + 1) / FRAMES_PER_CYCLE, window


def octave_down(sound, rate, *, start_s, end_s, pitch_hz):
    """Return for each frame of a note whether the strongest component under its pitch is within 50 cents of half."""
    middles, window = frames(start_s, end_s, pitch_hz)
    count = round(window * rate / pitch_hz)
    first = np.round((start_s + middles / pitch_hz) * rate - count / 2).astype(int)
    parts = sound[np.clip(first, 0, len(sound) - count)[:, None] + np.arange(count)] * hann(count, sym=False)
    shares = np.arange(LOWEST, 1.0, STEP)
    turns = np.outer(np.arange(count), shares * pitch_hz / rate)
    strongest = shares[np.argmax(np.abs(parts @ np.exp(-2j * np.pi * turns)), axis=1)]
    return np.abs(1200 * np.log2(2 * strongest)) < CENTS


def smoothed(flags, places, *, start_s, end_s, pitch_hz):
    """Return flags at places, in periods since the note began, weighed by each frame's window: 0 to 1 (frames,)."""
    middles, window = frames(start_s, end_s, pitch_hz)
    away = (places - middles[:, None]) / window
    weights = np.where(np.abs(away) <= 0.5, np.cos(np.pi * away) ** 2, 0.0)
    return weights @ flags / weights.sum(axis=1)
