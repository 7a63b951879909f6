"""The path: the pitches, moment by moment, whose scores add up to most, glides and jumps being paid for."""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Array, Single, Whole
from sublatch.pitch.reference.candidates import OCTAVE, STEP_CENTS
from sublatch.pitch.reference.excerpts import HOP_S

GLIDE_COST = 0.1
"""What a glide costs for each candidate it passes, two at most from one moment to the next."""
JUMP_COST = 30.0
"""What a jump costs where nothing is plucked, in the scores' unit."""
ONSET_COST = 0.5
"""What it costs at an onset, where a new note may begin."""
FAINT_COST = 10.0
FAINT_BEFORE, FAINT_AFTER = 2, 3
"""What it costs around what may be an onset, from so many moments before to so many after."""
OCTAVE_TIMES = 2.0
OCTAVES_CENTS = (1200, 1900, 2400)
OCTAVES_NEAR = 3
"""Jumps so far, give or take as many candidates, cost so many times as much: so a note only seems to change."""


def jump_costs(span: Whole, faint_s: Array) -> Array:
    """Return what a jump costs at each moment (k,).

    Parameters
    ----------
    span
        Number of the stretch between two onsets in which each moment lies (k,).
    faint_s
        When something may be plucked (m,), in seconds.
    """
    costs = np.full(len(span), JUMP_COST)
    for moment in np.round(faint_s / HOP_S).astype(int):
        costs[max(moment - FAINT_BEFORE, 0) : moment + FAINT_AFTER + 1] = FAINT_COST
    return np.where(np.diff(span, prepend=span[0]) != 0, ONSET_COST, costs)


def best_path(scores: Single, costs: Array) -> Whole:
    """Return the best path's pitches (k,), by number.

    Only sums are kept on the way there; where each came from is asked again on the way back, for one pitch a moment.

    Parameters
    ----------
    scores
        How well each pitch accounts for each moment (k, pitches).
    costs
        What a jump costs at each moment (k,).
    """
    count, pitches = scores.shape
    by_step = _costs_by_step(pitches)
    totals = np.empty_like(scores)
    totals[0] = total = scores[0]
    costs = costs.astype(np.float32)
    for moment in range(1, count):
        top = int(total.argmax())
        best = np.maximum(total, total[top] - costs[moment] * by_step[pitches - top : 2 * pitches - top])
        for step in (1, 2):
            lower = total - np.float32(GLIDE_COST * step)
            np.maximum(best[step:], lower[:-step], out=best[step:])
            np.maximum(best[:-step], lower[step:], out=best[:-step])
        best -= total[top]
        total = np.add(best, scores[moment], out=totals[moment])
    path = np.empty(count, np.intp)
    path[-1] = totals[-1].argmax()
    for moment in range(count - 1, 0, -1):
        path[moment - 1] = _before(totals[moment - 1], int(path[moment]), costs[moment], by_step)
    return path


def octave_margin(scores: Single, path: Whole) -> Array:
    """Return by how much the pitch of each moment scores above the octaves below and above it (k,).

    Parameters
    ----------
    scores
        How well each pitch accounts for each moment (k, pitches).
    path
        The pitch of each moment (k,), by number.
    """
    own = _best_near(scores, path)
    return np.asarray(own - np.maximum(_best_near(scores, path - OCTAVE), _best_near(scores, path + OCTAVE)))


def _best_near(scores: Single, pitch: Whole) -> Array:
    """Return the best score of each moment's pitch (k,), by number, and its neighbours; −∞ beyond what is tried."""
    pitches = scores.shape[1]
    near = pitch[:, np.newaxis] + np.array([-1, 0, 1])
    found = np.take_along_axis(scores, np.clip(near, 0, pitches - 1), axis=1)
    return np.asarray(np.max(np.where((near >= 0) & (near < pitches), found, -np.inf), axis=1), dtype=np.float64)


def _costs_by_step(pitches: int) -> Single:
    """Return how many times as much each jump costs, from all the way down to all the way up.

    Jumps by one or two octaves, or an octave and a fifth, cost most: those are how a note only seems to change.
    """
    steps = np.abs(np.arange(-pitches, pitches))
    near = np.min(np.abs(steps[:, None] - np.array(OCTAVES_CENTS) // STEP_CENTS), axis=1) <= OCTAVES_NEAR
    return np.where(near, OCTAVE_TIMES, 1.0).astype(np.float32)


def _before(total: Single, pitch: int, jump_cost: np.float32, by_step: Single) -> int:
    """Return the pitch that the best sum came from: the same, the best of all by a jump, or a near one by a glide."""
    top = int(total.argmax())
    came, best = pitch, total[pitch]
    jumped = total[top] - jump_cost * by_step[len(total) - top + pitch]
    if jumped > best:
        came, best = top, jumped
    for source in (pitch + 2, pitch + 1, pitch - 1, pitch - 2):
        if 0 <= source < len(total):
            glided = total[source] - np.float32(GLIDE_COST * abs(source - pitch))
            if glided > best:
                came, best = source, glided
    return came
