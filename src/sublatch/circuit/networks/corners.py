"""The output filter's response: gain over frequency, and for one board or many alike corners and peaks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sublatch.circuit.networks.solver import Network, Transfer, transfer

Array = NDArray[np.float64]
Power = Callable[[Array], Array]
"""Squared gains of n boards (n, k) at frequencies in hertz, common (k,) or each board's own (n, k)."""

CORNER_DB = 20 * np.log10(np.sqrt(0.5))
"""Half power, −3.0103 dB."""
LOWEST_HZ, HIGHEST_HZ, POINTS = 10.0, 20e3, 241
GRID = 2000
"""Frequencies on which one filter's corners and peak are bracketed."""
FALSE_POSITIONS, CORNER_MISS = 20, 1e-14
"""Most steps from there to a corner, and how little the squared gain there may be off, as a share, for none more."""
TOP_STEP = 5e-4
"""How near a peak is searched for step by step, and half the width of the parabola through its top; a share."""
LEAST_GAIN = 1e-15
"""A lower gain is none."""
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
    frequency_hz: NDArray[np.float64]
    gain_db: NDArray[np.float64]


def network_response(network: Network, *, frequency_hz: ArrayLike | None = None) -> Response:
    """Return the response of any network, as `response` does.

    Raises
    ------
    CircuitError
        When the network has no solution.
    """
    filter_ = transfer(network)

    def power(hertz: Array) -> Array:
        return np.atleast_2d(np.maximum(np.abs(filter_.response(hertz)), LEAST_GAIN) ** 2)

    if frequency_hz is None:
        frequency_hz = np.geomspace(LOWEST_HZ, HIGHEST_HZ, POINTS)
    frequency = np.atleast_1d(np.asarray(frequency_hz, dtype=float))
    audible = np.geomspace(LOWEST_HZ, HIGHEST_HZ, GRID)
    at_zero, highest = power(np.zeros(1))[:, 0], np.max(power(audible), axis=1)
    has_dc = bool(passes_dc(at_zero, highest)[0])
    reference = at_zero if has_dc else highest
    grid = _search_grid(filter_) if has_dc else audible
    on_grid = power(grid)
    peak_db, peak_hz = peaks(power, grid, on_grid, reference) if has_dc else (np.zeros(1), np.full(1, np.nan))
    return Response(
        dc_gain_db=float(_decibels(at_zero)[0]) if has_dc else None,
        reference_db=float(_decibels(reference)[0]),
        low_corner_hz=None if has_dc else _number(crossing(power, grid, on_grid, reference, first=True)),
        corner_hz=_number(crossing(power, grid, on_grid, reference, first=False)),
        peak_db=float(peak_db[0]),
        peak_hz=_number(peak_hz),
        frequency_hz=frequency,
        gain_db=_decibels(power(frequency)[0]),
    )


def passes_dc(at_zero: Array, highest: Array) -> NDArray[np.bool_]:
    """Return which boards have a gain at zero frequency to speak of, from squared gains there and at the highest."""
    passes: NDArray[np.bool_] = at_zero > highest * 10 ** (LEAST_DC_DB / 10)
    return passes


