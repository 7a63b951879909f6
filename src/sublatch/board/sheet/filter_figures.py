"""The output filter in figures: its curve and band for the picture, its corner and peak for the table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sublatch.board.sheet.reading_limits import POT_SHARE, at
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.corners import Response
from sublatch.circuit.response import response
from sublatch.parts.tolerance import Wanted, spread
from sublatch.units import format_hertz

Band = tuple[str, NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]

CAPACITOR_SHARE, RESISTOR_SHARE = 0.05, 0.01
"""Tolerances of the filter's parts in the parts list."""
LEAST_PEAK_DB = 0.05
"""A lower peak would read 0.0 dB in the table."""
BOARDS = 2000
"""Boards that the band is drawn from."""


@dataclass(frozen=True)
class FilterFact:
    """Corner and peak at one position of knob and switch."""

    tone: float | None
    peak: str | None
    found: Response

    @property
    def corners(self) -> str:
        """The corner in words; of a filter that lets nothing through at 0 Hz, both that it has."""
        corners = [hertz for hertz in (self.found.low_corner_hz, self.found.corner_hz) if hertz is not None]
        return " and ".join(format_hertz(float(f"{hertz:.3g}")) for hertz in corners) or "none"


def bands(circuit: Circuit) -> list[Band]:
    """Return the response and its band for each position of the peak switch; none without an output filter.

    Returns
    -------
    list of tuple
        Label, frequencies in hertz (n,), and gain, 5th and 95th percentile in dB (n,), the tone knob as it is set.
    """
    if circuit.filter.is_wire:
        return []
    shown = []
    for peak in _peaks(circuit):
        one = at(circuit, peak=peak)
        wide = spread(
            one,
            capacitor_share=CAPACITOR_SHARE,
            resistor_share=RESISTOR_SHARE,
            pot_share=POT_SHARE,
            boards=BOARDS,
            wanted=(Wanted(one.tone, one.peak, None, 0.0),),
        )
        gain = response(one, frequency_hz=wide.frequency_hz).gain_db
        shown.append((peak or "output filter", wide.frequency_hz, gain, wide.low_db, wide.high_db))
    return shown


def filter_facts(circuit: Circuit) -> list[FilterFact]:
    """Return corner and peak at the ends and the set position of the knob, in each position of the switch."""
    if circuit.filter.is_wire:
        return []
    tones = (None,) if circuit.tone is None else tuple(sorted({0.0, circuit.tone, FULL_TURN}))
    return [
        FilterFact(tone, peak, response(at(circuit, tone=tone, peak=peak), frequency_hz=[]))
        for peak in _peaks(circuit)
        for tone in tones
    ]


def _peaks(circuit: Circuit) -> tuple[str | None, ...]:
    """Return the positions of the peak switch."""
    return (None,) if circuit.peak is None else ("flat", "peaked")
