"""What the comparators see of a sine, and what the peak stores make of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sublatch.arrays import Signal
from sublatch.board.netlist import Board
from sublatch.board.network import board_network
from sublatch.circuit.detectors.thresholds import Side
from sublatch.circuit.networks.solver import Network
from sublatch.signal.comparator import peak_store
from sublatch.signal.detector import sine_through

PERIODS = 64
"""By then every store is where it stays."""
HELD = ("rectifier.minus",)
"""Nets that an op-amp holds at the bias by way of diodes, whichever way the current goes."""


def comparator_wave(board: Board, *, volts: float, frequency_hz: float) -> Signal:
    """Return a period of what the comparators see of a sine at the input jack.

    Parameters
    ----------
    board
        The board; its detector has no leveller.
    volts
        The sine's peak at the jack.
    frequency_hz
        Its frequency.

    Returns
    -------
    NDArray
        Volts from the bias (n,).

    """
    linear = without_diodes(board)

    def network_of(net: str, known: Sequence[str]) -> Network:
        network = board_network(linear, inputs=(*known, *HELD), output=net)
        on_parts = {node for part in network.parts for node in part.nodes}
        return replace(network, inputs=tuple(name for name in network.inputs if name in on_parts))

    front = board.circuit.detector.front
    return sine_through(front, network_of, volts=volts, frequency_hz=frequency_hz, limits=board.circuit.limits)


def without_diodes(board: Board) -> Board:
    """Return what is linear of a board."""
    return replace(board, components=tuple(part for part in board.components if part.kind != "diode"))


def watched_net(board: Board) -> str:
    """Return the net that the comparators watch."""
    return board.component("latch.set").net("+")


def stored_net(board: Board, side: str) -> str:
    """Return the net at which what a side's peak store holds is measured: behind its follower where it has one."""
    role = f"latch.{side}.follower"
    followed = next((part.net("out") for part in board.components if part.role == role), None)
    return followed or board.component(f"latch.{side}.hold_capacitor").net("a")


def store_peak_and_low(wave: Signal, *, side: Side, hold_s: float, frequency_hz: float) -> tuple[float, float]:
    """Return how high a peak store is charged by a periodic wave (n,), and how low it falls in between, in volts."""
    hold = hold_s * frequency_hz * len(wave)
    held = side.rest_v + peak_store(np.tile(wave - side.rest_v, PERIODS), hold=hold)[-len(wave) :]
    return float(held.max()), float(held.min())
