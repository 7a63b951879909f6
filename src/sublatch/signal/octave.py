"""The octave stage: the note times a gain that switches between two values."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sublatch.circuit.model import GainGated, PolaritySwitched
from sublatch.signal.switching import square_wave

Signal = NDArray[np.float64]


def generate(note: Signal, drive: Signal, *, sample_rate: float, octave: PolaritySwitched | GainGated) -> Signal:
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

    Returns
    -------
    NDArray
        Volts (n,); exact up to 0.45 of half the sample rate, to which it is then brought.

    Notes
    -----
    With gains a and b and a drive s = ±1, y = x · ((a + b)/2 + s · (a − b)/2). A gate is therefore half the note
    plus half the polarity-switched note. A transconductance pair's current follows tanh (Texas Instruments LM13700
    data sheet, from ln(I5/I4) = V q/kT).
    """
    wave = square_wave(drive * sample_rate, len(note), transition=round(octave.transition * sample_rate, 6))
    if octave.linear_range is not None:
        note = octave.linear_range * np.tanh(note / octave.linear_range)
    high, low = octave.gains
    made = note * (0.5 * (high + low) + 0.5 * (high - low) * wave)
    return made + octave.feedthrough * wave if octave.feedthrough else made
