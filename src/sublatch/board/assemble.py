"""The whole board, block by block."""

from __future__ import annotations

from sublatch.board.builder import Builder
from sublatch.board.detector import add_detector
from sublatch.board.filters import add_filter, add_mix
from sublatch.board.input_and_supply import add_input, add_supply
from sublatch.board.latch import add_latch
from sublatch.board.latch_divider_octave import add_divider, add_octave
from sublatch.board.netlist import Board
from sublatch.board.output import add_output
from sublatch.board.packages.supply_limits import guard_supply
from sublatch.circuit.model import Circuit


def board(circuit: Circuit) -> Board:
    """Return a circuit as components and nets.

    Parameters
    ----------
    circuit
        The circuit; where its knobs and switches stand does not matter.

    Returns
    -------
    Board
        Everything to solder: the circuit file's parts, and those that its model takes for granted.

    Raises
    ------
    CircuitError
        When the supply is above what the parts bear, or does not reach the floor or the hysteresis.

    Notes
    -----
    What the file does not list (bias, peak stores, comparators, latch, flip-flops, switch, rectifier, supply) is built
    of textbook blocks and chosen by this project: common practice, no source. Each such component says so in its note.
    """
    guard_supply(circuit)
    builder = Builder(circuit)
    add_input(builder)
    add_supply(builder)
    watched = add_detector(builder)
    add_latch(builder, watched)
    add_divider(builder)
    add_octave(builder)
    builder.block = "filter"
    filtered = add_filter(builder, circuit.filter, path="filter", source="octave", output="filtered")
    add_output(builder, add_mix(builder, filtered))
    builder.finish()
    return Board(circuit, tuple(builder.components), tuple(builder.notes), tuple(builder.left_out))
