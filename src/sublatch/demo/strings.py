"""A plucked string under a magnetic pick-up, as a sum of decaying partials, in volts.

The pick-up answers to the string's velocity. On an ideal string, plucked at the fraction p of its length
and sensed at the fraction q, partial n starts as ``(1/n) sin(nπp) sin(nπq) sin(2πf_n t)``, with its sign;
all partials start at zero together, so a note begins without a click. Source: Fletcher and Rossing, *The
Physics of Musical Instruments* (from memory; the tests hold it against travelling waves).

Any p and q below a quarter make the second partial the strongest: the kind of note on which an octave-down
divider jumps to the wrong octave. Levels are those of a bass into a direct box from memory: 0.1 to 0.4 V
while a note sings, about 1 V on a hard accent.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, inf

import numpy as np

from sublatch.arrays import Signal
from sublatch.demo.noise import RATES_HZ, burst, check_range
from sublatch.demo.partials import String, ring

RELEASE_S = 0.15
"""How long a stopped note takes to fall silent."""
GLIDE_S = 0.03
"""Time constant with which a hard pluck comes down to its pitch (invented)."""


PLUCKED = String()
MUTED = String(
    0.14, 0.2, inharmonicity=1e-3, decay_s=0.08, damping=0.03, slow_share=0.0, brightness_hz=500.0, noise_share=0.5
)
"""A string under a muting hand."""


@dataclass(frozen=True)
class Glide:
    """How a pitch moves: from a pitch to another in hertz, from when on and until when in seconds."""

    from_hz: float
    to_hz: float
    start_s: float
    end_s: float


def pluck(
    frequency_hz: float,
    *,
    seconds: float,
    sample_rate: int = 48000,
    level_volts: float = 0.25,
    string: String = PLUCKED,
    held_s: float | None = None,
    seed: int = 0,
) -> Signal:
    """Return one plucked note.

    Parameters
    ----------
    frequency_hz
        Pitch in hertz, up to a quarter of the sample rate. Stiffness puts partial 1 a hair above it.
    seconds
        Length of the result, 0.01 to 60 s.
    sample_rate
        In hertz, 8000 to 192000.
    level_volts
        Peak of the note in volts.
    string
        The string as it is plucked and picked up.
    held_s
        When the note is stopped, in seconds. By default 0.15 s before the end; ``inf`` lets it ring on,
        and the result then ends at full swing.
    seed
        The same seed gives the same note.

    Returns
    -------
    ndarray of shape (n,)
        In volts, n = round(seconds · sample_rate).

    Raises
    ------
    AudioDataError
        When a value is out of range.

    Notes
    -----
    ``f_n = n f √(1 + B n²)``; loss ``σ_n = σ_1 + π · damping · (f_n − f_1)``, that of a material with a
    constant loss factor; pick-up ``1/√(1 + (f_n/rolloff)⁴)``, a second-order Butterworth low-pass (both from
    memory). The phase of these filters is left out, so that all partials still start at zero.
    """
    _check(frequency_hz, seconds, sample_rate, level_volts, string)
    time_s = np.arange(round(seconds * sample_rate)) / sample_rate
    sharp_cents = np.where(time_s < 5 * GLIDE_S, string.glide_cents * np.exp(-time_s / GLIDE_S), 0.0)
    pitch_hz = frequency_hz * 2 ** (sharp_cents / 1200)
    held_s = _stop(held_s, seconds)
    pickup_position = np.full(len(time_s), string.pickup_position)
    sound = ring(pitch_hz, pickup_position, string=string, sample_rate=sample_rate, held_s=held_s)
    return _finish(sound, string, level_volts=level_volts, sample_rate=sample_rate, held_s=held_s, seed=seed)


def dead_note(
    frequency_hz: float,
    *,
    seconds: float = 0.3,
    sample_rate: int = 48000,
    level_volts: float = 0.2,
    string: String = MUTED,
    seed: int = 0,
) -> Signal:
    """Return the thump of a string under a muting hand: a few partials that die at once, and noise.

    Parameters
    ----------
    frequency_hz
        The pitch the string would have where the hand lies, in hertz.
    seconds, sample_rate, level_volts, string, seed
        As for `pluck`.

    Returns
    -------
    ndarray of shape (n,)
        In volts, n = round(seconds · sample_rate).

    Raises
    ------
    AudioDataError
        When a value is out of range.
    """
    return pluck(
        frequency_hz, seconds=seconds, sample_rate=sample_rate, level_volts=level_volts, string=string, seed=seed
    )


def slide(
    glide: Glide,
    *,
    seconds: float,
    sample_rate: int = 48000,
    level_volts: float = 0.25,
    string: String = PLUCKED,
    held_s: float | None = None,
    seed: int = 0,
) -> Signal:
    """Return one plucked note whose pitch moves while it sounds.

    Parameters
    ----------
    glide
        How its pitch moves.
    seconds, sample_rate, level_volts, held_s, seed
        As for `pluck`.
    string
        The string at the first pitch. The pick-up stays where it is while the sounding length changes, and so does
        the inharmonicity, so that every partial glides without a step in phase.

    Returns
    -------
    ndarray of shape (n,)
        In volts, n = round(seconds · sample_rate).

    Raises
    ------
    AudioDataError
        When a value is out of range, or the pick-up would come to lie outside the sounding length.

    Notes
    -----
    The pitch follows a raised cosine in cents; each partial's phase is the integral of its frequency.
    """
    from_hz, to_hz, start_s, end_s = glide.from_hz, glide.to_hz, glide.start_s, glide.end_s
    check_range("to_hz", to_hz, 1.0, sample_rate / 4, unit="Hz")
    check_range("end_s", end_s, 0.0, seconds, unit="s")
    check_range("start_s", start_s, 0.0, end_s, unit="s")
    _check(from_hz, seconds, sample_rate, level_volts, string)
    check_range("pickup_position at to_hz", string.pickup_position * to_hz / from_hz, 0.0, 1.0)
    time_s = np.arange(round(seconds * sample_rate)) / sample_rate
    progress = np.clip((time_s - start_s) / max(end_s - start_s, 1 / sample_rate), 0.0, 1.0)
    pitch_hz = from_hz * (to_hz / from_hz) ** (0.5 - 0.5 * np.cos(np.pi * progress))
    pickup_position = string.pickup_position * pitch_hz / from_hz
    held_s = _stop(held_s, seconds)
    sound = ring(pitch_hz, pickup_position, string=string, sample_rate=sample_rate, held_s=held_s)
    return _finish(sound, string, level_volts=level_volts, sample_rate=sample_rate, held_s=held_s, seed=seed)


def _check(frequency_hz: float, seconds: float, sample_rate: int, level_volts: float, string: String) -> None:
    """Refuse what no string does."""
    check_range("glide_cents", string.glide_cents, 0.0, 200.0, unit="cents")
    check_range("noise_share", string.noise_share, 0.0, 1.0)
    check_range("sample_rate", sample_rate, *RATES_HZ, unit="Hz")
    check_range("frequency_hz", frequency_hz, 1.0, sample_rate / 4, unit="Hz")
    check_range("seconds", seconds, 0.01, 60.0, unit="s")
    check_range("level_volts", level_volts, 0.0, 10.0, unit="V")
    check_range("pluck_position", string.pluck_position, 0.0, 1.0)
    check_range("pickup_position", string.pickup_position, 0.0, 1.0)
    check_range("inharmonicity", string.inharmonicity, 0.0, 0.01)
    check_range("decay_s", string.decay_s, 0.001, inf, unit="s")
    check_range("damping", string.damping, 0.0, 0.1)
    check_range("slow_share", string.slow_share, 0.0, 1.0)
    check_range("brightness_hz", string.brightness_hz, 1.0, inf, unit="Hz")
    check_range("rolloff_hz", string.rolloff_hz, 1.0, inf, unit="Hz")


def _stop(held_s: float | None, seconds: float) -> float:
    """Return when the note is stopped: as asked, or so that it is silent at the end."""
    if held_s is not None:
        check_range("held_s", held_s, 0.0, inf, unit="s")
        return held_s
    return max(seconds - RELEASE_S, seconds / 2)


def _finish(
    sound: Signal,
    string: String,
    *,
    level_volts: float,
    sample_rate: int,
    held_s: float,
    seed: int,
) -> Signal:
    """Return the note with the finger's noise, at its level, ending in silence unless it sounds on."""
    peak = np.max(np.abs(sound))
    if string.noise_share > 0:
        rng = np.random.default_rng(seed)
        sound = sound + peak * string.noise_share * burst(
            len(sound), sample_rate=sample_rate, low_hz=60.0, high_hz=1800.0, decay_s=0.03, rng=rng
        )
        peak = np.max(np.abs(sound))
    if peak > 0:
        sound = sound * (level_volts / peak)
    if held_s < len(sound) / sample_rate:
        fade = min(len(sound), ceil(0.01 * sample_rate))
        sound[-fade:] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(1, fade + 1) / fade)
    return sound
