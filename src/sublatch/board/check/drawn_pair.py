"""What a board's transconductance pair does to a note, from the parts around it."""

from __future__ import annotations

from dataclasses import dataclass
from math import log10, pi

import numpy as np

from sublatch.arrays import Array
from sublatch.board.check.elements import control_a
from sublatch.board.netlist import Board
from sublatch.circuit.octave_stages.transconductance_pair import PAIR

SHARE = 0.05
"""How far gain and largest output may be off beside the resistors: 10 °C of the room are 3.4 %, and the control pin may
be 0.2 V off (common practice, no source)."""
STEPS, HARMONICS = 512, 32
"""Points of a bent sine's period, and how many of its harmonics count."""


@dataclass(frozen=True)
class DrawnPair:
    """A pair as it is drawn.

    Attributes
    ----------
    linear_range_v
        Input of the octave stage at which tanh has an argument of 1.
    most_v
        What its output goes to for a very large note.
    """

    linear_range_v: float
    most_v: float

    @property
    def gain(self) -> float:
        """Gain for a small note while the drive is high."""
        return self.most_v / self.linear_range_v

    def harmonics_v(self, note_v: float) -> Array:
        """Return the RMS of each harmonic (HARMONICS,) that it makes of a sine of so many volts RMS, from the first."""
        phase = 2.0 * pi * np.arange(STEPS) / STEPS
        bent = self.most_v * np.tanh(np.sqrt(2.0) * note_v / self.linear_range_v * np.sin(phase))
        return np.asarray(np.sqrt(2.0) / STEPS * np.abs(np.fft.rfft(bent))[1 : HARMONICS + 1])


def drawn_pair(board: Board) -> DrawnPair | None:
    """Return a board's transconductance pair; None where the octave stage is built with a switch."""
    if not board.circuit.octave.is_pair:
        return None
    ohm = {part.role: part.amount or 0.0 for part in board.of_block("octave")}
    share = ohm["octave.shunt"] / (ohm["octave.source"] + ohm["octave.shunt"])
    if "octave.lift_feedback" in ohm:
        share *= 1.0 + ohm["octave.lift_feedback"] / ohm["octave.lift_ground"]
    amps = control_a(board, board.component("octave.pair"))
    return DrawnPair(PAIR.linear_range_v / share, amps * ohm["octave.load"])


def more_db(board: Board) -> float:
    """Return what `SHARE` is in dB on a board with a pair; nothing on another."""
    return 20.0 * log10(1.0 + SHARE) if board.circuit.octave.is_pair else 0.0


def pair_ratio(board: Board, note_v: float, model_v: float) -> float:
    """Return a board's gain for a sine of so many volts RMS, over the model's for its own; 1 without a pair."""
    pair, octave = drawn_pair(board), board.circuit.octave
    if pair is None or octave.linear_range is None:
        return 1.0
    model = DrawnPair(octave.linear_range, octave.linear_range)
    ratio = np.linalg.norm(pair.harmonics_v(note_v)) / np.linalg.norm(model.harmonics_v(model_v))
    return float(ratio) * model_v / note_v
