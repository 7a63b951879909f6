"""What a tone comes to on any net of a board, the divider held still with the drive high."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import numpy as np

from sublatch.arrays import Signal
from sublatch.board.filters import DIRECT_FILTERED
from sublatch.board.netlist import Board
from sublatch.board.network import board_network
from sublatch.board.sheet.amounts import probe_point
from sublatch.board.sheet.bench_table import FILTER_HZ, BenchRow, held_positions, sine_rows
from sublatch.board.sheet.comparator_input import AHEAD
from sublatch.board.sheet.reading_limits import scatter
from sublatch.circuit.idle import op_amp_limits_v
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import Network, nodal_response
from sublatch.circuit.octave_stages.base import NOTE, OCTAVE
from sublatch.errors import CircuitError, UnitError
from sublatch.units.scales import ratio_to_db

SIDEWAYS = {*AHEAD, "direct"}
"""Blocks that the note reaches without passing the octave stage."""
IN_THE_TABLE = (NOTE, OCTAVE, DIRECT_FILTERED)
"""Nets of these blocks, or on their edge, that the bench table has itself."""


def held_still_row(board: Board, net: str, *, level_v: float) -> BenchRow | None:
    """Return the level on any net of the signal's path with the drive high; None where there is none to tell.

    Parameters
    ----------
    board
        The board.
    net
        The net.
    level_v
        RMS at the input jack, of `FILTER_HZ`'s first tone.

    Notes
    -----
    Volume and tone fully clockwise, direct off, peak flat, as in the bench table. Nothing is told of nets that a diode,
    a comparator or a switch of the octave stage decides, but for the stage's output, of nets behind an op-amp of the
    detector that the tone brings to its limits, or of those that have no signal.
    """
    positions = held_positions(board.circuit)
    sideways = any(part.block in SIDEWAYS for part, _ in board.on_net(net)) and net not in IN_THE_TABLE
    try:
        with np.errstate(invalid="ignore"):  # a net without any signal
            if sideways:
                return _sideways(board, positions, net, level_v)
            return next(iter(sine_rows(board, positions, net, FILTER_HZ[:1], level_v)))
    except (CircuitError, UnitError):
        return None


def _sideways(board: Board, positions: Circuit, net: str, level_v: float) -> BenchRow | None:
    """Return the level on a net ahead of the comparators or of the direct knob."""

    def gain_db(other: Board, where: Circuit) -> Signal:
        return ratio_to_db(np.array([_gain(_way(other, where, net))]))

    if _reaches_its_limits(board, positions, net, level_v):
        return None
    gains = scatter(gain_db, board, positions, blocks=tuple(SIDEWAYS))
    ((rms_v, low_v, high_v),) = gains.of_amplitude(level_v)
    where = (positions.tone, positions.peak, FILTER_HZ[0], net, probe_point(board, net))
    return BenchRow(*where, rms_v, low_v, high_v, sqrt(2.0) * rms_v, float(gains.middle_db[0]))


def _way(board: Board, positions: Circuit, net: str) -> Network:
    """Return what lies between the input jack and a net."""
    network = board_network(board, inputs=("in", OCTAVE), output=net, positions=positions)
    on_parts = {node for part in network.parts for node in part.nodes}
    return replace(network, inputs=tuple(name for name in network.inputs if name in on_parts))


def _gain(network: Network) -> float:
    """Return a way's gain for the tone."""
    return float(abs(nodal_response(network, FILTER_HZ[0], source="in")))


def _reaches_its_limits(board: Board, positions: Circuit, net: str, level_v: float) -> bool:
    """Return whether the tone brings an op-amp on the way to a net to its limits."""
    on_way = {node for part in _way(board, positions, net).parts for node in part.nodes}
    bends = [bend.output for bend in board.circuit.detector.front.bends if bend.output in on_way]
    room_v = min(abs(limit) for limit in op_amp_limits_v(board.circuit))
    return any(sqrt(2.0) * level_v * _gain(_way(board, positions, output)) > room_v for output in bends)
