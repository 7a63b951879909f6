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

from math import ceil, inf

import numpy as np
from numpy.typing import NDArray

from sublatch.demo.noise import RATES_HZ, burst, check_range
from sublatch.demo.partials import String, ring

RELEASE_S = 0.15
"""How long a stopped note takes to fall silent."""
GLIDE_S = 0.03
"""Time constant with which a hard pluck comes down to its pitch (invented)."""


def pluck(
    frequency_hz: float,
    *,
    seconds: float,
    sample_rate: int = 48000,
    level_volts: float = 0.25,
    pluck_position: float = 0.12,
    pickup_position: float = 0.16,
    inharmonicity: float = 3e-4,
    decay_s: float = 5.0,
    damping: float = 8e-4,
    slow_share: float = 0.2,
    brightness_hz: float = 1500.0,
    rolloff_hz: float = 4000.0,
    noise_share: float = 0.04,
    glide_cents: float = 0.0,
    held_s: float | None = None,
    seed: int = 0,
) -> NDArray[np.float64]:
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
    pluck_position, pickup_position
        Where the string is plucked and sensed, as a fraction of its sounding length from the bridge, 0 to 1.
    inharmonicity
        Stiffness B, no unit, 0 to 0.01.
    decay_s
        Seconds for the fundamental's first 30 dB (``inf`` for no decay).
    damping
        Loss factor of the string's material, no unit: how much sooner high partials die, 0 to 0.1.
    slow_share
        Share of each partial that decays three times as slowly, 0 to 1.
    brightness_hz
        Softness of the finger: partials are down by half at this frequency (``inf`` for a hard point).
    rolloff_hz
        Corner of the pick-up's inductance with its cable, in hertz (``inf`` for none).
    noise_share
        Peak of the finger's noise over the peak of the string, 0 to 1.
    glide_cents
        How far above its pitch a hard pluck starts, in cents, 0 to 200.
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
    check_range("glide_cents", glide_cents, 0.0, 200.0, unit="cents")
    check_range("noise_share", noise_share, 0.0, 1.0)
    string = String(
        pluck_position,
        pickup_position,
        inharmonicity,
        decay_s,
        damping,
        slow_share,
        brightness_hz,
        rolloff_hz,
    )
    _check(frequency_hz, seconds, sample_rate, level_volts, string)
    time_s = np.arange(round(seconds * sample_rate)) / sample_rate
    sharp_cents = np.where(time_s < 5 * GLIDE_S, glide_cents * np.exp(-time_s / GLIDE_S), 0.0)
    pitch_hz = frequency_hz * 2 ** (sharp_cents / 1200)
    held_s = _stop(held_s, seconds)
    sound = ring(pitch_hz, np.full(len(time_s), pickup_position), string=string, sample_rate=sample_rate, held_s=held_s)
    return _finish(sound, noise_share, level_volts=level_volts, sample_rate=sample_rate, held_s=held_s, seed=seed)


def dead_note(
    frequency_hz: float,
    *,
    seconds: float = 0.3,
    sample_rate: int = 48000,
    level_volts: float = 0.2,
    pluck_position: float = 0.14,
    pickup_position: float = 0.2,
    noise_share: float = 0.5,
    seed: int = 0,
) -> NDArray[np.float64]:
    """Return the thump of a string under a muting hand: a few partials that die at once, and noise.

    Parameters
    ----------
    frequency_hz
        The pitch the string would have where the hand lies, in hertz.
    seconds
        Length of the result.
    sample_rate
        In hertz, 8000 to 192000.
    level_volts
        Peak in volts.
    pluck_position, pickup_position
        As a fraction of the sounding length from the bridge.
    noise_share
        Peak of the noise over the peak of the partials, 0 to 1.
    seed
        The same seed gives the same thump.

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
        frequency_hz,
        seconds=seconds,
        sample_rate=sample_rate,
        level_volts=level_volts,
        pluck_position=pluck_position,
        pickup_position=pickup_position,
        inharmonicity=1e-3,
        decay_s=0.08,
        damping=0.03,
        slow_share=0.0,
        brightness_hz=500.0,
        noise_share=noise_share,
        seed=seed,
    )


def slide(
    from_hz: float,
    to_hz: float,
    *,
    seconds: float,
    start_s: float,
    end_s: float,
    sample_rate: int = 48000,
    level_volts: float = 0.25,
    pluck_position: float = 0.12,
    pickup_position: float = 0.16,
    inharmonicity: float = 3e-4,
    decay_s: float = 5.0,
    held_s: float | None = None,
    seed: int = 0,
) -> NDArray[np.float64]:
    """Return one plucked note whose pitch moves while it sounds.

    Parameters
    ----------
    from_hz, to_hz
        First and last pitch in hertz.
    seconds
        Length of the result.
    start_s, end_s
        When the pitch begins to move and when it has arrived.
    sample_rate
        In hertz, 8000 to 192000.
    level_volts
        Peak in volts.
    pluck_position, pickup_position
        Fractions of the sounding length at the first pitch. The pick-up stays where it is while the sounding
        length changes.
    inharmonicity
        Stiffness B at the first pitch; it is kept, so that every partial glides without a step in phase.
    decay_s
        Seconds for the fundamental's first 30 dB.
    held_s
        When the note is stopped; by default 0.15 s before the end.
    seed
        The same seed gives the same note.

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
    check_range("to_hz", to_hz, 1.0, sample_rate / 4, unit="Hz")
    check_range("end_s", end_s, 0.0, seconds, unit="s")
    check_range("start_s", start_s, 0.0, end_s, unit="s")
    string = String(pluck_position, pickup_position, inharmonicity, decay_s, 8e-4, 0.2, 1500.0, 4000.0)
    _check(from_hz, seconds, sample_rate, level_volts, string)
    check_range("pickup_position at to_hz", pickup_position * to_hz / from_hz, 0.0, 1.0)
    time_s = np.arange(round(seconds * sample_rate)) / sample_rate
    way = np.clip((time_s - start_s) / max(end_s - start_s, 1 / sample_rate), 0.0, 1.0)
    pitch_hz = from_hz * (to_hz / from_hz) ** (0.5 - 0.5 * np.cos(np.pi * way))
    place = pickup_position * pitch_hz / from_hz
    held_s = _stop(held_s, seconds)
    sound = ring(pitch_hz, place, string=string, sample_rate=sample_rate, held_s=held_s)
    return _finish(sound, 0.04, level_volts=level_volts, sample_rate=sample_rate, held_s=held_s, seed=seed)


def _check(frequency_hz: float, seconds: float, sample_rate: int, level_volts: float, string: String) -> None:
    """Refuse what no string does."""
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
    sound: NDArray[np.float64],
    noise_share: float,
    *,
    level_volts: float,
    sample_rate: int,
    held_s: float,
    seed: int,
) -> NDArray[np.float64]:
    """Return the note with the finger's noise, at its level, ending in silence unless it sounds on."""
    peak = np.max(np.abs(sound))
    if noise_share > 0:
        rng = np.random.default_rng(seed)
        sound = sound + peak * noise_share * burst(
            len(sound), sample_rate=sample_rate, low_hz=60.0, high_hz=1800.0, decay_s=0.03, rng=rng
        )
        peak = np.max(np.abs(sound))
    if peak > 0:
        sound = sound * (level_volts / peak)
    if held_s < len(sound) / sample_rate:
        fade = min(len(sound), ceil(0.01 * sample_rate))
        sound[-fade:] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(1, fade + 1) / fade)
    return sound
