"""Networks of resistors, capacitors, inductors and op-amps by modified nodal analysis, one board or many at once.

The unknowns are the node voltages, the current of each op-amp output, source and inductor. They obey
``(G + s C) x = b``; the transfer function from a source to a node follows from two determinants
(Cramer's rule), whose roots are eigenvalues and are found by shift and invert. Boards differ in G and C alone, which
have them as their first axis; a single network is a batch of one.

Source: C.-W. Ho, A. E. Ruehli, P. A. Brennan, "The modified nodal approach to network analysis",
IEEE Trans. Circuits Syst. 22(6), 1975 (from memory). An ideal op-amp holds its inputs at one voltage
and gives whatever current that takes (a nullor); one of finite bandwidth obeys v⁺ − v⁻ = s/ω₀ · v.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from sublatch.arrays import Array, Complex, Whole
from sublatch.circuit.networks.elements import GROUND, Capacitor, Inductor, OpAmp, Part, Resistor
from sublatch.circuit.networks.transfer import UNITY, Boards, Transfer, product
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
FAR_RAD_S = 1e20
"""Where a root at infinity is put on a board whose fellows have it nearer: it counts nothing there."""
FEW = 8
"""Boards that tell whether there are zeros: how many a network has hangs on its parts' values by chance alone."""


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


def _moved(part: Part, name: str, node: Callable[[str], str]) -> Part:
    """Return `part` under a new name, its nodes renamed."""
    if isinstance(part, OpAmp):
        return replace(part, name=name, plus=node(part.plus), minus=node(part.minus), output=node(part.output))
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
    solved = _solved(conductance[np.newaxis], susceptance[np.newaxis], drive, index[output])
    if np.any(solved.poles.real > 0):
        raise CircuitError(
            f"a network must be stable, got a pole at +{solved.poles.real.max():.3g} rad/s; "
            "is an op-amp's feedback on its plus input?"
        )
    return Transfer(solved.zeros[0], solved.poles[0], float(solved.gain[0]))


def solve_boards(network: Network, values: Mapping[str, Array]) -> Boards:
    """Return the transfer functions of a network, from its first input to its output, with many sets of values.

    Parameters
    ----------
    network
        The parts and how they are joined, known to work; every input but the first is at 0 V.
    values
        Ohms or farads of each resistor and capacitor (n,), by the part's name.
    """
    conductance, susceptance, drive, index = matrices(network, network.inputs[0], values)
    return _solved(conductance, susceptance, drive, index[network.output])


def _solved(conductance: Array, susceptance: Array, drive: Array, column: int) -> Boards:
    """Return the transfer functions of boards with these equations (n, m, m) to the node of a column."""

    def zeros_of(some: slice) -> Complex:
        replaced, without = conductance[some].copy(), susceptance[some].copy()
        replaced[:, :, column], without[:, :, column] = drive, 0.0
        return finite_roots(replaced, without)

    poles, zeros = finite_roots(conductance, susceptance), zeros_of(slice(FEW))
    if len(poles) > FEW:
        zeros = zeros_of(slice(None)) if zeros.shape[1] else np.zeros((len(poles), 0), complex)
    s = np.array(2j * np.pi * (SHIFT_RAD_S / (2 * np.pi)))
    answer = np.linalg.solve(conductance + s * susceptance, drive[:, np.newaxis].astype(complex))[:, column, 0]
    return Boards(zeros, poles, (answer / product(1.0, zeros, poles, s)).real)


def nodal_response(
    network: Network, frequency_hz: ArrayLike, *, source: str | None = None, output: str | None = None
) -> Complex:
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


Matrices = tuple[Array, Array, Array, dict[str, int]]


