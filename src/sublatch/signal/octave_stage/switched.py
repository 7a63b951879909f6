"""The octave stage: the note times a gain that switches between two values."""

from __future__ import annotations

from math import tanh

import numpy as np

from sublatch.arrays import Signal
from sublatch.circuit.octave_stages.base import OctaveStage
from sublatch.sampling.switching import TAPS, square_wave
from sublatch.signal.octave_stage.transconductance import bent_and_switched


def generate(note: Signal, drive: Signal, *, sample_rate: float, octave: OctaveStage, idle_v: float = 0.0) -> Signal:
    """Return what the octave stage makes of a note.

    Parameters
    ----------
    note
        The stage's input in volts (n,), sampled at twice the rate that it needs.
    drive
        Times in seconds (m,) at which the drive changes; it starts high.
    sample_rate
        Samples per second of `note`.
    octave
        The stage's kind and imperfections.
    idle_v
        Where its input rests, in volts: it is switched with the note.

    Returns
    -------
    NDArray
        Volts (n,) from where the output rests while the drive is high; exact up to 0.45 of half the sample rate, to
        which it is then brought.

    Notes
    -----
    With gains a and b and a drive s = ±1, y = x · ((a + b)/2 + s · (a − b)/2). A gate is therefore half the note
    plus half the polarity-switched note. A transconductance pair's current follows tanh (Texas Instruments LM13700
    data sheet, from ln(I5/I4) = V q/kT).
    """
    high, low = octave.gains
    resting = idle_v if octave.linear_range is None else octave.linear_range * tanh(idle_v / octave.linear_range)

    def switched(bent: Signal, first: int, multiple: int) -> Signal:
        transition = round(octave.transition * multiple * sample_rate, 6)
        edges = drive * (multiple * sample_rate) - multiple * first
        passed, ahead = np.searchsorted(edges, (-TAPS - transition, len(bent) + TAPS))
        wave = square_wave(edges[passed:ahead], len(bent), start=(-1.0) ** passed, transition=transition)
        product = bent * (0.5 * (high + low) + 0.5 * (high - low) * wave)
        if resting:
            product += 0.5 * (high - low) * resting * (wave - 1.0)
        return product + octave.feedthrough * wave if octave.feedthrough else product

    if octave.linear_range is None:
        return switched(note, 0, 1)
    return bent_and_switched(note, switched, sample_rate=sample_rate, linear_range=octave.linear_range, idle_v=idle_v)
