"""Low-pass curves: corner and peak of the second order, and how far boards' curves are from the one asked for."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from sublatch.arrays import Array
from sublatch.circuit.networks.corners import corners_and_peaks
from sublatch.circuit.networks.transfer import Boards

FLAT_Q = math.sqrt(0.5)
"""The highest Q without a peak: maximally flat."""
STEPS = 120
"""Frequencies at which departures are looked for."""


def q_of_peak(peak_db: float) -> float:
    """Return the Q of a second-order low-pass whose peak is so high; 0 dB is the highest Q without one.

    Notes
    -----
    The inverse of `second_order_peak_db`: Q² = (P + √(P² − P))/2, P = 10^(dB/10).
    """
    power = 10.0 ** (peak_db / 10.0)
    return math.sqrt((power + math.sqrt(power * power - power)) / 2.0)


def second_order_peak_db(q: ArrayLike) -> Array:
    """Return the peak of second-order low-passes in dB.

    Notes
    -----
    20 log(Q² / √(Q² − ¼)). In closed form, since shares of thousands of boards are compared for many sets of parts.
    """
    square = np.maximum(q, FLAT_Q) ** 2
    return np.asarray(20.0 * np.log10(square / np.sqrt(square - 0.25)))


def second_order_corner(q: ArrayLike) -> Array:
    """Return the corner of second-order low-passes in units of their natural frequency.

    Notes
    -----
    The root of (1 − x²)² + x²/Q² = 2: x² = u + √(u² + 1), u = 1 − 1/(2Q²). In closed form for the same reason as
    `second_order_peak_db`.
    """
    u = 1.0 - 0.5 / np.square(np.asarray(q, dtype=float))
    return np.asarray(np.sqrt(u + np.sqrt(u * u + 1.0)))


def second_order(q: float) -> Boards:
    """Return the one low-pass of second order with a Q, its natural frequency 1 rad/s."""
    return Boards(np.zeros((1, 0), complex), np.roots([1.0, 1.0 / q, 1.0]).astype(complex)[np.newaxis], np.ones(1))


def departure_db(boards: Boards, corner_hz: Array, wanted: Boards, *, up_to_corners: float = 1.0) -> Array:
    """Return by how much curves differ at most from the wanted one, all of them stretched to the same corner.

    Parameters
    ----------
    boards
        The transfer functions of n boards with the same gain at zero frequency as the wanted one.
    corner_hz
        Their corners (n,).
    wanted
        The wanted one, alone.
    up_to_corners
        Up to how many times the corner they are compared.

    Returns
    -------
    ndarray
        Largest difference in gain in dB (n,). No peak is off by more.
    """
    relative = np.linspace(up_to_corners / STEPS, up_to_corners, STEPS)
    asked = wanted.power(corners_and_peaks(wanted).corner_hz * relative)
    off_db = 10.0 * np.log10(boards.power(corner_hz[:, np.newaxis] * relative) / asked)
    return np.asarray(np.max(np.abs(off_db), axis=1))
