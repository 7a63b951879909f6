"""The output filter's response: gain over frequency, corner, peak."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq, minimize_scalar

from sublatch.circuit.networks.solver import Network, Transfer, transfer

CORNER_DB = 20 * np.log10(np.sqrt(0.5))
"""Half power, −3.0103 dB."""
LOWEST_HZ, HIGHEST_HZ, POINTS = 10.0, 20e3, 241
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

    def to_dict(self) -> dict[str, Any]:
        """Return the response as plain values for JSON."""
        return {
            "dc_gain_db": self.dc_gain_db,
            "reference_db": self.reference_db,
            "low_corner_hz": self.low_corner_hz,
            "corner_hz": self.corner_hz,
            "peak_db": self.peak_db,
            "peak_hz": self.peak_hz,
            "frequency_hz": self.frequency_hz.tolist(),
            "gain_db": self.gain_db.tolist(),
        }


def network_response(network: Network, *, frequency_hz: ArrayLike | None = None) -> Response:
    """Return the response of any network, as `response` does.

    Raises
    ------
    CircuitError
        When the network has no solution.
    """
    filter_ = transfer(network)
    if frequency_hz is None:
        frequency_hz = np.geomspace(LOWEST_HZ, HIGHEST_HZ, POINTS)
    frequency = np.atleast_1d(np.asarray(frequency_hz, dtype=float))
    audible = np.geomspace(LOWEST_HZ, HIGHEST_HZ, 2000)
    dc_db, highest_db = float(_gain_db(filter_, 0.0)), float(np.max(_gain_db(filter_, audible)))
    passes_dc = dc_db > highest_db + LEAST_DC_DB
    reference_db = dc_db if passes_dc else highest_db
    search = _search_grid(filter_) if passes_dc else audible
    rise = _gain_db(filter_, search) - reference_db
    peak_db, peak_hz = _peak(filter_, search, rise, reference_db) if passes_dc else (0.0, None)
    return Response(
        dc_gain_db=dc_db if passes_dc else None,
        reference_db=reference_db,
        low_corner_hz=None if passes_dc else _crossing(filter_, search, rise, reference_db, first=True),
        corner_hz=_crossing(filter_, search, rise, reference_db, first=False),
        peak_db=peak_db,
        peak_hz=peak_hz,
        frequency_hz=frequency,
        gain_db=_gain_db(filter_, frequency),
    )


def _gain_db(filter_: Transfer, frequency_hz: ArrayLike) -> NDArray[np.float64]:
    """Return the gain in dB."""
    gain: NDArray[np.float64] = 20 * np.log10(np.maximum(np.abs(filter_.response(frequency_hz)), 1e-15))
    return gain


def _search_grid(filter_: Transfer) -> NDArray[np.float64]:
    """Return frequencies dense enough to bracket every turn of the curve, well past all poles and zeros."""
    roots = np.abs(np.concatenate((filter_.poles, filter_.zeros))) / (2 * np.pi)
    roots = roots[roots > 0.0]
    low, high = (roots.min() / 30, roots.max() * 30) if len(roots) else (LOWEST_HZ, HIGHEST_HZ)
    return np.geomspace(low, high, 2000)


def _crossing(
    filter_: Transfer, search: NDArray[np.float64], rise: NDArray[np.float64], reference_db: float, *, first: bool
) -> float | None:
    """Return the first frequency at which the gain rises through the corner, or the last at which it falls."""
    above = np.flatnonzero(rise > CORNER_DB)
    edge = 0 if first else len(search) - 1
    if len(above) == 0 or edge in above:
        return None
    low = above[0] - 1 if first else above[-1]
    return float(
        brentq(
            lambda f: float(_gain_db(filter_, f)) - reference_db - CORNER_DB, search[low], search[low + 1], xtol=1e-9
        )
    )


def _peak(
    filter_: Transfer, search: NDArray[np.float64], rise: NDArray[np.float64], reference_db: float
) -> tuple[float, float | None]:
    """Return the highest rise above the reference, and where it is."""
    top = int(np.argmax(rise))
    if rise[top] < LEAST_PEAK_DB:
        return 0.0, None
    around = np.log(search[[max(top - 1, 0), min(top + 1, len(search) - 1)]])
    found = minimize_scalar(
        lambda x: -float(_gain_db(filter_, np.exp(x))),
        bounds=tuple(around),
        method="bounded",
        options={"xatol": 1e-9},
    )
    return float(-found.fun - reference_db), float(np.exp(found.x))
