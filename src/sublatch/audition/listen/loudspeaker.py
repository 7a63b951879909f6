"""Listening as through a loudspeaker: a generic one of bass size, or an impulse response of the user's own.

Never part of a circuit, and never part of what is measured. The generic loudspeaker is three textbook sections:

- a driver in a closed box, a second-order high-pass at 48 Hz with Q 0.8: half power at 41 Hz, an open low E, and
  12 dB an octave below, so that an octave down is as thin as such a box makes it;
- a rise of 2.5 dB around 140 Hz, where the box, the floor and the cone's rim add to each other;
- a cone that gives up above 3.5 kHz, a third-order Butterworth low-pass: a bass driver without a tweeter.

The numbers are ordinary ones for such a box, chosen for this project: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import ceil, gcd
from typing import Literal

import numpy as np

from sublatch.arrays import Complex, Signal
from sublatch.circuit.networks.transfer import Transfer
from sublatch.errors import AudioDataError
from sublatch.sampling.rates import resampled
from sublatch.signal.filtering import fixed as filters

BOX_HZ, BOX_Q = 48.0, 0.8
"""Resonance of the driver in its closed box, and its Q."""
RISE_HZ, RISE_Q, RISE_DB = 140.0, 0.8, 2.5
"""Middle, width and height of the low-mid rise."""
CONE_HZ = 3500.0
"""Half-power frequency of the cone's fall."""
REFERENCE_HZ = (60.0, 1000.0)
"""Between these every voicing is 0 dB: the mean of its power, each octave weighing the same."""
REFERENCE_POINTS = 4001
LONGEST_RESPONSE_S = 5.0
"""Longest impulse response, its leading silence included."""
ONSET_SHARE = 0.01
"""An impulse response begins where it first reaches this share of its peak (−40 dB)."""
LEAST_SHARE = 1e-4
"""Share of its strongest frequency that a response must have in the reference range, on the mean (−80 dB)."""
RINGING = 1024
"""Samples left around an impulse response for the resampler's own ringing."""


@dataclass(frozen=True, eq=False)
class ImpulseResponse:
    """An impulse response to listen through; made by `impulse_response`.

    Attributes
    ----------
    samples
        The response (n,), in any unit: its loudness is evened.
    sample_rate
        Samples per second.
    onset
        Sample at which it begins; a take that passes comes out without the silence before it.
    """

    samples: Signal
    sample_rate: int
    onset: int


Voicing = Literal["loudspeaker"] | ImpulseResponse
"""What a candidate is listened to through."""


def impulse_response(samples: Signal, *, sample_rate: int, name: str = "the impulse response") -> ImpulseResponse:
    """Return an impulse response that is fit to listen through.

    Parameters
    ----------
    samples
        One channel (n,), at most 5 s.
    sample_rate
        Samples per second, 8000 to 192000.
    name
        What to call it in messages, such as its file.

    Raises
    ------
    AudioDataError
        When it is silent, too long, of several channels, holds values that are no numbers, or passes next to nothing
        from 60 Hz to 1 kHz.
    """
    array = np.asarray(samples)
    if array.ndim != 1 or array.dtype.kind != "f":
        hint = "; give one channel, as in samples[:, 0]" if array.ndim == 2 else ""
        raise AudioDataError(f"{name} must be floats of shape (n,), got {array.dtype} of shape {array.shape}{hint}")
    if not 8000 <= sample_rate <= 192000 or sample_rate != int(sample_rate):
        raise AudioDataError(f"{name} must have a whole sample rate of 8000 to 192000 Hz, got {sample_rate}")
    bad = np.count_nonzero(~np.isfinite(array))
    if bad:
        raise AudioDataError(f"every sample of {name} must be a number, got {bad} that are not (NaN or infinite)")
    peak = float(np.max(np.abs(array), initial=0.0))
    if peak == 0.0:
        raise AudioDataError(f"{name} must hold sound, got {len(array)} samples of silence")
    if len(array) > LONGEST_RESPONSE_S * sample_rate:
        raise AudioDataError(
            f"{name} must be at most {LONGEST_RESPONSE_S:g} s long, got {len(array) / sample_rate:.1f} s; "
            "is it a recording?"
        )
    onset = int(np.argmax(np.abs(array) >= ONSET_SHARE * peak))
    response = ImpulseResponse(np.array(array, dtype=np.float64), int(sample_rate), onset)
    strongest, mean = _strongest_and_mean(response.samples, response.sample_rate)
    if mean < LEAST_SHARE * strongest:
        low, high = REFERENCE_HZ
        raise AudioDataError(f"{name} must pass sound from {low:g} to {high:g} Hz, got next to none of it")
    return response