def matrices(network: Network, source: str, values: Mapping[str, ArrayLike] | None = None) -> Matrices:
    """Return G, C, the right-hand side for 1 V at `source`, and the row of each node.

    The rows are the current laws of the nodes, then what each op-amp holds, the sources, and the inductors.

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
    inductors = [part for part in network.parts if isinstance(part, Inductor)]
    size = len(index) + len(op_amps) + len(network.inputs) + len(inductors)
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
        _add(susceptance, row, index.get(op_amp.output), -1.0 / (2.0 * np.pi * op_amp.gain_bandwidth_hz))
        row += 1
    for name in network.inputs:
        _add(conductance, index[name], row, 1.0)
        _add(conductance, row, index[name], 1.0)
        drive[row] = float(name == source)
        row += 1
    for inductor in inductors:
        for node, sign in zip(inductor.nodes, (1.0, -1.0), strict=True):
            _add(conductance, index.get(node), row, sign)
            _add(conductance, row, index.get(node), sign)
        susceptance[..., row, row] = -inductor.henry
        row += 1
    return conductance, susceptance, drive, index


def _node_rows(network: Network) -> dict[str, int]:
    """Return a row number for each node but ground, in the order in which they appear."""
    names: Iterable[str] = (*network.inputs, *(node for part in network.parts for node in part.nodes))
    return {name: row for row, name in enumerate(dict.fromkeys(n for n in names if n != GROUND))}


def _stamp(matrix: Array, index: Mapping[str, int], nodes: tuple[str, str], value: Array) -> None:
    """Add a two-terminal admittance, one for each board, to the nodal matrix."""
    a, b = index.get(nodes[0]), index.get(nodes[1])
    for row, column, sign in ((a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)):
        _add(matrix, row, column, sign * value)


def _add(matrix: Array, row: int | None, column: int | None, value: float | Array) -> None:
    """Add to one element; a missing row or column is ground and carries no equation."""
    if row is not None and column is not None:
        matrix[..., row, column] += value


def _must_solve(network: Network, matrix: Array, index: Mapping[str, int]) -> None:
    """Raise an error that names the likely node when the equations have no unique solution."""
    if not _missing_equations(matrix):
        return
    uses = {name: sum(name in part.nodes for part in network.parts) for name in index}
    loose = [name for name, count in uses.items() if count < 2 and name not in network.inputs]
    hint = f"; node {loose[0]!r} has only one part on it" if loose else "; has each op-amp its feedback?"
    raise CircuitError(f"a network must fix the voltage of every node, and this one does not{hint}")


def _missing_equations(matrix: Array) -> Whole:
    """Return of each board's equations (…, m, m) how many say nothing that the others do not say."""
    balanced = matrix / np.maximum(np.abs(matrix).max(axis=-1, keepdims=True), 1e-300)
    balanced = balanced / np.maximum(np.abs(balanced).max(axis=-2, keepdims=True), 1e-300)
    return np.asarray(matrix.shape[-1] - np.linalg.matrix_rank(balanced, tol=SINGULAR))


def finite_roots(conductance: Array, susceptance: Array) -> Complex:
    """Return the finite s at which det(G + s C) = 0, in rad/s, the slowest first; a root at 0 is exactly 0.

    Parameters
    ----------
    conductance, susceptance
        G and C, of one board (m, m) or of many (n, m, m).

    Returns
    -------
    ndarray
        As many roots as any of the boards has, (k,) or (n, k).
    """
    roots = _roots_from(SHIFT_RAD_S, conductance, susceptance)
    slow = np.abs(roots) < SLOW * SHIFT_RAD_S
    if np.any(slow):
        at_zero = _missing_equations(conductance)[..., np.newaxis]
        again = _roots_from(SLOW_SHIFT_RAD_S, conductance, susceptance)
        again = np.where(np.isfinite(again), again, roots)
        held = np.where(np.arange(roots.shape[-1]) < at_zero, 0.0, roots)
        roots = np.where(slow, np.where(at_zero > 0, held, again), roots)
    finite = np.isfinite(roots)
    some = np.any(finite.reshape(-1, roots.shape[-1]), axis=0)
    return np.asarray(np.where(finite, roots, -FAR_RAD_S)[..., some])


def _roots_from(shift_rad_s: float, conductance: Array, susceptance: Array) -> Complex:
    """Return the roots by shift and invert, the slowest first; infinite ones too, and those near the shift best."""
    try:
        inverse = np.linalg.solve(conductance + shift_rad_s * susceptance, susceptance)
    except np.linalg.LinAlgError:
        return np.full(conductance.shape[:-1], np.inf, complex)
    reciprocal = np.linalg.eigvals(inverse).astype(complex)
    finite = np.abs(reciprocal) * SHIFT_RAD_S > INFINITE
    roots = np.where(finite, shift_rad_s - 1.0 / np.where(finite, reciprocal, 1.0), np.inf)
    return np.asarray(np.take_along_axis(roots, np.argsort(np.abs(roots), axis=-1, kind="stable"), axis=-1))
