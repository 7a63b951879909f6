"""The partials of a plucked string: what each one is, and their sum, sample by sample."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import ceil, log

import numpy as np

from sublatch.arrays import Array, Complex, Whole

THIRTY_DB = 1.5 * log(10)
"""30 dB in nepers: a note's decay is the time it takes to fall so far."""
SLOW_RATIO = 3.0
"""How many times longer the string swings across the body than towards it (invented)."""
RELEASE_PER_S = 70.0
"""Loss under a stopping finger, in nepers per second, at zero frequency (invented)."""
RELEASE_HZ = 600.0
"""Where that loss has doubled."""
INAUDIBLE = 1e-6
"""Partials below this share of the strongest are left out: −120 dB, far below the noise of any pick-up."""
TABLE = 32
"""Rows and columns of the tables that partials are summed by."""
GROUP = 48
"""Partials summed at a time: products so small are not spread over threads, which would cost more than it saves."""


@dataclass(frozen=True)
class String:
    """A string as it is plucked and picked up.

    Attributes
    ----------
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
    """

    pluck_position: float = 0.12
    pickup_position: float = 0.16
    inharmonicity: float = 3e-4
    decay_s: float = 5.0
    damping: float = 8e-4
    slow_share: float = 0.2
    brightness_hz: float = 1500.0
    rolloff_hz: float = 4000.0
    noise_share: float = 0.04
    glide_cents: float = 0.0


@dataclass(frozen=True)
class Partials:
    """What each partial is, one row a partial."""

    number: Whole
    stretch: Array  # frequency over the fundamental's ideal frequency
    strength: Array  # without the pick-up's position
    loss_per_s: Array
    release_per_s: Array

    def only(self, k: int) -> Partials:
        """Return partial `k` alone."""
        columns = (self.stretch, self.strength, self.loss_per_s, self.release_per_s)
        return Partials(self.number[k : k + 1], *(column[k : k + 1] for column in columns))


@dataclass(frozen=True)
class Motion:
    """What happens to the string, one value a sample: phase and its step in radians, position of the pick-up."""

    step: Array
    phase: Array
    pickup_position: Array
    sample_rate: int
    held_s: float


def _partials(string: String, *, pitch_hz: float, highest_hz: float, sample_rate: int) -> Partials:
    """Return the partials that stay below half the sample rate even at the highest pitch."""
    number = np.arange(1, ceil(sample_rate / 2 / highest_hz) + 1)
    stretch = number * np.sqrt(1 + string.inharmonicity * number**2)
    below = stretch * highest_hz < sample_rate / 2
    number, stretch = number[below], stretch[below]
    frequency_hz = stretch * pitch_hz
    strength = np.sin(number * np.pi * string.pluck_position) / number
    strength /= (1 + (frequency_hz / string.brightness_hz) ** 2) * np.sqrt(1 + (frequency_hz / string.rolloff_hz) ** 4)
    loss_per_s = THIRTY_DB / string.decay_s + np.pi * string.damping * (frequency_hz - frequency_hz[0])
    release_per_s = RELEASE_PER_S * (1 + frequency_hz / RELEASE_HZ)
    return Partials(number, stretch, strength, loss_per_s, release_per_s)


def ring(
    pitch_hz: Array,
    pickup_position: Array,
    *,
    string: String,
    sample_rate: int,
    held_s: float,
) -> Array:
    """Return the sum of the partials; the pitch and the pick-up's position are given for every sample."""
    partials = _partials(string, pitch_hz=float(pitch_hz[0]), highest_hz=float(pitch_hz.max()), sample_rate=sample_rate)
    step = 2 * np.pi / sample_rate * pitch_hz
    motion = Motion(step, np.cumsum(step) - step, pickup_position, sample_rate, held_s)
    changes = np.flatnonzero(np.diff(pitch_hz))
    moving = slice(changes[0], changes[-1] + 1) if len(changes) else slice(0, 0)
    count, held = len(step), min(len(step), ceil(min(held_s, 1e6) * sample_rate))
    edges = sorted({0, moving.start, moving.stop, held, count})
    out = np.empty(count)
    for start, stop in pairwise(edges):
        make = _moving if moving.start <= start < moving.stop else _steady
        out[start:stop] = make(partials, motion, start, stop, slow_share=string.slow_share)
    return out


