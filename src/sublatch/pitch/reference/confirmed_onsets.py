"""Onsets that the pitch confirms: not those of slides, but faint ones where the pitch changes."""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Array
from sublatch.pitch.reference.excerpts import HOP_S

SLIDE_NEAR_S, SLIDE_FAR_S = 0.09, 0.15
"""How long before and after an onset a slide is looked for, in seconds: nearer than half an excerpt it is steady."""
SLIDE_CENTS = 30.0
"""By how much the pitch goes on from before to after, and on one of the two sides, in cents."""
SLIDE_STEP_CENTS = 60.0
"""A larger step from one moment to the next, in cents, is no slide: an octave in a quarter of a second has 48."""
CHANGE_NEAR_S, CHANGE_FAR_S = 0.03, 0.06
"""From when to when before and after a faint onset the pitch must be steady, in seconds."""
STEADY_CENTS = 30.0
CHANGE_CENTS = 80.0
"""How steady it must be on both sides, in cents, and how far apart they are."""
APART_S = 0.06
"""How far a faint onset must be from a clear one, in seconds."""


def confirmed_onsets(pitch_hz: Array, clear_s: Array, faint_s: Array) -> Array:
    """Return the onsets that the pitch confirms (n,), in seconds.

    Parameters
    ----------
    pitch_hz
        A pitch every 10 ms (k,), NaN for none.
    clear_s, faint_s
        When something is plucked (m,), and when something may be, in seconds.
    """
    plucked = [start_s for start_s in clear_s if not _slides_through(pitch_hz, start_s)]
    apart = [start_s for start_s in faint_s if np.min(np.abs(clear_s - start_s), initial=np.inf) > APART_S]
    return np.array(sorted([*plucked, *(start_s for start_s in apart if _changes_at(pitch_hz, start_s))]))


def _slides_through(pitch_hz: Array, moment_s: float) -> bool:
    """Return whether the pitch goes on one way through a moment, from before it or to after it."""
    sides = _both_sides(pitch_hz, moment_s, SLIDE_NEAR_S, SLIDE_FAR_S)
    if sides is None:
        return False
    through = sides[1][0] - sides[0][-1]
    gradual = [
        np.max(np.abs(np.diff(side))) < SLIDE_STEP_CENTS and np.sign(through) * (side[-1] - side[0]) > SLIDE_CENTS
        for side in sides
    ]
    return bool(abs(through) > SLIDE_CENTS and any(gradual))


def _changes_at(pitch_hz: Array, moment_s: float) -> bool:
    """Return whether the pitch is another just after a moment than just before, and steady on both sides."""
    sides = _both_sides(pitch_hz, moment_s, CHANGE_NEAR_S, CHANGE_FAR_S)
    if sides is None:
        return False
    steady = max(np.ptp(side) for side in sides) < STEADY_CENTS
    return bool(steady and abs(sides[1][0] - sides[0][-1]) > CHANGE_CENTS)


def _both_sides(pitch_hz: Array, moment_s: float, near_s: float, far_s: float) -> tuple[Array, Array] | None:
    """Return the pitch in cents from one time to another before a moment, and after it; None beyond the ends."""
    moment, near, far = (round(seconds / HOP_S) for seconds in (moment_s, near_s, far_s))
    if moment < far or moment + far >= len(pitch_hz):
        return None
    cents = 1200 * np.log2(pitch_hz[moment - far : moment + far + 1])
    return cents[: far - near + 1], cents[far + near :]
