"""Notes that are too high for a detector's low-pass, as when a guitar plays into a detector made for a bass."""

from __future__ import annotations

import math

import numpy as np

from sublatch.circuit.detectors.front import NOTE, Filtered, Front
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import transfer
from sublatch.circuit.networks.transfer import Transfer
from sublatch.circuit.networks.upstream import upstream
from sublatch.takes.remarks import Remark
from sublatch.tracking.lock import locked_percent
from sublatch.tracking.track import Tracking, locked_share_of
from sublatch.tracking.tune.search import POOR

FALL_DB = 18.0
"""How far below its best a low-pass has fallen where notes are too high for it: a third-order one an octave above its
corner. Recorded guitar notes beyond that are held for 5 % (peak latch) and 20 % (overtone) of their time, those up to
15 dB for three quarters (`tests/recordings/test_range.py`)."""
WORTH_SAYING = 0.1
"""Share of the notes' time that notes too high must have."""
LOWEST_HZ, HIGHEST_HZ, STEPS = 20.0, 2000.0, 8000


def highest_hz(circuit: Circuit) -> float:
    """Return the highest pitch in hertz for a circuit's detector; infinite where its low-pass never falls so far.

    Parameters
    ----------
    circuit
        The circuit; only its detector's low-pass matters.
    """
    frequency_hz = np.geomspace(LOWEST_HZ, HIGHEST_HZ, STEPS)
    low_pass = _low_pass(circuit.detector.front)
    gain = np.abs(low_pass.response(frequency_hz))
    best = int(np.argmax(gain))
    fallen = np.flatnonzero(gain[best:] < gain[best] * 10 ** (-FALL_DB / 20))
    return float(frequency_hz[best + fallen[0]]) if len(fallen) else math.inf


def _low_pass(front: Front) -> Transfer:
    """Return what leads from the input follower through the low-pass, with what lies ahead of it in series."""
    stage = next(stage for stage in front.stages if isinstance(stage, Filtered) and stage.setting == "filter")
    inputs = (NOTE, *(bend.output for bend in front.bends))
    return transfer(upstream(front.parts, inputs=inputs, output=stage.end), source=NOTE)


def range_remarks(tracking: Tracking, circuit: Circuit) -> tuple[Remark, ...]:
    """Return what there is to say where a take's notes are too high for a circuit's detector and are lost.

    Parameters
    ----------
    tracking
        How the circuit tracks the take.
    circuit
        The circuit.

    Returns
    -------
    tuple of Remark
        One, where the notes that are too high have at least a tenth of all notes' time and are held for less than
        `POOR` of it; else none.
    """
    limit_hz = highest_hz(circuit)
    high = [item for item in tracking.notes if item.note.pitch_hz > limit_hz]
    seconds, all_s = (sum(item.note.end_s - item.note.start_s for item in some) for some in (high, tracking.notes))
    held = locked_share_of(high)
    if held is None or held >= POOR or seconds < WORTH_SAYING * all_s:
        return ()
    factor = max(2, math.ceil(max(item.note.pitch_hz for item in high) / limit_hz))
    text = (
        f"high for this detector: {len(high)} of {len(tracking.notes)} notes lie above {limit_hz:.0f} Hz, where its "
        f"low-pass has fallen by {FALL_DB:.0f} dB, and are held for {locked_percent(held)} % of their time; use "
        f"'sublatch tune', or divide the detector's capacitors by {factor}"
    )
    return (Remark("high-for-detector", text),)
