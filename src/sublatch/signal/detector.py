"""The detector: what the comparator sees, and the edges it makes of it."""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Signal
from sublatch.circuit.detectors.leveller import Leveller
from sublatch.circuit.model import Circuit
from sublatch.signal.comparator import comparator_edges, peak_store


def comparator_input(filtered: Signal, *, sample_rate: int, circuit: Circuit) -> Signal:
    """Return what the comparator sees, in volts (n,), of the detector filter's output in volts (n,)."""
    leveller = circuit.detector.leveller
    upright = filtered if leveller is None else levelled(filtered, sample_rate=sample_rate, leveller=leveller)
    return upright if circuit.switches.drive == "normal" else -upright


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
    thresholds = circuit.detector.thresholds
    return comparator_edges(comparator_volts, sample_rate=sample_rate, thresholds=thresholds) / sample_rate
