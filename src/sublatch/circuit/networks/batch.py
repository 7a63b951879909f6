"""One network with many sets of part values, solved at once: gains, corners and peaks of a batch of boards.

The nodal equations of `networks.solver`, (G + s C) x = b, with one G and C a board. With σ a fixed s,
M = (G + σ C)⁻¹ C and λ its eigenvalues, det(G + s C) is proportional to Π (1 + (s − σ) λ); so is, for the zeros, the
determinant with the output's column replaced (Cramer's rule). The gain follows from both and from its value at σ.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sublatch.circuit.networks.corners import HIGHEST_HZ, LOWEST_HZ, crossing, passes_dc, peaks
from sublatch.circuit.networks.solver import INFINITE, SHIFT_RAD_S, Network, matrices

Array = NDArray[np.float64]
Roots = NDArray[np.complex128]

POINTS_PER_OCTAVE = 12
"""Density of the grid on which corners and peaks are bracketed."""
BEYOND = 10.0
"""How many times below the lowest and above the highest root the grid reaches."""
FEW = 8
"""Boards that tell whether there are zeros: how many a network has hangs on its parts' values by chance alone."""
CHUNK = 1000
"""Boards in one go, so that memory stays small and near."""


@dataclass(frozen=True, eq=False)
class Boards:
    """The transfer functions of many boards.

    Attributes
    ----------
    poles, zeros
        λ of each board (n, m), 0 for a root at infinity.
    gain
        Gain at s = σ (n,).
    """

    poles: Roots
    zeros: Roots
    gain: Array

    def part(self, some: slice) -> Boards:
        """Return some of the boards."""
        return Boards(self.poles[some], self.zeros[some], self.gain[some])

    def power(self, frequency_hz: Array) -> Array:
        """Return the squared gain of each board at frequencies that are common (k,) or its own (n, k): (n, k)."""
        omega = 2 * np.pi * frequency_hz
        return np.square(self.gain)[:, np.newaxis] * _squared(self.zeros, omega) / _squared(self.poles, omega)

    def power_at_zero(self) -> Array:
        """Return the squared gain at zero frequency (n,)."""
        at_zero: Array = self.power(np.zeros(1))[:, 0]
        return at_zero


def solve_boards(network: Network, values: Mapping[str, Array]) -> Boards:
    """Return the transfer functions of a network, from its first input to its output, with many sets of values.

    Parameters
    ----------
    network
        The parts and how they are joined; every input but the first is at 0 V.
    values
        Ohms or farads of each resistor and capacitor (n,), by the part's name.
    """
    conductance, susceptance, drive, index = matrices(network, network.inputs[0], values)
    output = index[network.output]
    shifted = conductance + SHIFT_RAD_S * susceptance
    column = np.broadcast_to(drive[:, np.newaxis], (*shifted.shape[:2], 1))
    solved = np.linalg.solve(shifted, np.concatenate([susceptance, column], axis=2))
    poles = _finite(np.linalg.eigvals(solved[:, :, :-1]))
    shifted[:, :, output], susceptance[:, :, output] = drive, 0.0
    few = slice(0, FEW)
    zeros = _finite(np.linalg.eigvals(np.linalg.solve(shifted[few], susceptance[few])))
    if zeros.shape[1]:
        zeros = _finite(np.linalg.eigvals(np.linalg.solve(shifted, susceptance)))
    else:
        zeros = np.zeros((len(poles), 0), dtype=np.complex128)
    return Boards(poles, zeros, solved[:, output, -1])


def corners_and_peaks(boards: Boards) -> tuple[Array, Array]:
    """Return corner in hertz and peak in dB of each board (n,), as `circuit.response` has them.

    Returns
    -------
    corner_hz, peak_db
        A corner is NaN on a board that never falls 3.01 dB below its gain at zero frequency or, where it lets nothing
        through there, below its highest.
    """
    roots = np.abs(SHIFT_RAD_S - 1.0 / _nonzero(np.concatenate([boards.poles, boards.zeros], axis=1)))
    hertz = roots[roots > 1e-6 * SHIFT_RAD_S] / (2 * np.pi)
    if hertz.size == 0:
        return np.full(len(boards.gain), np.nan), np.zeros(len(boards.gain))
    low, high = float(hertz.min()) / BEYOND, float(hertz.max()) * BEYOND
    grid = np.geomspace(low, high, 2 + int(POINTS_PER_OCTAVE * np.log2(high / low)))
    parts = [boards.part(slice(start, start + CHUNK)) for start in range(0, len(boards.gain), CHUNK)]
    found = [_figures(part, grid) for part in parts]
    return np.concatenate([corner for corner, _ in found]), np.concatenate([peak for _, peak in found])


def _figures(boards: Boards, grid: Array) -> tuple[Array, Array]:
    """Return corner and peak of each board, both first found on a grid."""
    power, at_zero = boards.power(grid), boards.power_at_zero()
    audible = (grid >= LOWEST_HZ) & (grid <= HIGHEST_HZ)
    highest = np.max(power[:, audible] if np.any(audible) else power, axis=1)
    reference = np.where(passes_dc(at_zero, highest), at_zero, highest)
    corner = crossing(boards.power, grid, power, reference, first=False)
    return corner, peaks(boards.power, grid, power, reference)[0]


def _squared(roots: Roots, omega: Array) -> Array:
    """Return |Π (1 + (jω − σ) λ)|² (n, k) for λ (n, m) and ω (k,) or (n, k)."""
    product = np.ones(np.broadcast_shapes((len(roots), 1), omega.shape))
    for column in roots.T:
        real, imaginary = column.real[:, np.newaxis], column.imag[:, np.newaxis]
        product *= (1.0 - SHIFT_RAD_S * real - omega * imaginary) ** 2 + (omega * real - SHIFT_RAD_S * imaginary) ** 2
    return product


def _finite(reciprocal: NDArray[np.generic]) -> Roots:
    """Return eigenvalues as λ, those of roots at infinity exactly 0, and no column of which all are."""
    roots = np.asarray(reciprocal, dtype=np.complex128)
    roots = np.where(np.abs(roots) * SHIFT_RAD_S > INFINITE, roots, 0.0)
    order = np.argsort(-np.abs(roots), axis=1, kind="stable")
    roots = np.asarray(np.take_along_axis(roots, order, axis=1))
    finite: Roots = roots[:, np.any(roots, axis=0)]
    return finite


def _nonzero(roots: Roots) -> Roots:
    """Return the λ of finite roots."""
    return np.asarray(roots[roots != 0.0])
