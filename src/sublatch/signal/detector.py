"""The detector: its bends, what the comparator sees, and the edges it makes of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sublatch.arrays import Signal
from sublatch.circuit.detectors.leveller import Leveller
from sublatch.circuit.detectors.thresholds import Thresholds
from sublatch.circuit.model import Circuit
from sublatch.circuit.real_thresholds import real_thresholds
from sublatch.signal.comparator import comparator_edges, peak_store
from sublatch.signal.front.idle import front_idle


def comparator_input(filtered: Signal, *, sample_rate: int, circuit: Circuit) -> Signal:
    """Return what the comparator sees, in volts (n,), of the detector filter's output in volts (n,)."""
    leveller = circuit.detector.leveller
    upright = filtered if leveller is None else levelled(filtered, sample_rate=sample_rate, leveller=leveller)
    idle_v = front_idle(circuit).watched_v
    real = upright if idle_v == 0.0 else upright + idle_v
    return real if circuit.switches.drive == "normal" else -real


def levelled(samples: Signal, *, sample_rate: int, leveller: Leveller) -> Signal:
    """Return a signal (n,) with its level evened: a gain of target over a peak store, up to the most there is."""
    level = peak_store(np.abs(samples), hold=leveller.hold_s * sample_rate)
    return samples * (leveller.target / np.maximum(level, leveller.target / leveller.most_gain))


def edges(comparator_volts: Signal, *, sample_rate: int, circuit: Circuit) -> Signal:
    """Return the times at which the comparator changes state.

    Parameters
    ----------
    comparator_volts
        What the comparator sees, in volts (n,); the comparator starts reset.
    sample_rate
        Samples per second.
    circuit
        The circuit; only its comparator matters here.

    Returns
    -------
    NDArray
        Times in seconds (m,), in turn set and reset.
    """
    thresholds = thresholds_heard(circuit)
    return comparator_edges(comparator_volts, sample_rate=sample_rate, thresholds=thresholds) / sample_rate


def thresholds_heard(circuit: Circuit) -> Thresholds:
    """Return when a circuit's comparators set and reset, as what they see is turned over with the drive switch."""
    real = real_thresholds(circuit)
    if circuit.switches.drive == "normal":
        return real
    return replace(real, positive=real.negative, negative=real.positive)
