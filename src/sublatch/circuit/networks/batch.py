"""One network with many sets of part values, solved at once: gains, corners and peaks of a batch of boards.

The nodal equations of `circuit.network`, (G + s C) x = b, with one G and C a board. With σ a fixed s,
M = (G + σ C)⁻¹ C and λ its eigenvalues, det(G + s C) is proportional to Π (1 + (s − σ) λ); so is, for the zeros, the
determinant with the output's column replaced (Cramer's rule). The gain follows from both and from its value at σ.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sublatch.circuit.networks.corners import CORNER_DB, HIGHEST_HZ, LEAST_DC_DB, LEAST_PEAK_DB, LOWEST_HZ
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Resistor
from sublatch.circuit.networks.solver import INFINITE, SHIFT_RAD_S, Network

Array = NDArray[np.float64]
Roots = NDArray[np.complex128]

POINTS_PER_OCTAVE = 12
"""Density of the grid on which corners and peaks are bracketed."""
BEYOND = 10.0
"""How many times below the lowest and above the highest root the grid reaches."""
HALVINGS = 22
"""Steps of bisection, 2⁻²² of a grid step."""
THIRDS = 20
"""Steps of the search for a peak, (2/3)²⁰ of two grid steps."""
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
    conductance, susceptance, drive, output = _matrices(network, values)
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
    power = boards.power(grid)
    reference = _reference(boards, power, grid)
    threshold = reference * 10 ** (CORNER_DB / 10)
    last = len(grid) - 1 - np.argmax(power[:, ::-1] > threshold[:, np.newaxis], axis=1)
    falls = (last < len(grid) - 1) & np.any(power > threshold[:, np.newaxis], axis=1)
    low = np.log(grid[np.minimum(last, len(grid) - 2)])
    high = low + np.log(grid[1] / grid[0])
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        is_above = boards.power(np.exp(middle)[:, np.newaxis])[:, 0] > threshold
        low, high = np.where(is_above, middle, low), np.where(is_above, high, middle)
    corner = np.where(falls, np.exp((low + high) / 2), np.nan)
    return corner, _peaks(boards, grid, np.argmax(power, axis=1), reference)


def _reference(boards: Boards, power: Array, grid: Array) -> Array:
    """Return what corners and peaks are counted from (n,): the squared gain at 0 Hz or, without, the highest."""
    at_zero, audible = boards.power_at_zero(), (grid >= LOWEST_HZ) & (grid <= HIGHEST_HZ)
    highest = np.max(power[:, audible] if np.any(audible) else power, axis=1)
    reference: Array = np.where(at_zero > highest * 10 ** (LEAST_DC_DB / 10), at_zero, highest)
    return reference


def _peaks(boards: Boards, grid: Array, top: NDArray[np.intp], reference: Array) -> Array:
    """Return the highest rise above the reference in dB, within a grid step of where it is on the grid."""
    low, high = np.log(grid[np.maximum(top - 1, 0)]), np.log(grid[np.minimum(top + 1, len(grid) - 1)])
    for _ in range(THIRDS):
        left, right = (2 * low + high) / 3, (low + 2 * high) / 3
        both = boards.power(np.exp(np.stack([left, right], axis=1)))
        is_left = both[:, 0] > both[:, 1]
        low, high = np.where(is_left, low, left), np.where(is_left, right, high)
    rise = 10 * np.log10(boards.power(np.exp((low + high) / 2)[:, np.newaxis])[:, 0] / reference)
    peak: Array = np.where(rise < LEAST_PEAK_DB, 0.0, rise)
    return peak


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


def _matrices(network: Network, values: Mapping[str, Array]) -> tuple[Array, Array, Array, int]:
    """Return G and C of each board (n, size, size), the right-hand side (size,) and the output's row."""
    nodes = dict.fromkeys(
        node for node in (*network.inputs, *(n for part in network.parts for n in part.nodes)) if node != GROUND
    )
    row = {name: place for place, name in enumerate(nodes)}
    op_amps = [part for part in network.parts if isinstance(part, OpAmp)]
    size = len(row) + len(op_amps) + len(network.inputs)
    fixed = np.zeros((size, size))
    for place, op_amp in enumerate(op_amps, len(row)):
        for node, at, sign in ((op_amp.output, 0, 1.0), (op_amp.plus, 1, 1.0), (op_amp.minus, 1, -1.0)):
            if node != GROUND:
                fixed[(row[node], place) if at == 0 else (place, row[node])] += sign
    for place, name in enumerate(network.inputs, len(row) + len(op_amps)):
        fixed[row[name], place] = fixed[place, row[name]] = 1.0
    drive = np.zeros(size)
    drive[len(row) + len(op_amps)] = 1.0
    resistors = [part for part in network.parts if isinstance(part, Resistor)]
    capacitors = [part for part in network.parts if isinstance(part, Capacitor)]
    boards = len(next(iter(values.values()))) if values else 1
    conductance = fixed + _stamped(resistors, [1.0 / values[part.name] for part in resistors], row, (boards, size))
    susceptance = _stamped(capacitors, [values[part.name] for part in capacitors], row, (boards, size))
    return conductance, susceptance, drive, row[network.output]


def _stamped(
    parts: Sequence[Resistor | Capacitor], admittances: list[Array], row: Mapping[str, int], shape: tuple[int, int]
) -> Array:
    """Return the sum of the parts' two-terminal admittances (n, size, size)."""
    boards, size = shape
    matrix = np.zeros((boards, size, size))
    for part, admittance in zip(parts, admittances, strict=True):
        incidence = np.zeros(size)
        for node, sign in zip(part.nodes, (1.0, -1.0), strict=True):
            if node != GROUND:
                incidence[row[node]] += sign
        matrix += admittance[:, np.newaxis, np.newaxis] * np.outer(incidence, incidence)
    return matrix
