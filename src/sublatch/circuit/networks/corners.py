"""The output filter's response: gain over frequency, and corners and peaks of one board or of many at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sublatch.arrays import Array, Flags
from sublatch.circuit.networks.solver import FAR_RAD_S, Network, transfer
from sublatch.circuit.networks.transfer import Boards

CORNER_DB = 20 * np.log10(np.sqrt(0.5))
"""Half power, −3.0103 dB."""
LOWEST_HZ, HIGHEST_HZ, POINTS = 10.0, 20e3, 241
GRID, BEYOND = 2000, 30.0
"""Frequencies on which one board's corners and peak are bracketed, so many times below and above all of its roots."""
POINTS_PER_OCTAVE, BEYOND_MANY = 12, 10.0
"""The same for many boards, where points cost time: a peak of up to a hundredth of a decibel may be missed."""
CHUNK = 1000
"""Boards in one go, so that memory stays small and near."""
FALSE_POSITIONS, CORNER_MISS = 20, 1e-14
"""Most steps from there to a corner, and how little the squared gain there may be off, as a share, for none more."""
TOP_STEP = 5e-4
"""How near a peak is searched for step by step, and half the width of the parabola through its top; a share."""
LEAST_PEAK_DB = 0.001
"""A rise of less is no peak."""
LEAST_DC_DB = -100.0
"""A filter whose gain at zero frequency is this far below its highest audible one has none there to speak of."""


@dataclass(frozen=True, eq=False)
class Response:
    """A filter's response.

    Attributes
    ----------
    dc_gain_db
        Gain at zero frequency in dB; None for a filter that lets nothing through there (a high-pass, a band-pass).
    reference_db
        What corners and peak are counted from: the gain at zero frequency or, without one, the highest from 10 Hz to
        20 kHz.
    low_corner_hz
        Without gain at zero frequency, the lowest frequency at which it is no longer 3.01 dB below the reference; else
        None.
    corner_hz
        Highest frequency at which the gain is 3.01 dB below the reference; None when it never falls so far.
    peak_db, peak_hz
        Highest rise above the reference in dB, and where; 0 and None without one.
    frequency_hz, gain_db
        The curve (n,).
    """

    dc_gain_db: float | None
    reference_db: float
    low_corner_hz: float | None
    corner_hz: float | None
    peak_db: float
    peak_hz: float | None
    frequency_hz: Array
    gain_db: Array


@dataclass(frozen=True, eq=False)
class Figures:
    """Corners and peaks of n boards, as `Response` has them; NaN on a board that has none.

    Attributes
    ----------
    at_zero, reference
        Squared gains at zero frequency, and those that corners and peaks are counted from (n,).
    passes_dc
        Whether there is a gain at zero frequency to speak of (n,).
    low_corner_hz, corner_hz, peak_db, peak_hz
        As for `Response` (n,).
    """

    at_zero: Array
    reference: Array
    passes_dc: Flags
    low_corner_hz: Array
    corner_hz: Array
    peak_db: Array
    peak_hz: Array


def network_response(network: Network, *, frequency_hz: ArrayLike | None = None) -> Response:
    """Return the response of any network, as `response` does.

    Raises
    ------
    CircuitError
        When the network has no solution.
    """
    board = transfer(network).boards
    if frequency_hz is None:
        frequency_hz = np.geomspace(LOWEST_HZ, HIGHEST_HZ, POINTS)
    frequency = np.atleast_1d(np.asarray(frequency_hz, dtype=float))
    figures = corners_and_peaks(board)
    return Response(
        dc_gain_db=float(_decibels(figures.at_zero)[0]) if figures.passes_dc[0] else None,
        reference_db=float(_decibels(figures.reference)[0]),
        low_corner_hz=_number(figures.low_corner_hz),
        corner_hz=_number(figures.corner_hz),
        peak_db=float(figures.peak_db[0]),
        peak_hz=_number(figures.peak_hz),
        frequency_hz=frequency,
        gain_db=_decibels(board.power(frequency)[0]),
    )


def corners_and_peaks(boards: Boards) -> Figures:
    """Return corners and peaks of boards, all bracketed on one grid of frequencies."""
    grid = _search_grid(boards)
    chunks = [_figures(boards.part(slice(at, at + CHUNK)), grid) for at in range(0, len(boards.gain), CHUNK)]
    return Figures(*(np.concatenate(arrays) for arrays in zip(*chunks, strict=True)))


def _search_grid(boards: Boards) -> Array:
    """Return frequencies in even steps of pitch, dense enough to bracket every turn, well past all poles and zeros."""
    size = np.abs(np.concatenate((boards.poles, boards.zeros), axis=1))
    hertz = size[(size > 0.0) & (size < FAR_RAD_S)] / (2 * np.pi)
    if not len(hertz):
        return np.geomspace(LOWEST_HZ, HIGHEST_HZ, GRID)
    if len(size) == 1:
        return np.geomspace(hertz.min() / BEYOND, hertz.max() * BEYOND, GRID)
    low, high = hertz.min() / BEYOND_MANY, hertz.max() * BEYOND_MANY
    return np.geomspace(low, high, 2 + int(POINTS_PER_OCTAVE * np.log2(high / low)))


