"""What the comparators see of a sine, and what the peak stores make of it."""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Signal
from sublatch.board.netlist import Board
from sublatch.board.network import board_network
from sublatch.circuit.detectors.base import RECTIFIED
from sublatch.circuit.networks.solver import nodal_response
from sublatch.signal.comparator import peak_store

STEPS = 4096
"""Points of a period."""
HARMONICS = 64
"""Of a rectified sine, those beyond have less than 1/3000 of its mean value."""
PERIODS = 64
"""By then every store is where it stays."""


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

    Notes
    -----
    Plain signal and rectified band are each a Fourier series, so each passes its network exactly, up to `HARMONICS`.
    """
    net = watched_net(board)
    spectrum = np.zeros(STEPS // 2 + 1, dtype=complex)
    path = board.circuit.detector.rectified_path
    network = board_network(board, inputs=("in",) if path is None else ("in", RECTIFIED), output=net)
    spectrum[1] = 0.5 * STEPS * volts * nodal_response(network, frequency_hz, source="in")
    if path is not None:
        band = board_network(board, inputs=("in",), output=board.component("rectifier.input").net("a"))
        phase = 2.0 * np.pi * np.arange(STEPS) / STEPS
        wave = volts * np.real(nodal_response(band, frequency_hz) * np.exp(1j * phase))
        harmonics = np.arange(1, HARMONICS + 1)
        gains = nodal_response(network, frequency_hz * harmonics, source=RECTIFIED)
        spectrum[harmonics] += np.fft.rfft(path.sign * np.abs(wave))[harmonics] * gains
    return np.fft.irfft(spectrum, STEPS)


def watched_net(board: Board) -> str:
    """Return the net that the comparators watch."""
    return board.component("latch.set").net("+")


def store_peak_and_low(wave: Signal, *, hold_s: float, frequency_hz: float) -> tuple[float, float]:
    """Return how high a peak store is charged by a periodic wave (n,), and how low it falls in between, in volts."""
    held = peak_store(np.tile(wave, PERIODS), hold=hold_s * frequency_hz * len(wave))[-len(wave) :]
    return float(held.max()), float(held.min())
