"""What the board draws from its supply, and how long a battery lasts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sublatch.board.check.elements import control_a
from sublatch.board.input_and_supply import BATTERY_V, DIODE_V, LAMP_V, battery_count
from sublatch.board.netlist import SUPPLY, ZERO, Board
from sublatch.board.packages.supply_limits import described, op_amps_for, overloaded, qualifying, starved
from sublatch.circuit.model import Circuit
from sublatch.units import format_volts

BATTERY_AH = 0.55
"""An alkaline 6LR61 holds 550 to 600 mAh down to 5 V to 6 V (makers' data, from memory)."""
FRESH_V, EMPTY_V = 9.6, 6.0
"""Where the voltage of such a battery begins and ends (the same)."""
LOGIC_A = 10e-6
"""Each CMOS package: far more than it takes at rest, enough for its switching."""


@dataclass(frozen=True)
class Consumer:
    """One line of the estimate.

    Attributes
    ----------
    what
        What draws, and how it was reckoned.
    amps
        Its current with each class of op-amp.
    """

    what: str
    amps: tuple[float, ...]


@dataclass(frozen=True)
class SupplyEstimate:
    """What a board draws at rest.

    Attributes
    ----------
    kinds
        The classes of op-amp that are reckoned with: the circuit's own, and the others that its supply suits.
    lines
        Everything that draws.
    amps
        The sum for each class of op-amp.
    batteries
        How many 9 V batteries in a row give the supply; 0 where none do.
    hours
        How long they last for each class of op-amp; empty without batteries.
    remarks
        Sentences on parts that need more than the supply, or than an empty battery leaves, and on those that do not
        bear a fresh one.
    """

    kinds: tuple[str, ...]
    lines: tuple[Consumer, ...]
    amps: tuple[float, ...]
    batteries: int
    hours: tuple[float, ...]
    remarks: tuple[str, ...]


def supply_estimate(board: Board) -> SupplyEstimate:
    """Return what a board draws at rest, and how long a battery lasts.

    Parameters
    ----------
    board
        The board.

    Notes
    -----
    Hours are the battery's charge over the current: 0.55 Ah / I. At rest both comparators pull their resistors down.
    """
    circuit = board.circuit
    op_amps, supply_v = op_amps_for(circuit), circuit.supply
    sections = sum(part.kind == "op-amp" for part in board.components)
    lines = [Consumer(f"{sections} op-amp sections", tuple(sections * one.quiescent_a.typical for one in op_amps))]
    lines += [Consumer(what, (amps,) * len(op_amps)) for what, amps in _others(board)]
    total = tuple(sum(line.amps[kind] for line in lines) for kind in range(len(op_amps)))
    count = battery_count(supply_v)
    hours = tuple(BATTERY_AH / amps for amps in total) if count else ()
    names = tuple(one.name for one in op_amps)
    return SupplyEstimate(names, tuple(lines), total, count, hours, _remarks(circuit, count))


def _others(board: Board) -> Iterator[tuple[str, float]]:
    """Yield what draws beside the op-amps, and its current in amperes."""
    circuit, supply_v = board.circuit, board.circuit.supply
    comparators = sum(part.kind == "comparator" for part in board.components)
    each_a = circuit.devices.comparator_class.quiescent_a.typical
    yield f"{comparators} comparators of class {circuit.devices.comparator}", comparators * each_a
    logic = _packages(board, "dual D flip-flop") + _packages(board, "triple changeover")
    yield f"CMOS, {logic} × {LOGIC_A * 1e3:g} mA", logic * LOGIC_A
    pull_ups = [part.amount for part in board.components if part.role.endswith(".pull_up") and part.amount]
    yield f"{len(pull_ups)} pull-up resistors, all of them low", sum(supply_v / ohm for ohm in pull_ups)
    yield "bias divider and references", _dividers(board)
    lamp = board.component("lamp.resistor").amount or 0.0
    yield "lamp, while the effect is on", max(supply_v - LAMP_V, 0.0) / lamp
    if circuit.octave.is_pair:
        pair = board.component("octave.pair")
        trimmer = board.component("octave.trim").amount or 0.0
        control = control_a(board, pair)
        yield "transconductance pair, its control current thrice, and its trimmer", 3 * control + supply_v / trimmer


def _remarks(circuit: Circuit, batteries: int) -> tuple[str, ...]:
    """Return what to mind of a supply that no part is harmed by, and of the batteries that give it."""
    supply_v = circuit.supply
    if not batteries:
        return tuple(_starved(circuit, supply_v, f"the supply is {format_volts(supply_v)}"))
    row = f"{batteries} × {BATTERY_V:g} V" if batteries > 1 else f"a {BATTERY_V:g} V battery"
    fresh_v, empty_v = (batteries * each_v - DIODE_V for each_v in (FRESH_V, EMPTY_V))
    return (
        *(
            f"{described(what, part)} bear {format_volts(part.most_v)}, {row} when fresh gives {fresh_v:.1f} V after "
            f"the diode: use a regulated supply of {format_volts(supply_v)} instead"
            for what, part in overloaded(circuit, fresh_v)
        ),
        *_starved(circuit, empty_v, f"{row} when empty leaves {empty_v:.1f} V after the diode: change it earlier"),
    )


def _starved(circuit: Circuit, supply_v: float, when: str) -> Iterator[str]:
    """Yield which parts need more than a supply, and which classes would do."""
    for what, part in starved(circuit, supply_v):
        names = [one.name for one in qualifying(what, supply_v)]
        instead = f"those of class {' or '.join(names)} qualify" if names else "no class that this program knows does"
        yield f"{described(what, part)} need {format_volts(part.least_v)}, {when}; {instead}"


def _packages(board: Board, value: str) -> int:
    """Return how many packages of one sort there are."""
    return sum(part.kind == "package" and part.value == value for part in board.components)


def _dividers(board: Board) -> float:
    """Return the current of the bias divider, and of the references from either end of the supply to the bias."""
    circuit = board.circuit
    ohm = {part.role: part.amount or 0.0 for part in board.components}
    amps = circuit.supply / (ohm["bias.upper"] + ohm["bias.lower"])
    idle_v = circuit.output.bias * circuit.supply
    for part in board.components:
        if part.role.endswith(".far"):
            across_v = {SUPPLY: circuit.supply - idle_v, ZERO: idle_v}[part.net("a")]
            amps += across_v / (ohm[part.role] + ohm[part.role.replace(".far", ".near")])
    return amps
