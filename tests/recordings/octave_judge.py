"""Whether a rendered sound is an octave below its note, told from its samples alone, moment by moment.

A component h Hz is itself turned over after half its period, 1/(2h). So the strongest component below a note's pitch f
shows as the time after which the sound is most nearly itself turned over: one period of the note for the component
f/2, and with it for all odd multiples of f/2; half a period, or one and a half, where there is none below f. Times from
half a period to one and a half are tried, which is components from f/3 to f; the sound is held against itself over two
periods of the note, one of its octave, so that an instant is told from three periods around it, which lie inside the
note. A spectrum would need eight to tell 50 cents, and leave out the ends of a note of twelve: `by_spectrum` is that
second way, for stretches that are long enough.

Nothing here comes from the package: a sound, its rate, and the note's times and pitch are all it is given.
"""

from __future__ import annotations

import numpy as np
from scipy.signal import resample_poly
from scipy.signal.windows import hann

CENTS = 50.0
RATE_HZ = 4000
"""What sounds are resampled to, more or less; the notes' pitches lie under 500 Hz."""
PLACES = 8
"""Places of each period at which the sound is told."""
FINE = 64
"""Samples of each period in which times are told."""
EARLIEST, LATEST, HELD = FINE // 2, 3 * FINE // 2, 2 * FINE
"""Between which times the sound is held against itself, and over how long."""
CYCLES = 8.0
"""Length of a spectrum in periods of the note, a Hann window."""
LOWEST, STEP = 0.2, 0.002
"""From which share of the note's pitch spectra are looked at, and how finely; lower is not told from 0 Hz."""


def coarse(sound, rate):
    """Return a sound at a rate that is enough for its lowest components, and that rate."""
    share = max(1, rate // RATE_HZ)
    return resample_poly(sound, 1, share), rate / share


def places_of(start_s, end_s, pitch_hz):
    """Return the places at which a note is told, in periods since it began, from its first to its last."""
    return (np.arange(int((end_s - start_s) * pitch_hz * PLACES)) + 0.5) / PLACES


def likeness(wave, after, places):
    """Return how like itself a wave is some samples later, over `HELD` samples around places: −1 is turned over."""
    energy = np.concatenate(([0.0], np.cumsum(wave**2)))
    products = np.concatenate(([0.0], np.cumsum(wave[:-after] * wave[after:])))
    first = np.arange(len(products) - HELD)
    norms = (energy[first + HELD] - energy[first]) * (energy[first + HELD + after] - energy[first + after])
    nearest = np.round(places * FINE - (HELD + after - 1) / 2).astype(int)
    return ((products[first + HELD] - products[first]) / np.sqrt(norms + 1e-24))[np.clip(nearest, 0, len(first) - 1)]


def octave_down(sound, rate, *, start_s, end_s, pitch_hz):
    """Return for each place of a note, of at least four periods, whether it sounds an octave down."""
    times = start_s + np.arange(int((end_s - start_s) * pitch_hz * FINE)) / FINE / pitch_hz
    wave = np.interp(times, np.arange(len(sound)) / rate, sound)
    places, tried = places_of(start_s, end_s, pitch_hz), np.arange(EARLIEST, LATEST + 1)
    like = np.array([likeness(wave, after, places) for after in tried])
    turned_after = tried[np.argmin(like, axis=0)] / FINE
    return (np.abs(1200 * np.log2(turned_after)) < CENTS) & (np.min(like, axis=0) < 0.0)


def by_spectrum(sound, rate, *, middles, start_s, pitch_hz):
    """Return whether the strongest component of spectra under the note's pitch is within 50 cents of half of it."""
    count = round(CYCLES * rate / pitch_hz)
    first = np.round((start_s + middles / pitch_hz) * rate - count / 2).astype(int)
    parts = sound[np.clip(first, 0, len(sound) - count)[:, None] + np.arange(count)] * hann(count, sym=False)
    shares = np.arange(LOWEST, 1.0, STEP)
    turns = np.outer(np.arange(count), shares * pitch_hz / rate)
    strongest = shares[np.argmax(np.abs(parts @ np.exp(-2j * np.pi * turns)), axis=1)]
    return np.abs(1200 * np.log2(2 * strongest)) < CENTS
