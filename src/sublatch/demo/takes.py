"""The invented takes as sound, in volts: the score played on a modelled five-string bass."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from sublatch.arrays import Signal
from sublatch.demo.noise import RATES_HZ, check_range, noise_floor
from sublatch.demo.partials import String
from sublatch.demo.score import SCORES, SLIDE_SPAN, Note, demo_notes
from sublatch.demo.strings import MUTED, RELEASE_S, Glide, dead_note, pluck, slide
from sublatch.units.scales import db_to_ratio

PICKUP_POSITION = 0.16
"""Where the pick-up sits: share of the open string's length from the bridge (invented)."""
COUPLING_HZ = 3.0
"""Corner of the direct box's coupling capacitor: nothing a pick-up sends through it has an offset (invented)."""
SPREAD_DB = 1.0
"""Spread of the levels of notes of one kind, in decibels (invented)."""
DECAY_PER_FRET = 0.97
"""Fretted notes die sooner: Fleischer 1999 reports that, without a figure; this one is invented."""


@dataclass(frozen=True)
class _OpenString:
    """An open string's stiffness and its decay by 30 dB."""

    inharmonicity: float
    decay_s: float


_STRINGS: Mapping[str, _OpenString] = {
    # The stiffness of the B string follows from Kemp, SN Applied Sciences 2:636, 2020; the rest is invented,
    # within the 3 to 10 s that an open string takes for 30 dB (from memory).
    "B": _OpenString(3.1e-4, 6.5),
    "E": _OpenString(2.2e-4, 6.0),
    "A": _OpenString(1.6e-4, 5.5),
    "D": _OpenString(1.2e-4, 5.0),
    "G": _OpenString(0.9e-4, 4.5),
}


@dataclass(frozen=True)
class _Touch:
    """How the finger meets the string: peak, position (share of the open length), softness, noise, sharpness."""

    level_volts: float
    pluck_position: float
    brightness_hz: float
    noise_share: float
    glide_cents: float
    decay_ratio: float


_TOUCHES: Mapping[str, _Touch] = {
    "": _Touch(0.3, 0.13, 1200.0, 0.05, 0.0, 1.0),
    "!": _Touch(0.95, 0.10, 3000.0, 0.12, 18.0, 0.4),
    ".": _Touch(0.1, 0.16, 800.0, 0.06, 0.0, 1.0),
    "x": _Touch(0.16, 0.14, 500.0, 0.5, 0.0, 1.0),
}


def demo_takes(sample_rate: int = 48000) -> dict[str, Signal]:
    """Return the invented takes.

    Parameters
    ----------
    sample_rate
        In hertz, 8000 to 192000.

    Returns
    -------
    dict of str to ndarray of shape (n,)
        By name, in volts: `open-strings`, `walking-line`, `hard-accents`, `slide`, `dead-notes`. The same
        rate gives the same samples.

    Raises
    ------
    AudioDataError
        When the sample rate is out of range.

    Notes
    -----
    Levels are those of a passive bass from memory: 0.1 to 0.4 V while a note sings, about 1 V on a hard
    accent. Under it lies a floor of noise 75 dB below 2 V. What is played is in `demo_notes`. The pick-up is wound so
    that a note first goes down, as 32 of the 35 notes of a recorded bass do (`fluid-soundfont-gm`).
    """
    check_range("sample_rate", sample_rate, *RATES_HZ, unit="Hz")
    return {
        name: _perform(notes, SCORES[name].seconds, sample_rate=sample_rate, seed=200 + 100 * index)
        for index, (name, notes) in enumerate(demo_notes().items())
    }


def _perform(notes: list[Note], seconds: float, *, sample_rate: int, seed: int) -> Signal:
    """Return one take."""
    rng = np.random.default_rng(seed)
    out = noise_floor(ceil(seconds * sample_rate), sample_rate=sample_rate, seed=seed)
    for number, note in enumerate(notes):
        gain_db = float(np.clip(rng.normal(0.0, SPREAD_DB), -2 * SPREAD_DB, 2 * SPREAD_DB))
        sound = _sound(note, db_to_ratio(gain_db), sample_rate=sample_rate, seed=seed + 1 + number)
        start = round(note.onset_s * sample_rate)
        out[start : start + len(sound)] += sound
    return -_coupled(out, sample_rate=sample_rate)


def _coupled(volts: Signal, *, sample_rate: int) -> Signal:
    """Return the take behind the direct box's coupling capacitor, a first-order high-pass."""
    padded = 1 << (len(volts) + sample_rate).bit_length()
    frequency_hz = np.fft.rfftfreq(padded, 1 / sample_rate)
    spectrum = np.fft.rfft(volts, padded) * (frequency_hz / (frequency_hz - 1j * COUPLING_HZ))
    return np.fft.irfft(spectrum, padded)[: len(volts)]


def _sound(note: Note, gain: float, *, sample_rate: int, seed: int) -> Signal:
    """Return one note. Stopping a string shortens it: finger and pick-up take up more of what sounds."""
    touch, open_string = _TOUCHES[note.touch], _STRINGS[note.string]
    shorter = 2 ** (note.fret / 12)
    held_s = note.end_s - note.onset_s
    level_volts = gain * touch.level_volts
    string = String(
        pluck_position=touch.pluck_position * shorter,
        pickup_position=PICKUP_POSITION * shorter,
        inharmonicity=open_string.inharmonicity * shorter**2,
        decay_s=open_string.decay_s * touch.decay_ratio * DECAY_PER_FRET**note.fret,
    )
    seconds = held_s + RELEASE_S
    if note.touch == "x":
        positions = {"pluck_position": string.pluck_position, "pickup_position": string.pickup_position}
        muted = replace(MUTED, **positions, noise_share=touch.noise_share)
        return dead_note(
            note.pitch_hz, seconds=seconds, sample_rate=sample_rate, level_volts=level_volts, string=muted, seed=seed
        )
    if note.to_hz is not None:
        return slide(
            Glide(note.pitch_hz, note.to_hz, start_s=SLIDE_SPAN[0] * held_s, end_s=SLIDE_SPAN[1] * held_s),
            seconds=seconds,
            sample_rate=sample_rate,
            level_volts=level_volts,
            string=string,
            held_s=held_s,
            seed=seed,
        )
    return pluck(
        note.pitch_hz,
        seconds=seconds,
        sample_rate=sample_rate,
        level_volts=level_volts,
        string=replace(
            string,
            brightness_hz=touch.brightness_hz,
            noise_share=touch.noise_share,
            glide_cents=touch.glide_cents,
        ),
        held_s=held_s,
        seed=seed,
    )
