"""Excerpts: the part of the sound by which each moment's pitch is told, from one onset to the next at most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sublatch.arrays import Array, Whole
from sublatch.sampling.rates import resampled
from sublatch.takes.take import Take

RATE_HZ = 4000
"""Sample rate at which pitches are looked for."""
HOP_S = 0.01
"""Time from one moment to the next, in seconds."""
LENGTHS_S = (0.06, 0.076, 0.094, 0.116, 0.143, 0.176)
"""How much sound an excerpt takes in, in seconds: the longest of these that fits between two onsets."""
OUTSIDE_S = 0.088
"""How much silence, in seconds, is thought of before the sound and after it: half of the longest excerpt."""
AFTER_ONSET_S = 0.004
BEFORE_ONSET_S = 0.005
"""How much after an onset and before the next, in seconds, is left out: the pluck's noise, and its finger's."""


@dataclass(frozen=True, eq=False)
class Excerpts:
    """One excerpt a moment, every 10 ms.

    Attributes
    ----------
    first
        Sample with which each begins (k,), at 4 kHz; it may lie before the sound's start.
    length
        Its number among `LENGTHS_S` (k,).
    span
        Number of the stretch between two onsets in which each moment lies (k,).
    bounds_s
        Where these stretches begin and end, in seconds (m, 2).
    """

    first: Whole
    length: Whole
    span: Whole
    bounds_s: Array


def sound_of(take: Take, *, rate_hz: int = RATE_HZ) -> Array:
    """Return a take (n,) at a rate of its own, without its mean, 1 at full scale."""
    volts = resampled(take.samples - np.mean(take.samples), take.sample_rate, rate_hz)
    return np.asarray(volts / take.full_scale_volts, dtype=np.float64)


def excerpts(count: int, onsets_s: Array) -> Excerpts:
    """Return the excerpts for so many moments (k,) between onsets (m,), in seconds: each around its moment or moved in.

    An onset that leaves too little before it for an excerpt parts nothing.
    """
    moment_s = np.arange(count) * HOP_S
    onsets_s = onsets_s[onsets_s > LENGTHS_S[0]]
    edges = np.concatenate(([-OUTSIDE_S], onsets_s, [moment_s[-1] + OUTSIDE_S]))
    bounds_s = np.stack([edges[:-1] + AFTER_ONSET_S, edges[1:] - BEFORE_ONSET_S], axis=1)
    span = np.searchsorted(onsets_s, moment_s, side="right")
    begin, end = bounds_s[span].T
    length = np.maximum(np.searchsorted(LENGTHS_S, end - begin, side="right") - 1, 0)
    half = np.array(LENGTHS_S)[length] / 2
    low, high = begin + half, end - half
    middle = np.where(low > high, (begin + end) / 2, np.clip(moment_s, low, np.maximum(low, high)))
    return Excerpts(np.round((middle - half) * RATE_HZ).astype(np.intp), length, span, bounds_s)