def _figures(boards: Boards, grid: Array) -> tuple[Array, Array, Flags, Array, Array, Array, Array]:
    """Return the fields of `Figures`; what lets nothing through at zero frequency is searched where it is heard."""
    on_grid, at_zero = boards.power(grid), boards.power(np.zeros(1))[:, 0]
    audible = (grid >= LOWEST_HZ) & (grid <= HIGHEST_HZ)
    highest = np.max(on_grid[:, audible] if np.any(audible) else on_grid, axis=1)
    passes = at_zero > highest * 10 ** (LEAST_DC_DB / 10)
    reference, low, corner = at_zero, np.full(len(at_zero), np.nan), _crossing(boards, grid, on_grid, at_zero)
    peak_db, peak_hz = _peaks(boards, grid, on_grid, at_zero)
    if not np.all(passes):
        heard = np.geomspace(LOWEST_HZ, HIGHEST_HZ, len(grid))
        on_heard = boards.power(heard)
        highest = np.max(on_heard, axis=1)
        first, last = (_crossing(boards, heard, on_heard, highest, first=first) for first in (True, False))
        reference, low = np.where(passes, at_zero, highest), np.where(passes, np.nan, first)
        corner, peak_db = np.where(passes, corner, last), np.where(passes, peak_db, 0.0)
        peak_hz = np.where(passes, peak_hz, np.nan)
    return at_zero, reference, passes, low, corner, peak_db, peak_hz


def _crossing(boards: Boards, grid: Array, on_grid: Array, reference: Array, *, first: bool = False) -> Array:
    """Return the last frequency at which each board's gain falls through the corner, or the first at which it rises.

    The regula falsi on the logarithms of both, with the Illinois rule: the end that stays twice counts half
    (M. Dowell, P. Jarratt, "A modified regula falsi method", BIT 11, 1971; from memory).
    """
    threshold = reference * 10 ** (CORNER_DB / 10)
    above = on_grid > threshold[:, np.newaxis]
    before = np.argmax(above, axis=1) - 1 if first else len(grid) - 1 - np.argmax(above[:, ::-1], axis=1)
    there = np.any(above, axis=1) & (before >= 0) & (before < len(grid) - 1)
    place = np.where(there, before, 0)
    left, right = np.log(grid[place]), np.log(grid[place + 1])
    at_left, at_right = (np.log(on_grid[np.arange(len(place)), place + step] / threshold) for step in (0, 1))
    for _ in range(FALSE_POSITIONS):
        gap = np.where(at_right == at_left, 1.0, at_right - at_left)
        middle = np.where(there, right - at_right * (right - left) / gap, left)
        at_middle = np.log(boards.power(np.exp(middle)[:, np.newaxis])[:, 0] / threshold)
        turns = np.sign(at_middle) != np.sign(at_right)
        left, at_left = np.where(turns, right, left), np.where(turns, at_right, at_left / 2)
        right, at_right = middle, at_middle
        if np.max(np.abs(at_middle), initial=0.0, where=there) < CORNER_MISS:
            break
    return np.where(there, np.exp(right), np.nan)


def _peaks(boards: Boards, grid: Array, on_grid: Array, reference: Array) -> tuple[Array, Array]:
    """Return the highest rise of each board above the reference in dB, and where it is in hertz (n,): 0, NaN without.

    The steps around the highest of the grid are narrowed by thirds, and a parabola through what is left gives the top.
    """
    top = np.argmax(on_grid, axis=1)
    if not np.any(top):
        return np.zeros(len(top)), np.full(len(top), np.nan)
    low, high = np.log(grid[np.maximum(top - 1, 0)]), np.log(grid[np.minimum(top + 1, len(grid) - 1)])
    while np.max(high - low) > TOP_STEP:
        left, right = (2 * low + high) / 3, (low + 2 * high) / 3
        both = boards.power(np.exp(np.stack([left, right], axis=1)))
        is_left = both[:, 0] > both[:, 1]
        low, high = np.where(is_left, low, left), np.where(is_left, right, high)
    middle = (low + high) / 2
    three = np.log(boards.power(np.exp(np.stack([middle - TOP_STEP, middle, middle + TOP_STEP], axis=1))))
    bend = three[:, 0] - 2 * three[:, 1] + three[:, 2]
    shift = (three[:, 0] - three[:, 2]) / np.where(bend < 0.0, 2 * bend, -np.inf)
    found_hz = np.exp(middle + TOP_STEP * np.clip(shift, -1.0, 1.0))
    rise = _decibels(boards.power(found_hz[:, np.newaxis])[:, 0] / reference)
    has_peak = rise >= LEAST_PEAK_DB
    return np.where(has_peak, rise, 0.0), np.where(has_peak, found_hz, np.nan)


def _decibels(power: Array) -> Array:
    """Return squared gains in dB."""
    return np.asarray(10 * np.log10(power))


def _number(values: Array) -> float | None:
    """Return what was found for the only board, None where that is nothing."""
    return None if np.isnan(values[0]) else float(values[0])
