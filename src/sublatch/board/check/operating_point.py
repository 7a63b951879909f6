"""The voltages on a board when nothing moves: modified nodal analysis with op-amps and diodes in one of their states.

Each op-amp is linear or at an end of its swing, each comparator pulls down or not, each diode conducts or blocks. A
state is supposed, the linear equations that follow are solved, what contradicts its state changes it, until nothing
does. Capacitors are open. Sources: C.-W. Ho, A. E. Ruehli, P. A. Brennan, IEEE Trans. Circuits Syst. 22(6), 1975 (the
equations); complementarity of piecewise linear devices, S. N. Stevens, P.-M. Lin, IEEE Trans. Circuits Syst. 28(12),
1981 (the states); both from memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sublatch.arrays import Array
from sublatch.board.check.elements import (
    ONE_WAY,
    Cause,
    Comparing,
    Conducting,
    Element,
    Gaining,
    Into,
    Ohmic,
    Source,
    Transconducting,
    elements,
)
from sublatch.board.netlist import SUPPLY, ZERO, Board
from sublatch.errors import CircuitError

LEAK_S = 1e-13
"""From each net to 0 V, so that what floats has a voltage; too little to be seen on any other."""
GAIN = 1e7
"""Of a linear op-amp at rest; data sheets' 1e5 to 1e6 would hide wiring behind their own error."""
ROUNDS = 400
"""After so many changes of state there is no answer."""


class Restless(CircuitError):
    """A board that never comes to rest, and the designators of what keeps changing."""

    def __init__(self, names: tuple[str, ...]) -> None:
        super().__init__(
            "a board must rest somewhere, but its op-amps and diodes find no state that agrees with itself; "
            f"these keep changing: {', '.join(names)}"
        )
        self.names = names


@dataclass(frozen=True, eq=False)
class OperatingPoint:
    """Where a board rests.

    Attributes
    ----------
    volts
        Each net's voltage against 0 V.
    states
        Of each op-amp −1, 0 or 1 (low, linear, high), of each comparator −1 or 1, of each diode 0 or 1, by designator.
    """

    volts: Mapping[str, float]
    states: Mapping[str, int]
    _solver: _Solver

    @cached_property
    def loop(self) -> dict[str, float]:
        """By how much the plus input of each linear op-amp gains on its minus input for each volt of its output."""
        return self._solver.loops(self.states)

    @cached_property
    def _worst(self) -> WorstCase:
        """What worst parts push, worked out once for all nets."""
        return WorstCase(self._solver, self.states)

    def against(self, net: str, other: str = ZERO) -> tuple[float, float, float]:
        """Return the voltage from one net to another: at rest, and its least and most with all parts at their worst."""
        middle = self.volts[net] - self.volts[other]
        ends = [self._worst.end(net, other, sign) for sign in (-1.0, 1.0)]
        return middle, min(middle, *ends), max(middle, *ends)


def operating_point(
    board: Board, *, drive_high: bool = True, held: Mapping[str, float] | None = None
) -> OperatingPoint:
    """Return where a board rests, and how far worst parts may move it.

    Parameters
    ----------
    board
        The board, its knobs and switches where its circuit has them.
    drive_high
        Whether the last flip-flop's output is at the supply or at 0 V.
    held
        Nets that are held at voltages against 0 V, whatever drives them.

    Raises
    ------
    Restless
        When no state of op-amps and diodes agrees with itself.
    """
    solver = _Solver(elements(board, drive_high=drive_high), {ZERO: 0.0, SUPPLY: board.circuit.supply, **(held or {})})
    states = solver.settle()
    return OperatingPoint(solver.named(solver.solve(states)), states, solver)