def crossing(power: Power, grid: Array, on_grid: Array, reference: Array, *, first: bool) -> Array:
    """Return the first frequency at which each board's gain rises through the corner, or the last at which it falls.

    Parameters
    ----------
    power
        Squared gains of n boards at frequencies in hertz that are common (k,) or their own (n, k): (n, k).
    grid, on_grid
        Frequencies (k,) in even steps of pitch, dense enough to bracket every turn, and the squared gains there (n, k).
    reference
        What the corner is counted from: a squared gain (n,).
    first
        Which of them.

    Returns
    -------
    ndarray
        In hertz (n,); NaN on a board that has none on the grid.

    Notes
    -----
    The regula falsi on the logarithms of both, with the Illinois rule: the end that stays twice counts half
    (M. Dowell, P. Jarratt, "A modified regula falsi method", BIT 11, 1971; from memory).
    """
    threshold = reference * 10 ** (CORNER_DB / 10)
    above = on_grid > threshold[:, np.newaxis]
    before = np.argmax(above, axis=1) - 1 if first else len(grid) - 1 - np.argmax(above[:, ::-1], axis=1)
    there = np.any(above, axis=1) & (before >= 0) & (before < len(grid) - 1)
    boards, place = np.arange(len(on_grid)), np.where(there, before, 0)
    left, right = np.log(grid[place]), np.log(grid[place + 1])
    at_left, at_right = (np.log(on_grid[boards, place + step] / threshold) for step in (0, 1))
    for _ in range(FALSE_POSITIONS):
        gap = np.where(at_right == at_left, 1.0, at_right - at_left)
        middle = right - at_right * (right - left) / gap
        at_middle = np.log(power(np.exp(middle)[:, np.newaxis])[:, 0] / threshold)
        turns = np.sign(at_middle) != np.sign(at_right)
        left, at_left = np.where(turns, right, left), np.where(turns, at_right, at_left / 2)
        right, at_right = middle, at_middle
        if np.max(np.abs(at_middle), initial=0.0, where=there) < CORNER_MISS:
            break
    found: Array = np.where(there, np.exp(right), np.nan)
    return found


def peaks(power: Power, grid: Array, on_grid: Array, reference: Array) -> tuple[Array, Array]:
    """Return the highest rise of each board above the reference in dB, and where it is in hertz (n,): 0, NaN without.

    Parameters
    ----------
    power, grid, on_grid, reference
        As for `crossing`.

    Notes
    -----
    The steps around the highest of the grid are narrowed by thirds, and a parabola through what is left gives the top.
    """
    top = np.argmax(on_grid, axis=1)
    if not np.any(top):
        return np.zeros(len(top)), np.full(len(top), np.nan)
    low, high = np.log(grid[np.maximum(top - 1, 0)]), np.log(grid[np.minimum(top + 1, len(grid) - 1)])
    while np.max(high - low) > TOP_STEP:
        left, right = (2 * low + high) / 3, (low + 2 * high) / 3
        both = power(np.exp(np.stack([left, right], axis=1)))
        is_left = both[:, 0] > both[:, 1]
        low, high = np.where(is_left, low, left), np.where(is_left, right, high)
    middle = (low + high) / 2
    three = np.log(power(np.exp(np.stack([middle - TOP_STEP, middle, middle + TOP_STEP], axis=1))))
    bend = three[:, 0] - 2 * three[:, 1] + three[:, 2]
    shift = (three[:, 0] - three[:, 2]) / np.where(bend < 0.0, 2 * bend, -np.inf)
    found_hz = np.exp(middle + TOP_STEP * np.clip(shift, -1.0, 1.0))
    rise = _decibels(power(found_hz[:, np.newaxis])[:, 0] / reference)
    has_peak = rise >= LEAST_PEAK_DB
    return np.where(has_peak, rise, 0.0), np.where(has_peak, found_hz, np.nan)


def _decibels(power: Array) -> Array:
    """Return squared gains in dB."""
    decibels: Array = 10 * np.log10(power)
    return decibels


def _number(found: Array) -> float | None:
    """Return what was found for the only board, None where that is nothing."""
    return None if np.isnan(found[0]) else float(found[0])


def _search_grid(filter_: Transfer) -> Array:
    """Return frequencies dense enough to bracket every turn of the curve, well past all poles and zeros."""
    roots = np.abs(np.concatenate((filter_.poles, filter_.zeros))) / (2 * np.pi)
    roots = roots[roots > 0.0]
    low, high = (roots.min() / 30, roots.max() * 30) if len(roots) else (LOWEST_HZ, HIGHEST_HZ)
    return np.geomspace(low, high, GRID)
