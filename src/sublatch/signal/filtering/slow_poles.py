"""Poles that ring on for long, by recursion from sample to sample.

A pole p adds to a signal x what w' = p w + x gives. From one sample to the next, w decays by e^(pT) and takes in what
x brings meanwhile. For a band-limited x that is x through (e^(sT) − e^(pT)) / (s − p), which has no pole and rings for
one sample: the same work whether w lasts a second or a day, and nothing is cut short.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sublatch.arrays import Complex, Flags, Signal
from sublatch.circuit.networks.transfer import Transfer

SLOWEST_S = 0.3
"""Time constant in seconds above which a pole is slow; the output coupling of the built-in circuits has 0.1 to 0.17."""


@dataclass(frozen=True)
class SlowPole:
    """A section 1 or 0 plus weight / (s − pole); of a pair, the conjugate of the latter belongs to it too.

    Attributes
    ----------
    pole
        In rad/s; of a pair the one above the real axis.
    beside
        What of the signal passes beside the pole: 1, or 0 where a zero to go with it is missing.
    weight
        What w is weighted by.
    """

    pole: complex
    beside: float
    weight: complex


@dataclass(frozen=True)
class Brought:
    """What a signal brings to w in one sample, as a response; of a complex w its real or its imaginary part."""

    pole: complex
    sample_rate: float
    imaginary: bool = False

    def response(self, frequency_hz: Signal) -> Complex:
        """Return the complex gain in seconds at each frequency in hertz."""
        pole_gain, conjugate_gain = (self._gain(frequency_hz, pole) for pole in (self.pole, self.pole.conjugate()))
        return (pole_gain - conjugate_gain) / 2j if self.imaginary else (pole_gain + conjugate_gain) / 2.0

    def _gain(self, frequency_hz: Signal, pole: complex) -> Complex:
        """Return (e^(sT) − e^(pT)) / (s − p), T where both are one."""
        distance = 2j * np.pi * frequency_hz - pole
        difference = np.exp(pole / self.sample_rate) * np.expm1(distance / self.sample_rate)
        gain: Complex = np.full(distance.shape, 1.0 / self.sample_rate, complex)
        np.divide(difference, distance, out=gain, where=distance != 0.0)
        return gain


def split(transfer: Transfer) -> tuple[Transfer, list[SlowPole]]:
    """Return a transfer function as one without slow poles, and the sections that follow it.

    Notes
    -----
    A slow pole takes the nearest real zero with it, (s − z)/(s − p) = 1 + (p − z)/(s − p): so a coupling capacitor's
    section is 1 but for the deepest bass. A pair takes two zeros: (s − y)(s − z)/((s − p)(s − p*)) is 1 + 2 Re
    r/(s − p) with r = (p − y)(p − z)/(p − p*). Where zeros are missing, nothing passes beside the pole, and the section
    is brought to about unity instead.
    """
    slow = transfer.poles.real > -1.0 / SLOWEST_S
    zeros, gain, sections = transfer.zeros, transfer.gain, list[SlowPole]()
    for pole in transfer.poles[slow & (transfer.poles.imag >= 0.0)]:
        paired = bool(pole.imag > 0.0)
        taken = _taken(zeros, pole, paired)
        missing = 1 + paired - np.count_nonzero(taken)
        scale = max(abs(pole), 1.0 / SLOWEST_S) ** missing
        weight = scale * np.prod(pole - zeros[taken])
        sections.append(SlowPole(pole, float(not missing), weight / (2j * pole.imag) if paired else weight))
        zeros, gain = zeros[~taken], gain / scale
    return Transfer(zeros, transfer.poles[~slow], gain), sections


def brought(section: SlowPole, *, sample_rate: float) -> list[Brought]:
    """Return what a signal passes on its way into a section's w: its real part, and with a pair its imaginary one."""
    parts = (False, True) if section.pole.imag else (False,)
    return [Brought(section.pole, sample_rate, imaginary) for imaginary in parts]


def rung(section: SlowPole, samples: Signal, brought_in: list[Signal], *, sample_rate: float) -> Signal:
    """Return a section's output (n,).

    Parameters
    ----------
    section
        The section.
    samples
        Its input (n,).
    brought_in
        What that brings (n,), as `brought` lists it.
    sample_rate
        Samples per second.
    """
    from scipy.signal import lfilter

    decay = np.exp(section.pole / sample_rate)
    if not section.pole.imag:
        state = lfilter([0.0, 1.0], [1.0, -decay.real], brought_in[0])
        from_pole = section.weight.real * state
    else:
        from_pole = 2.0 * (section.weight * lfilter([0.0, 1.0], [1.0, -decay], brought_in[0] + 1j * brought_in[1])).real
    out: Signal = section.beside * samples + from_pole
    return out


def _taken(zeros: Complex, pole: complex, paired: bool) -> Flags:
    """Return which zeros (z,) go with a pole: the nearest real one; with a pair the nearest pair, or real ones."""
    taken = np.zeros(len(zeros), bool)
    real = np.flatnonzero(zeros.imag == 0.0)
    real = real[np.argsort(np.abs(zeros[real] - pole))]
    upper = np.flatnonzero(zeros.imag > 0.0)
    if paired and len(upper):
        nearest = zeros[upper[np.argmin(np.abs(zeros[upper] - pole))]]
        taken[np.argmin(np.abs(zeros - nearest))] = taken[np.argmin(np.abs(zeros - nearest.conjugate()))] = True
    else:
        taken[real[: 1 + paired]] = True
    return taken
