"""The drive's edges when the same take is played softer or louder, without filtering it again for every level.

Up to the comparator everything is linear, the overtone detector's rectifier included: |g x| = g |x|. So a take at g
times its level is the take as it is before a comparator whose fixed threshold, hysteresis or floor, is 1/g of what it
is; the stores of a peak latch follow the level by themselves. Only a leveller has to be heard at every level anew.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sublatch.arrays import Flags, Signal, Whole
from sublatch.circuit.model import Circuit
from sublatch.sampling.crossings import refine
from sublatch.signal.comparator import past_stores
from sublatch.signal.detector import comparator_input, edges


def drives_over_level(filtered: Signal, ratios: Sequence[float], *, sample_rate: int, circuit: Circuit) -> list[Signal]:
    """Return when the first flip-flop changes, for each of several playing levels.

    Parameters
    ----------
    filtered
        The detector filter's output in volts (n,) for the take as it is.
    ratios
        What the take is multiplied by, each above 0.
    sample_rate
        Samples per second.
    circuit
        The circuit.

    Returns
    -------
    list of ndarray
        Times in seconds (m,), one array for each ratio.
    """
    if circuit.detector.leveller is not None:
        return list(_heard_anew(filtered, ratios, sample_rate, circuit))
    heard = comparator_input(filtered, sample_rate=sample_rate, circuit=circuit)
    asked = _asked(heard, sample_rate, circuit)
    least = circuit.detector.thresholds.least_v
    return [_set_times(heard, asked, least / ratio) / sample_rate for ratio in ratios]


def _heard_anew(filtered: Signal, ratios: Sequence[float], sample_rate: int, circuit: Circuit) -> Iterator[Signal]:
    """Give the drive's edges of each level by the whole way through leveller and comparator."""
    for ratio in ratios:
        heard = comparator_input(ratio * filtered, sample_rate=sample_rate, circuit=circuit)
        yield edges(heard, sample_rate=sample_rate, circuit=circuit)[::2]


@dataclass(frozen=True, eq=False)
class _Asked:
    """The samples (m,) that ask the comparator to change, were it not for its fixed threshold.

    Of each, its place, its size, whether it asks for a set, and the thresholds that the stores bring at the sample
    before and at its own.
    """

    place: Whole
    size: Signal
    sets: Flags
    before: Signal
    here: Signal


def _asked(heard: Signal, sample_rate: int, circuit: Circuit) -> _Asked:
    """Return what asks the comparator to change: everything, or what passes a share of its side's peak store."""
    thresholds = circuit.detector.thresholds
    if thresholds.fixed:
        place = np.flatnonzero(heard)
        none = np.broadcast_to(0.0, place.shape)
        return _Asked(place, np.abs(heard[place]), heard[place] > 0.0, none, none)
    hold = thresholds.hold_s * sample_rate
    decay, stores, (above, below) = past_stores(heard, fraction=thresholds.fraction, hold=hold, floor=0.0)
    place = np.flatnonzero(above | below)
    sets = heard[place] > 0.0
    held = np.where(sets, stores[0][np.maximum(place - 1, 0)], stores[1][np.maximum(place - 1, 0)])
    before = np.where(place > 0, thresholds.fraction * held, 0.0)
    return _Asked(place, np.abs(heard[place]), sets, before, before * decay)


def _set_times(heard: Signal, asked: _Asked, least: float) -> Signal:
    """Return the times in samples (m,) at which a comparator with this least threshold sets; it starts reset."""
    loud = np.flatnonzero(asked.size > least)
    wants = asked.sets[loud]
    changes = loud[wants != np.concatenate(([False], wants[:-1]))][::2]
    there, later = np.maximum(asked.before[changes], least), np.maximum(asked.here[changes], least)
    return refine(heard, np.maximum(asked.place[changes] - 1, 0), there, later)