class _Solver:
    """The equations of one board."""

    def __init__(self, parts: list[Element], fixed: Mapping[str, float]) -> None:
        self.fixed = dict(fixed)
        self.parts = [part for part in parts if not (isinstance(part, (Gaining, Source)) and part.output in fixed)]
        self.fixed |= {part.output: part.volts for part in self.parts if isinstance(part, Source)}
        nets = sorted({net for part in self.parts for net in part.nets} - set(self.fixed))
        self.row = {net: index for index, net in enumerate(nets)}
        self.gaining = [part for part in self.parts if isinstance(part, Gaining)]
        self.size = len(nets) + len(self.gaining)

    def named(self, solution: Array) -> dict[str, float]:
        """Return the nets' voltages by their names."""
        return self.fixed | {net: float(solution[index]) for net, index in self.row.items()}

    def start(self) -> dict[str, int]:
        """Return the states to begin with: op-amps linear, comparators low, diodes blocking."""
        return {
            part.name: -1 if isinstance(part, Comparing) else 0
            for part in self.parts
            if isinstance(part, (Gaining, Comparing, Conducting))
        }

    def settle(self) -> dict[str, int]:
        """Return states that agree with themselves."""
        states = self.start()
        for attempt in range(ROUNDS):
            volts = self.named(self.solve(states))
            wrong = {}
            for part in self.parts:
                if isinstance(part, (Gaining, Comparing, Conducting)):
                    state = part.state(volts, states[part.name])
                    if state != states[part.name]:
                        wrong[part.name] = state
            if not wrong:
                return states
            one = list(wrong)[attempt % len(wrong)]
            states |= wrong if attempt < 8 else {one: wrong[one]}
        raise Restless(tuple(sorted(wrong)))

    def solve(self, states: Mapping[str, int]) -> Array:
        """Return the voltages (n,) of the nets, then the op-amps' currents, in some states."""
        matrix, known = self.equations(states)
        return _solved(matrix, known)

    def equations(self, states: Mapping[str, int], factors: Mapping[str, float] | None = None) -> tuple[Array, Array]:
        """Return the equations' matrix (n, n) and right side (n,), some resistors' ohms multiplied."""
        matrix, known = np.zeros((self.size, self.size)), np.zeros(self.size)
        for index in self.row.values():
            matrix[index, index] = LEAK_S
        for part in self.parts:
            factor = (factors or {}).get(part.name, 1.0)
            for a, b, siemens in part.conductances(states.get(part.name, 0)):
                self._conductance(matrix, known, a, b, siemens / factor)
            self._push(known, part.currents(states.get(part.name, 0)))
            if isinstance(part, Transconducting):
                for net, siemens in ((part.plus, -part.siemens), (part.minus, part.siemens)):
                    self._put(matrix, known, self.row.get(part.output), net, siemens)
        for index, part in enumerate(self.gaining, start=len(self.row)):
            self._op_amp(matrix, known, index, part, states[part.name])
        return matrix, known

    def pushes(self, states: Mapping[str, int]) -> list[tuple[Cause, Array]]:
        """Return what each device that is off adds to the right side (n,)."""
        found = []
        index_of = {part.name: index for index, part in enumerate(self.gaining, start=len(self.row))}
        for part in self.parts:
            for cause in part.causes:
                added = np.zeros(self.size)
                self._push(added, part.pushed(cause, states.get(part.name, 0)))
                if cause.sort == "offset" and part.name in index_of and states[part.name] == 0:
                    added[index_of[part.name]] = -cause.amount
                found.append((cause, added))
        return found

    def _push(self, known: Array, currents: Iterable[Into]) -> None:
        """Put currents that flow into nets."""
        for net, amps in currents:
            if net in self.row:
                known[self.row[net]] += amps

    def _op_amp(self, matrix: Array, known: Array, index: int, part: Gaining, state: int) -> None:
        """Put an op-amp's equation, and its current into the net of its output."""
        matrix[self.row[part.output], index] = -1.0
        if state:
            matrix[index, self.row[part.output]] = 1.0
            known[index] = part.swing[state > 0]
            return
        for net, weight in ((part.plus, 1.0), (part.minus, -1.0), (part.output, -1.0 / GAIN)):
            self._put(matrix, known, index, net, weight)
        known[index] -= 0.5 * sum(part.swing) / GAIN

    def _conductance(self, matrix: Array, known: Array, a: str, b: str, siemens: float) -> None:
        """Put a conductance between two nets."""
        for net, other in ((a, b), (b, a)):
            if net in self.row:
                matrix[self.row[net], self.row[net]] += siemens
                self._put(matrix, known, self.row[net], other, -siemens)

    def _put(self, matrix: Array, known: Array, row: int | None, net: str, weight: float) -> None:
        """Put a weight on a net's voltage into an equation."""
        if row is None:
            return
        if net in self.row:
            matrix[row, self.row[net]] += weight
        else:
            known[row] -= weight * self.fixed[net]

    def loops(self, states: Mapping[str, int]) -> dict[str, float]:
        """Return what a volt at the output of each linear op-amp brings back to its inputs."""
        found = {}
        for index, part in enumerate(self.gaining, start=len(self.row)):
            if states[part.name] == 0:
                matrix, _ = self.equations(states)
                matrix[index] = 0.0
                matrix[index, self.row[part.output]] = 1.0
                raised = np.zeros(self.size)
                raised[index] = 1.0
                moved = _solved(matrix, raised)
                plus, minus = (moved[self.row[net]] if net in self.row else 0.0 for net in (part.plus, part.minus))
                found[part.name] = float(plus - minus)
        return found


