"""Low-pass curves in closed form, many at a time: how far the curve of real parts is from the one that was asked for.

A curve is the polynomial of its denominator, 1 + a s + b s² + c s³. Its corner is where it is 3.01 dB below its gain at
zero frequency; its departure is measured against another curve that is stretched to the same corner.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from sublatch.arrays import Array

FLAT_Q = math.sqrt(0.5)
"""The highest Q without a peak: maximally flat."""
STEPS = 120
"""Frequencies at which departures are looked for."""


def q_of_peak(peak_db: float) -> float:
    """Return the Q of a second-order low-pass whose peak is so high; 0 dB is the highest Q without one.

    Notes
    -----
    The inverse of 20 log(Q² / √(Q² − ¼)): Q² = (P + √(P² − P))/2, P = 10^(dB/10).
    """
    power = 10.0 ** (peak_db / 10.0)
    return math.sqrt((power + math.sqrt(power * power - power)) / 2.0)


def second_order_corner(q: ArrayLike) -> Array:
    """Return the corner of a second-order low-pass in units of its natural frequency.

    Notes
    -----
    The root of (1 − x²)² + x²/Q² = 2: x² = u + √(u² + 1), u = 1 − 1/(2Q²).
    """
    u = 1.0 - 0.5 / np.square(np.asarray(q, dtype=float))
    corner: Array = np.sqrt(u + np.sqrt(u * u + 1.0))
    return corner


def second_order_curve(q: ArrayLike) -> Array:
    """Return a, b and c of second-order low-passes (…, 3) with a natural frequency of 1 rad/s."""
    reciprocal = 1.0 / np.asarray(q, dtype=float)
    return np.stack([reciprocal, np.ones_like(reciprocal), np.zeros_like(reciprocal)], axis=-1)


def third_order_curve(first_ground: ArrayLike, feedback: ArrayLike, second_ground: ArrayLike) -> Array:
    """Return a, b and c of third-order low-passes (…, 3) with resistors of 1 Ω, capacitors in farads.

    Notes
    -----
    The nodal equations of the network with equal resistors: a = C1 + 3 C3, b = 2 C3 (C1 + C2), c = C1 C2 C3.
    """
    first, second, third = (np.asarray(value, dtype=float) for value in (first_ground, feedback, second_ground))
    return np.stack([first + 3.0 * third, 2.0 * third * (first + second), first * second * third], axis=-1)


def third_order_corner(curve: Array) -> Array:
    """Return the corners of third-order low-passes (…,) in rad/s, the highest where there are several.

    Notes
    -----
    |D|² = 1 + (a² − 2b) x + (b² − 2ac) x² + c² x³ = 2 with x = ω², by the eigenvalues of its companion matrix.
    """
    a, b, c = np.moveaxis(curve, -1, 0)
    companion = np.zeros((*a.shape, 3, 3))
    companion[..., 0, 0] = -(b * b - 2.0 * a * c) / c**2
    companion[..., 0, 1] = -(a * a - 2.0 * b) / c**2
    companion[..., 0, 2] = 1.0 / c**2
    companion[..., 1, 0] = companion[..., 2, 1] = 1.0
    roots = np.linalg.eigvals(companion)
    is_real = np.abs(roots.imag) <= 1e-6 * np.abs(roots)
    corner: Array = np.sqrt(np.max(np.where(is_real, roots.real, 0.0), axis=-1))
    return corner


def departure_db(
    curve: Array, corner: Array, wanted: Array, wanted_corner: float, *, up_to_corners: float = 1.0
) -> Array:
    """Return by how much curves differ at most from the wanted one, all of them stretched to the same corner.

    Parameters
    ----------
    curve
        a, b and c of the curves (n, 3).
    corner
        Their corners (n,) in rad/s.
    wanted
        a, b and c of the wanted curve (3,).
    wanted_corner
        Its corner in rad/s.
    up_to_corners
        Up to how many times the corner they are compared.

    Returns
    -------
    ndarray
        Largest difference in gain in dB (n,). No peak is off by more.
    """
    relative = np.linspace(up_to_corners / STEPS, up_to_corners, STEPS)
    found = _loss_db(curve[:, np.newaxis, :], corner[:, np.newaxis] * relative)
    asked = _loss_db(wanted, wanted_corner * relative)
    largest: Array = np.max(np.abs(found - asked), axis=1)
    return largest


def _loss_db(curve: Array, omega: Array) -> Array:
    """Return 10 log |1 + a s + b s² + c s³|² at s = jω."""
    a, b, c = np.moveaxis(curve, -1, 0)
    loss: Array = 10.0 * np.log10((1.0 - b * omega**2) ** 2 + (a * omega - c * omega**3) ** 2)
    return loss
