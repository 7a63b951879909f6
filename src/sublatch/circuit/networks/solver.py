"""Networks of resistors, capacitors and ideal op-amps, solved by modified nodal analysis.

The unknowns are the node voltages, the current of each op-amp output and of each source. They obey
``(G + s C) x = b``; the transfer function from a source to a node follows from two determinants
(Cramer's rule), whose roots are eigenvalues and are found by shift and invert.

Source: C.-W. Ho, A. E. Ruehli, P. A. Brennan, "The modified nodal approach to network analysis",
IEEE Trans. Circuits Syst. 22(6), 1975 (from memory). An ideal op-amp holds its inputs at one voltage
and gives whatever current that takes (a nullor).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Part, Resistor
from sublatch.errors import CircuitError, nearest_hint

LEAST_OHM = 1e-3
"""What a wiper at the end of its track still has, so that no conductance is infinite."""
SHIFT_RAD_S = 5021.0
"""Where the eigenvalues are found from (about 800 Hz): a plain audio frequency that no real network has a zero at."""
INFINITE = 1e-5
"""Roots more than 1/INFINITE times SHIFT_RAD_S away (about 80 MHz) count as infinite."""
SLOW = 1e-4
"""Roots less than SLOW times SHIFT_RAD_S away from 0 (about 0.08 Hz) are found once more, from nearer by."""
SLOW_SHIFT_RAD_S = 1e-7 * SHIFT_RAD_S
"""Where slow roots are found from, whose digits get lost beside SHIFT_RAD_S."""
SINGULAR = 1e-13
"""Singular values of balanced equations below this are rounding, so the equations are not independent."""


@dataclass(frozen=True)
class Transfer:
    """A transfer function H(s) = gain · Π(s − zero) / Π(s − pole), with s in rad/s."""

    zeros: NDArray[np.complex128]
    poles: NDArray[np.complex128]
    gain: float

    def response(self, frequency_hz: ArrayLike) -> NDArray[np.complex128]:
        """Return the complex gain at each frequency in hertz, in the shape that was given."""
        s = 2j * np.pi * np.asarray(frequency_hz, dtype=float)
        value = np.full(s.shape, self.gain, dtype=complex)
        for index in range(max(len(self.zeros), len(self.poles))):
            if index < len(self.zeros):
                value *= s - self.zeros[index]
            if index < len(self.poles):
                value /= s - self.poles[index]
        return value

    @property
    def settling_s(self) -> float:
        """Time constant of the slowest pole in seconds (0 without poles)."""
        return float(np.max(-1.0 / self.poles.real)) if len(self.poles) else 0.0


UNITY = Transfer(np.zeros(0, complex), np.zeros(0, complex), 1.0)


@dataclass(frozen=True)
class Network:
    """Parts, the nodes that are driven by ideal voltage sources, and the node that is listened to."""

    parts: tuple[Part, ...]
    inputs: tuple[str, ...] = ("in",)
    output: str = "out"

    def placed(self, prefix: str, nodes: Mapping[str, str]) -> Network:
        """Return the network with `prefix` before its own names, and the nodes in `nodes` renamed instead."""

        def node(name: str) -> str:
            return nodes.get(name, name if name == GROUND else prefix + name)

        return Network(
            parts=tuple(_moved(part, prefix + part.name, node) for part in self.parts),
            inputs=tuple(node(name) for name in self.inputs),
            output=node(self.output),
        )


def _moved(part: Part, name: str, node: object) -> Part:
    """Return `part` under a new name, its nodes renamed."""
    assert callable(node)
    if isinstance(part, OpAmp):
        return OpAmp(name, node(part.plus), node(part.minus), node(part.output))
    return replace(part, name=name, nodes=(node(part.nodes[0]), node(part.nodes[1])))


def transfer(network: Network, *, source: str | None = None, output: str | None = None) -> Transfer:
    """Return the transfer function from one source to one node, every other source at 0 V.

    Parameters
    ----------
    network
        The parts and how they are joined.
    source
        The driven node; the network's first input when not given.
    output
        The node listened to; the network's own output when not given.

    Raises
    ------
    CircuitError
        When a node is left open, an op-amp has no feedback, or the network would oscillate.
    """
    source, output = _named(network, source, output)
    if output in network.inputs:
        return UNITY if output == source else replace(UNITY, gain=0.0)
    conductance, susceptance, drive, index = matrices(network, source)
    _must_solve(network, conductance + SHIFT_RAD_S * susceptance, index)
    poles = finite_roots(conductance, susceptance)
    if np.any(poles.real > 0):
        raise CircuitError(
            f"a network must be stable, got a pole at +{poles.real.max():.3g} rad/s; "
            "is an op-amp's feedback on its plus input?"
        )
    column = index[output]
    conductance_top, susceptance_top = conductance.copy(), susceptance.copy()
    conductance_top[:, column], susceptance_top[:, column] = drive, 0.0
    zeros = finite_roots(conductance_top, susceptance_top)
    return Transfer(zeros, poles, _scale(network, source, output, zeros, poles))


def nodal_response(
    network: Network, frequency_hz: ArrayLike, *, source: str | None = None, output: str | None = None
) -> NDArray[np.complex128]:
    """Return the complex gain at each frequency by solving the nodal equations there.

    Slower than `Transfer.response`, and independent of any root.

    Raises
    ------
    CircuitError
        As `transfer`.
    """
    source, output = _named(network, source, output)
    frequency = np.asarray(frequency_hz, dtype=float)
    if output in network.inputs:
        return np.full(frequency.shape, complex(output == source))
    conductance, susceptance, drive, index = matrices(network, source)
    s = 2j * np.pi * frequency.reshape(-1, 1, 1)
    try:
        solved = np.asarray(np.linalg.solve(conductance + s * susceptance, drive[:, np.newaxis].astype(complex)))
    except np.linalg.LinAlgError:
        _must_solve(network, conductance + SHIFT_RAD_S * susceptance, index)
        raise CircuitError("the network has no finite answer at one of these frequencies") from None
    return np.asarray(solved[:, index[output], 0], dtype=np.complex128).reshape(frequency.shape)


def _named(network: Network, source: str | None, output: str | None) -> tuple[str, str]:
    """Return source and output node, after a check that the network has them."""
    source, output = source or network.inputs[0], output or network.output
    known = set(network.inputs).union(*(part.nodes for part in network.parts))
    for name, allowed in ((source, set(network.inputs)), (output, known)):
        if name not in allowed:
            nodes = ", ".join(sorted(allowed))
            raise CircuitError(f"no node {name!r} in the network{nearest_hint(name, allowed)} (it has {nodes})")
    return source, output


Matrices = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], dict[str, int]]


def matrices(network: Network, source: str, values: Mapping[str, ArrayLike] | None = None) -> Matrices:
    """Return G, C, the right-hand side for 1 V at `source`, and the row of each node.

    The rows are the current laws of the nodes, then what each op-amp holds, then the sources.

    Parameters
    ----------
    network
        The parts and how they are joined.
    source
        The driven node.
    values
        Ohms or farads of each resistor and capacitor on many boards (n,), by the part's name; G and C are (n, m, m)
        then. The parts' own, and (m, m), when not given.
    """
    index = _node_rows(network)
    op_amps = [part for part in network.parts if isinstance(part, OpAmp)]
    size = len(index) + len(op_amps) + len(network.inputs)
    boards = np.shape(next(iter(values.values()), 0.0)) if values else ()
    conductance, susceptance, drive = np.zeros((*boards, size, size)), np.zeros((*boards, size, size)), np.zeros(size)
    for part in network.parts:
        if isinstance(part, Resistor):
            _stamp(conductance, index, part.nodes, 1.0 / np.asarray(values[part.name] if values else part.ohm))
        elif isinstance(part, Capacitor):
            _stamp(susceptance, index, part.nodes, np.asarray(values[part.name] if values else part.farad))
    row = len(index)
    for op_amp in op_amps:
        _add(conductance, index.get(op_amp.output), row, 1.0)
        _add(conductance, row, index.get(op_amp.plus), 1.0)
        _add(conductance, row, index.get(op_amp.minus), -1.0)
        row += 1
    for name in network.inputs:
        _add(conductance, index[name], row, 1.0)
        _add(conductance, row, index[name], 1.0)
        drive[row] = float(name == source)
        row += 1
    return conductance, susceptance, drive, index


def _node_rows(network: Network) -> dict[str, int]:
    """Return a row number for each node but ground, in the order in which they appear."""
    names: Iterable[str] = (*network.inputs, *(node for part in network.parts for node in part.nodes))
    return {name: row for row, name in enumerate(dict.fromkeys(n for n in names if n != GROUND))}


def _stamp(
    matrix: NDArray[np.float64], index: Mapping[str, int], nodes: tuple[str, str], value: NDArray[np.float64]
) -> None:
    """Add a two-terminal admittance, one for each board, to the nodal matrix."""
    a, b = index.get(nodes[0]), index.get(nodes[1])
    for row, column, sign in ((a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)):
        _add(matrix, row, column, sign * value)


def _add(matrix: NDArray[np.float64], row: int | None, column: int | None, value: float | NDArray[np.float64]) -> None:
    """Add to one element; a missing row or column is ground and carries no equation."""
    if row is not None and column is not None:
        matrix[..., row, column] += value


def _must_solve(network: Network, matrix: NDArray[np.float64], index: Mapping[str, int]) -> None:
    """Raise an error that names the likely node when the equations have no unique solution."""
    if not _missing_equations(matrix):
        return
    uses = {name: sum(name in part.nodes for part in network.parts) for name in index}
    loose = [name for name, count in uses.items() if count < 2 and name not in network.inputs]
    hint = f"; node {loose[0]!r} has only one part on it" if loose else "; has each op-amp its feedback?"
    raise CircuitError(f"a network must fix the voltage of every node, and this one does not{hint}")


def _missing_equations(matrix: NDArray[np.float64]) -> int:
    """Return how many equations say nothing that the others do not say."""
    balanced = matrix / np.maximum(np.abs(matrix).max(axis=1, keepdims=True), 1e-300)
    balanced = balanced / np.maximum(np.abs(balanced).max(axis=0, keepdims=True), 1e-300)
    return len(matrix) - int(np.linalg.matrix_rank(balanced, tol=SINGULAR))


def finite_roots(conductance: NDArray[np.float64], susceptance: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Return the finite s at which det(G + s C) = 0, in rad/s; a root at 0 is exactly 0."""
    roots = _roots_from(SHIFT_RAD_S, conductance, susceptance)
    roots = roots[np.argsort(np.abs(roots), kind="stable")]
    slow = int(np.count_nonzero(np.abs(roots) < SLOW * SHIFT_RAD_S))
    if slow and (at_zero := _missing_equations(conductance)):
        roots[: min(at_zero, slow)] = 0.0
    elif slow:
        again = _roots_from(SLOW_SHIFT_RAD_S, conductance, susceptance)
        again = again[np.argsort(np.abs(again), kind="stable")][:slow]
        roots[: len(again)] = again
    return roots


def _roots_from(
    shift_rad_s: float, conductance: NDArray[np.float64], susceptance: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """Return the finite roots by shift and invert, those near `shift_rad_s` with the most digits."""
    try:
        inverse = np.linalg.solve(conductance + shift_rad_s * susceptance, susceptance)
    except np.linalg.LinAlgError:
        return np.zeros(0, complex)
    reciprocal = np.linalg.eigvals(inverse).astype(complex)
    finite = reciprocal[np.abs(reciprocal) * SHIFT_RAD_S > INFINITE]
    roots: NDArray[np.complex128] = shift_rad_s - 1.0 / finite
    return roots


def _scale(
    network: Network,
    source: str,
    output: str,
    zeros: NDArray[np.complex128],
    poles: NDArray[np.complex128],
) -> float:
    """Return the gain that makes the product of roots equal the nodal solution at the shift frequency."""
    at_hz = SHIFT_RAD_S / (2 * np.pi)
    true = nodal_response(network, at_hz, source=source, output=output)
    return float((true / Transfer(zeros, poles, 1.0).response(at_hz)).real)