def _steady(partials: Partials, motion: Motion, start: int, stop: int, *, slow_share: float) -> Array:
    """Return samples `start` to `stop` of partials that keep their pitch, by products of two small tables.

    With z = exp(rate) the step from sample to sample, ``z^(kK + j) = (z^K)^k z^j``: the sum over the partials
    is a matrix product, block after block, until a group of partials has died.
    """
    values, rates = _phasors(partials, motion, start, slow_share=slow_share)
    block, faintest = TABLE**2, INAUDIBLE * np.max(np.abs(partials.strength))
    out = np.zeros(ceil((stop - start) / block) * block)
    for group in range(0, len(values), GROUP):
        value, rate = values[group : group + GROUP], rates[group : group + GROUP]
        coarse = np.exp(np.arange(TABLE)[:, None] * TABLE * rate)
        fine = np.exp(rate[:, None] * np.arange(TABLE))
        for first in range(0, stop - start, block):
            if np.max(np.abs(value)) <= faintest:
                break
            out[first : first + block] += ((value * coarse) @ fine).imag.ravel()
            value = value * np.exp(block * rate)
    return out[: stop - start]


def _phasors(partials: Partials, motion: Motion, start: int, *, slow_share: float) -> tuple[Complex, Complex]:
    """Return each partial's complex value at sample `start` and its rate a sample, quick and slow decay apart."""
    start_s = start / motion.sample_rate
    weight = partials.strength * np.sin(partials.number * np.pi * motion.pickup_position[start])
    turned = weight * np.exp(1j * partials.stretch * motion.phase[start])
    held = start_s >= motion.held_s
    value, rate = [], []
    for share, ratio in ((1 - slow_share, 1.0), (slow_share, SLOW_RATIO)):
        loss_per_s = partials.loss_per_s / ratio + held * partials.release_per_s
        value.append(share * turned * np.exp(_log_height(partials, motion, start_s, ratio)))
        rate.append(-loss_per_s / motion.sample_rate + 1j * partials.stretch * motion.step[start])
    return np.concatenate(value), np.concatenate(rate)


def _moving(partials: Partials, motion: Motion, start: int, stop: int, *, slow_share: float) -> Array:
    """Return samples `start` to `stop` of partials whose pitch changes, one partial after another."""
    time_s = np.arange(start, stop) / motion.sample_rate
    phase, position = motion.phase[start:stop], motion.pickup_position[start:stop]
    if np.ptp(position) == 0:
        position = position[:1]
    out = np.zeros(stop - start)
    slowest = SLOW_RATIO if slow_share > 0 else 1.0
    height_at_start = np.exp(_log_height(partials, motion, time_s[0], slowest))
    audible = np.abs(partials.strength) * height_at_start > INAUDIBLE * np.max(np.abs(partials.strength))
    for k in np.flatnonzero(audible):
        partial = partials.only(int(k))
        height = (1 - slow_share) * np.exp(_log_height(partial, motion, time_s, 1.0))
        if slow_share > 0:
            height += slow_share * np.exp(_log_height(partial, motion, time_s, SLOW_RATIO))
        out += partial.strength * np.sin(partial.number * np.pi * position) * np.sin(partial.stretch * phase) * height
    return out


def _log_height(partials: Partials, motion: Motion, time_s: float | Array, ratio: float) -> Array:
    """Return how far each partial has decayed at a time, in nepers."""
    stopped_s = np.maximum(time_s - motion.held_s, 0.0)
    return -partials.loss_per_s / ratio * time_s - partials.release_per_s * stopped_s
