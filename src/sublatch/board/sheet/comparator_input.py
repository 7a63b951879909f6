"""What the comparators see of a sine, and what the peak stores make of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sublatch.arrays import Signal
from sublatch.board.netlist import Board
from sublatch.board.network import HELD, board_network, linear_parts
from sublatch.board.sheet.amounts import probe_point
from sublatch.board.sheet.reading_limits import Scatter, scatter
from sublatch.circuit.detectors.thresholds import Side
from sublatch.circuit.idle import op_amp_limits_v
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import Network
from sublatch.signal.comparator import peak_store
from sublatch.signal.front.sine import sine_through
from sublatch.units.scales import ratio_to_db

AHEAD = ("input", "overtone", "detector")
"""Blocks whose parts decide what the comparators see."""
PERIODS = 64
"""By then every store is where it stays."""


@dataclass(frozen=True)
class StoreRow:
    """What a peak store holds while the tone sounds, in volts from the bias: after a peak, and ahead of it."""

    net: str
    probe_at: str
    peak_v: float
    low_v: float
    high_v: float
    falls_to_v: float


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
    linear = linear_parts(board)

    def network_of(net: str, known: Sequence[str]) -> Network:
        network = board_network(linear, inputs=(*known, *HELD), output=net)
        on_parts = {node for part in network.parts for node in part.nodes}
        return replace(network, inputs=tuple(name for name in network.inputs if name in on_parts))

    front = board.circuit.detector.front
    return sine_through(
        front, network_of, volts=volts, frequency_hz=frequency_hz, limits=op_amp_limits_v(board.circuit)
    )


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


def wave_scatter(board: Board, *, volts: float, frequency_hz: float) -> Scatter:
    """Return the RMS value, the peak and the negative peak of what the comparators see of a sine given by its peak."""

    def figures_db(other: Board, _: Circuit) -> Signal:
        wave = comparator_wave(other, volts=volts, frequency_hz=frequency_hz)
        return ratio_to_db(np.array([np.sqrt(np.mean(wave**2)), wave.max(), -wave.min()]))

    return scatter(figures_db, board, board.circuit, blocks=AHEAD)


def store_rows(board: Board, wave: Signal, seen: Scatter, *, frequency_hz: float) -> Iterator[StoreRow]:
    """Yield what the peak stores hold of a sine; none with fixed thresholds.

    Parameters
    ----------
    board
        The board.
    wave, seen
        What the comparators see of the sine: a period in volts (n,), and its `wave_scatter`.
    frequency_hz
        The sine's frequency.
    """
    thresholds = board.circuit.detector.thresholds
    if thresholds.fixed:
        return
    ranges = seen.of_amplitude(1.0)[1:]
    for side, sign, (_, *ends) in zip(("positive", "negative"), (1.0, -1.0), ranges, strict=True):
        net, law = stored_net(board, side), getattr(thresholds, side)
        peak, falls = store_peak_and_low(sign * wave, side=law, hold_s=thresholds.hold_s, frequency_hz=frequency_hz)
        low, high = sorted(sign * end for end in ends)
        yield StoreRow(net, probe_point(board, net), sign * peak, low, high, sign * falls)