class WorstCase:
    """How far worst parts bring voltages, all of them pulling the same way.

    Devices that are off add to the right side alone, and which way each pulls follows from the adjoint equations. With
    all of them pulling, resistors are put at that end of their tolerance that pulls on, by their own sensitivity
    (S. W. Director, R. A. Rohrer, IEEE Trans. Circuit Theory 16(3), 1969; from memory), and all is solved once more.
    """

    def __init__(self, solver: _Solver, states: Mapping[str, int]) -> None:
        self.solver, self.states = solver, states
        self.matrix, self.known = solver.equations(states)
        self.pushes = solver.pushes(states)

    def end(self, net: str, other: str, sign: float) -> float:
        """Return the voltage from one net to another, with all parts pulling up (1) or down (−1)."""
        chosen = np.zeros(self.solver.size)
        for name, weight in ((net, 1.0), (other, -1.0)):
            if name in self.solver.row:
                chosen[self.solver.row[name]] += weight
        adjoint = _solved(self.matrix.T, chosen)
        known = self.known.copy()
        for cause, added in self.pushes:
            pull = sign * float(adjoint @ added)
            if cause.sort not in ONE_WAY or pull > 0.0:
                known += (1.0 if pull >= 0.0 else -1.0) * added
        factors = self._factors(sign, adjoint, _solved(self.matrix, known))
        matrix, plain = self.solver.equations(self.states, factors)
        volts = self.solver.named(_solved(matrix, plain + known - self.known))
        return volts[net] - volts[other]

    def _factors(self, sign: float, adjoint: Array, solution: Array) -> dict[str, float]:
        """Return by what each resistor is multiplied."""
        row, volts = self.solver.row, self.solver.named(solution)
        factors = {}
        for part in self.solver.parts:
            if isinstance(part, Ohmic) and part.tolerance:
                a, b = part.nets
                pull = (adjoint[row[a]] if a in row else 0.0) - (adjoint[row[b]] if b in row else 0.0)
                pull *= sign * (volts[a] - volts[b])
                factors[part.name] = 1.0 + (part.tolerance if pull > 0.0 else -part.tolerance)
        return factors


def _solved(matrix: Array, known: Array) -> Array:
    """Return the solution (n,) of linear equations."""
    return np.asarray(np.linalg.solve(matrix, known), dtype=np.float64)
