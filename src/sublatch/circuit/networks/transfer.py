"""Transfer functions as zeros, poles and a gain: of one network, or of many boards at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sublatch.arrays import Array, Complex, Whole

LEAST_GAIN = 1e-15
"""A lower gain is none."""


@dataclass(frozen=True, eq=False)
class Boards:
    """The transfer functions of n boards, each H(s) = gain · Π(s − zero) / Π(s − pole), with s in rad/s.

    Attributes
    ----------
    zeros, poles
        Their roots (n, m).
    gain
        Their gains (n,).
    """

    zeros: Complex
    poles: Complex
    gain: Array

    def part(self, some: slice | Whole) -> Boards:
        """Return some of the boards."""
        return Boards(self.zeros[some], self.poles[some], self.gain[some])

    def power(self, frequency_hz: Array) -> Array:
        """Return the squared gains (n, k) at frequencies in hertz that are common (k,) or each board's own (n, k)."""
        omega, gain = 2 * np.pi * frequency_hz, np.abs(self.gain)[:, np.newaxis]
        power = np.broadcast_to(gain, np.broadcast_shapes(gain.shape, omega.shape)).copy()
        for index in range(max(self.zeros.shape[1], self.poles.shape[1])):
            for roots, change in ((self.zeros, np.multiply), (self.poles, np.divide)):
                if index < roots.shape[1]:
                    root = roots[:, index, np.newaxis]
                    change(power, root.real**2 + (omega - root.imag) ** 2, out=power)
        return np.asarray(np.maximum(power * gain, LEAST_GAIN**2))


@dataclass(frozen=True)
class Transfer:
    """A transfer function H(s) = gain · Π(s − zero) / Π(s − pole), with s in rad/s."""

    zeros: Complex
    poles: Complex
    gain: float

    def response(self, frequency_hz: ArrayLike) -> Complex:
        """Return the complex gain at each frequency in hertz, in the shape that was given."""
        s = 2j * np.pi * np.asarray(frequency_hz, dtype=float)
        return product(self.gain, self.zeros, self.poles, s)

    @property
    def boards(self) -> Boards:
        """The same as a batch of one board."""
        return Boards(self.zeros[np.newaxis], self.poles[np.newaxis], np.array([self.gain]))

    @property
    def settling_s(self) -> float:
        """Time constant of the slowest pole in seconds (0 without poles)."""
        return float(np.max(-1.0 / self.poles.real)) if len(self.poles) else 0.0


def product(gain: float, zeros: Complex, poles: Complex, s: Complex) -> Complex:
    """Return gain · Π(s − zero) / Π(s − pole), root by root so that nothing overflows.

    Parameters
    ----------
    gain
        The gain.
    zeros, poles
        Roots in rad/s, of one network (m,) or of many boards (n, m).
    s
        Where, in rad/s: of any shape for one network, a single place for many boards.
    """
    value = np.full(np.broadcast_shapes(s.shape, zeros.shape[:-1]), gain, dtype=complex)
    for index in range(max(zeros.shape[-1], poles.shape[-1])):
        if index < zeros.shape[-1]:
            value *= s - zeros[..., index]
        if index < poles.shape[-1]:
            value /= s - poles[..., index]
    return value


UNITY = Transfer(np.zeros(0, complex), np.zeros(0, complex), 1.0)
