"""The whole board, block by block."""

from __future__ import annotations

from sublatch.build.board.back import add_mix, add_output
from sublatch.build.board.builder import Builder
from sublatch.build.board.filters import add_filter
from sublatch.build.board.front import add_input, add_supply
from sublatch.build.board.latch import add_divider, add_latch
from sublatch.build.board.octave import add_octave
from sublatch.build.board.overtone import add_detector_filter
from sublatch.build.board.records import Board
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
        When the supply does not reach the floor or the hysteresis.

    Notes
    -----
    What the file does not list (bias, peak stores, comparators, latch, flip-flops, switch, rectifier, supply) is built
    of textbook blocks and chosen by this project: common practice, no source. Each such component says so in its note.
    """
    builder = Builder(circuit)
    add_input(builder)
    add_supply(builder)
    heard = add_detector_filter(builder)
    add_latch(builder, heard)
    add_divider(builder)
    add_octave(builder)
    builder.block = "filter"
    filtered = add_filter(builder, circuit.filter, path="filter", source="octave", output="filtered")
    add_mix(builder, filtered)
    add_output(builder)
    builder.finish()
    return Board(circuit, tuple(builder.components), tuple(builder.notes))
