"""Slides: where the pitch goes on one way through a moment, so that bands rise although nothing is plucked."""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Array
from sublatch.pitch.excerpts import HOP_S

NEAR_S, FAR_S = 0.09, 0.15
"""How long before and after a moment the slide is looked for, in seconds: nearer than half an excerpt it stands still."""
LEAST_CENTS = 30.0
"""By how much the pitch goes on from before to after, and on one of the two sides, in cents."""
STEP_CENTS = 60.0
"""A larger step from one moment to the next, in cents, is no slide: an octave in a quarter of a second has 48."""


def slides_through(pitch_hz: Array, moment_s: float) -> bool:
    """Return whether a pitch (k,), one every 10 ms, slides through a moment from before it or to after it."""
    middle, near, far = (round(seconds / HOP_S) for seconds in (moment_s, NEAR_S, FAR_S))
    if middle < far or middle + far >= len(pitch_hz):
        return False
    cents = 1200 * np.log2(pitch_hz[middle - far : middle + far + 1])
    before, after = cents[: far - near + 1], cents[far + near :]
    through = after[0] - before[-1]
    return any(
        np.max(np.abs(np.diff(side))) < STEP_CENTS and np.sign(through) * (side[-1] - side[0]) > LEAST_CENTS
        for side in (before, after)
    ) and bool(abs(through) > LEAST_CENTS)
