"""The drive's edges when the same take is played softer or louder, where it can be without filtering it again.

Up to the comparator of a detector without amplifiers everything is linear. So a take at g times its level is the take
as it is before a comparator whose fixed threshold, hysteresis or floor, is 1/g of what it is; the stores of a peak
latch follow the level by themselves. A leveller, and a detector whose amplifiers reach their limits, have to be heard
at every level anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sublatch.arrays import Flags, Signal, Whole
from sublatch.circuit.detectors.bends import FullWave
from sublatch.circuit.detectors.thresholds import Side, Thresholds
from sublatch.circuit.model import Circuit
from sublatch.sampling.crossings import refine
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import comparator_volts, detected_edges
from sublatch.signal.comparator import stores
from sublatch.takes.take import Take


def drives_over_level(take: Take, ratios: Sequence[float], *, circuit: Circuit, cache: StageCache) -> list[Signal]:
    """Return when the first flip-flop changes, for each of several playing levels.

    Parameters
    ----------
    take
        The take as it is, in volts.
    ratios
        What the take is multiplied by, each above 0.
    circuit
        The circuit.
    cache
        Results shared between circuits on this take.

    Returns
    -------
    list of ndarray
        Times in seconds (m,), one array for each ratio.
    """
    if not _is_homogeneous(circuit):
        louder = (replace(take, samples=ratio * take.samples) for ratio in ratios)
        return [detected_edges(other, circuit)[::2] for other in louder]
    rate, thresholds = take.sample_rate, circuit.detector.thresholds
    heard = comparator_volts(take, circuit, cache)
    asked = _asked(heard, rate, thresholds)
    return [_set_times(heard, asked, thresholds.least_v / ratio) / rate for ratio in ratios]


def _is_homogeneous(circuit: Circuit) -> bool:
    """Return whether g times the take is g times as much at the comparator, and stores rest at nothing."""
    detector = circuit.detector
    bends = all(isinstance(bend.law, FullWave) and bend.idle_v == 0.0 for bend in detector.front.bends)
    bends = bends and detector.front.idle_v == 0.0
    fixed = detector.thresholds.fixed
    rest = all(side.rest_v == side.charge_shift_v == 0.0 for side in detector.thresholds.sides)
    added = fixed or all(side.added_v == 0.0 for side in detector.thresholds.sides)
    alike = detector.thresholds.positive == detector.thresholds.negative
    return detector.leveller is None and bends and rest and added and alike


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


def _asked(heard: Signal, sample_rate: int, thresholds: Thresholds) -> _Asked:
    """Return what asks the comparator to change: everything, or what passes a share of its side's peak store."""
    if thresholds.fixed:
        place = np.flatnonzero(heard)
        none = np.broadcast_to(0.0, place.shape)
        return _Asked(place, np.abs(heard[place]), heard[place] > 0.0, none, none)
    without_floor = replace(thresholds, positive=_bare(thresholds), negative=_bare(thresholds))
    positive, negative = stores(heard, sample_rate=sample_rate, thresholds=without_floor)
    place = np.flatnonzero(positive.passed | negative.passed)
    sets, ahead = heard[place] > 0.0, np.maximum(place - 1, 0)
    here, before = (
        np.where(sets, *(store.thresholds(ahead, place, later=later) for store in (positive, negative)))
        for later in (True, False)
    )
    return _Asked(place, np.abs(heard[place]), sets, before, here)


def _bare(thresholds: Thresholds) -> Side:
    """Return the share of the stores alone."""
    return Side(share=thresholds.positive.share)


def _set_times(heard: Signal, asked: _Asked, least: float) -> Signal:
    """Return the times in samples (m,) at which a comparator with this least threshold sets; it starts reset."""
    loud = np.flatnonzero(asked.size > least)
    wants = asked.sets[loud]
    changes = loud[wants != np.concatenate(([False], wants[:-1]))][::2]
    there, later = np.maximum(asked.before[changes], least), np.maximum(asked.here[changes], least)
    return refine(heard, np.maximum(asked.place[changes] - 1, 0), there, later)
