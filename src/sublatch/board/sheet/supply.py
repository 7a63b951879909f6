"""What the board draws from its supply, and how long a battery lasts."""

from __future__ import annotations

from dataclasses import dataclass

from sublatch.board.input_and_supply import DIODE_V
from sublatch.board.netlist import SUPPLY, ZERO, Board
from sublatch.board.packages.supply_limits import overloaded, starved
from sublatch.units import format_volts

BATTERY_V, BATTERY_AH = 9.0, 0.55
"""An alkaline 6LR61 holds 550 to 600 mAh down to 5 V to 6 V (makers' data, from memory)."""
FRESH_V, EMPTY_V = 9.6, 6.0
"""Where the voltage of such a battery begins and ends (the same)."""
NEAR_V = 0.7
"""How far the supply may lie from a whole number of batteries."""
OP_AMP_A = {"thrifty op-amps": 0.35e-3, "hungry op-amps": 1.4e-3}
"""Each section's quiescent current: 358 type and 072 type (data sheets' typical values, from memory)."""
COMPARATOR_A = 0.4e-3
"""Each package: 393 type (data sheet's typical value, from memory)."""
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
        Its current with each kind of op-amp.
    """

    what: str
    amps: tuple[float, ...]


@dataclass(frozen=True)
class SupplyEstimate:
    """What a board draws at rest.

    Attributes
    ----------
    kinds
        The kinds of op-amp that are reckoned with.
    lines
        Everything that draws.
    amps
        The sum for each kind of op-amp.
    batteries
        How many 9 V batteries in a row give the supply; 0 where none do.
    hours
        How long they last for each kind of op-amp; empty without batteries.
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
    supply_v = board.circuit.supply
    sections = sum(part.kind == "op-amp" for part in board.components)
    lines = [Consumer(f"{sections} op-amp sections", tuple(sections * each for each in OP_AMP_A.values()))]
    comparators = _packages(board, "dual comparator")
    logic = _packages(board, "dual D flip-flop") + _packages(board, "triple changeover")
    pull_ups = [part.amount for part in board.components if part.role.endswith(".pull_up") and part.amount]
    for what, amps in (
        (f"comparators, {comparators} × {COMPARATOR_A * 1e3:g} mA", comparators * COMPARATOR_A),
        (f"CMOS, {logic} × {LOGIC_A * 1e3:g} mA", logic * LOGIC_A),
        (f"{len(pull_ups)} pull-up resistors, both outputs low", sum(supply_v / ohm for ohm in pull_ups)),
        ("bias divider and references", _dividers(board)),
    ):
        lines.append(Consumer(what, (amps,) * len(OP_AMP_A)))
    total = tuple(sum(line.amps[kind] for line in lines) for kind in range(len(OP_AMP_A)))
    count = round(supply_v / BATTERY_V)
    count = count if abs(supply_v - count * BATTERY_V) <= NEAR_V else 0
    hours = tuple(BATTERY_AH / amps for amps in total) if count else ()
    return SupplyEstimate(tuple(OP_AMP_A), tuple(lines), total, count, hours, _remarks(supply_v, count))


def _remarks(supply_v: float, batteries: int) -> tuple[str, ...]:
    """Return what to mind of a supply that no part is harmed by, and of the batteries that give it."""
    if not batteries:
        is_low = f"the supply is {format_volts(supply_v)}"
        return tuple(f"{part.name} need {format_volts(part.least_v)}, {is_low}" for part in starved(supply_v))
    row = f"{batteries} × {BATTERY_V:g} V" if batteries > 1 else f"a {BATTERY_V:g} V battery"
    fresh_v, empty_v = (batteries * each_v - DIODE_V for each_v in (FRESH_V, EMPTY_V))
    return (
        *(
            f"{part.name} bear {format_volts(part.most_v)}, {row} when fresh gives {fresh_v:.1f} V after the diode: "
            f"use a regulated supply of {format_volts(supply_v)} instead"
            for part in overloaded(fresh_v)
        ),
        *(
            f"{part.name} need {format_volts(part.least_v)}, {row} when empty leaves {empty_v:.1f} V after the diode: "
            "change it earlier"
            for part in starved(empty_v)
        ),
    )


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