@lru_cache(maxsize=1)
def voicing_transfer() -> Transfer:
    """Return the generic loudspeaker's transfer function.

    Returns
    -------
    Transfer
        Zeros, poles and gain. From 60 Hz to 1 kHz its power is 0 dB on the mean, each octave weighing the same.

    Notes
    -----
    Closed box: s² / (s² + s ω/Q + ω²) (R. H. Small, "Closed-box loudspeaker systems, part I: analysis", J. Audio Eng.
    Soc. 20(10), 1972; from memory). Rise: (s² + s g ω/Q + ω²) / (s² + s ω/Q + ω²), g at the middle. Cone:
    |H|² = 1 / (1 + (f/fc)⁶).
    """
    box, rise, cone = (2 * np.pi * hz for hz in (BOX_HZ, RISE_HZ, CONE_HZ))
    height = 10 ** (RISE_DB / 20)
    zeros = [0.0, 0.0, *_pair(rise, RISE_Q / height)]
    poles = [*_pair(box, BOX_Q), *_pair(rise, RISE_Q), *_pair(cone, 1.0), -cone]
    plain = Transfer(np.array(zeros, complex), np.array(poles, complex), cone**3)
    power = np.abs(plain.response(np.geomspace(*REFERENCE_HZ, REFERENCE_POINTS))) ** 2
    mean = float(np.mean(0.5 * (power[1:] + power[:-1])))
    return Transfer(plain.zeros, plain.poles, plain.gain / np.sqrt(mean))


def voiced(samples: Signal, *, sample_rate: int, voicing: Voicing) -> Signal:
    """Return a signal as heard through a loudspeaker.

    Parameters
    ----------
    samples
        Volts or parts of full scale (n,).
    sample_rate
        Samples per second.
    voicing
        ``"loudspeaker"`` for the generic one, or an impulse response, which is brought to this rate.

    Returns
    -------
    NDArray
        Samples (n,); what rings on after the end is cut off.

    Raises
    ------
    AudioDataError
        When `voicing` is neither.

    Notes
    -----
    Nothing is delayed but by the loudspeaker's own phase. An impulse response counts from its onset: the output is
    moved ahead by the silence before it, and what little comes earlier stays where it is, ahead of the onset.
    """
    if isinstance(voicing, ImpulseResponse):
        return _convolved(samples, *_at_rate(voicing, sample_rate))
    if voicing != "loudspeaker":
        raise AudioDataError(f"a voicing must be 'loudspeaker' or an impulse response, got {voicing!r}")
    if len(samples) == 0:
        return samples
    return filters.apply([samples], [[voicing_transfer()]], sample_rate=sample_rate)[0]


def _pair(angular: float, q: float) -> Complex:
    """Return the roots of s² + s ω/Q + ω²."""
    half = 0.5 * angular / q
    root = np.sqrt(complex(half * half - angular * angular))
    return np.array([-half + root, -half - root])


def _strongest_and_mean(samples: Signal, sample_rate: int) -> tuple[float, float]:
    """Return an impulse response's largest power gain, and its mean over the reference range."""
    size = max(len(samples), 2 * sample_rate)  # half a hertz from point to point, or less
    power = np.abs(np.fft.rfft(samples, size)) ** 2
    frequency = np.fft.rfftfreq(size, 1.0 / sample_rate)
    inside = (frequency >= REFERENCE_HZ[0]) & (frequency <= REFERENCE_HZ[1])
    return float(power.max()), float(np.average(power[inside], weights=1.0 / frequency[inside]))


def _at_rate(response: ImpulseResponse, sample_rate: int) -> tuple[Signal, int]:
    """Return a response at a rate, 0 dB over the reference range there, and its onset, which falls on a sample."""
    samples, onset = response.samples, response.onset
    if response.sample_rate != sample_rate:
        unit = response.sample_rate // gcd(response.sample_rate, sample_rate)
        before = RINGING + -(onset + RINGING) % unit
        padded = np.concatenate((np.zeros(before), samples, np.zeros(RINGING)))
        samples = resampled(padded, response.sample_rate, sample_rate)
        onset = (onset + before) * sample_rate // response.sample_rate
    mean = _strongest_and_mean(samples, sample_rate)[1]
    return samples / np.sqrt(mean), onset


def _convolved(samples: Signal, response: Signal, onset: int) -> Signal:
    """Return a signal (n,) through an impulse response (m,), moved ahead by its onset."""
    count = len(samples)
    size = 1 << ceil(np.log2(max(4 * len(response), filters.BLOCK)))
    spectrum = np.fft.rfft(response, size)
    step = size - len(response) + 1
    total = np.zeros(count + size)
    for start in range(0, count, step):
        block = np.fft.irfft(np.fft.rfft(samples[start : start + step], size) * spectrum, size)
        total[start : start + size] += block[: len(total) - start]
    return total[onset : onset + count]
