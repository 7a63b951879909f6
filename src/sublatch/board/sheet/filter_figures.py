"""The output filter in figures: its curve and band for the picture, its corner and peak for the table."""

from __future__ import annotations

from dataclasses import dataclass

from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.components.tolerances import TRACK_SHARE, Tolerances
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.corners import Response
from sublatch.circuit.response import response
from sublatch.circuit.with_settings import with_settings
from sublatch.parts.tolerance import Wanted, spread
from sublatch.pictures.responses import Curve
from sublatch.units import format_hertz

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
    response: Response

    @property
    def corners(self) -> str:
        """The corner in words; of a filter that lets nothing through at 0 Hz, both that it has."""
        corners = [hertz for hertz in (self.response.low_corner_hz, self.response.corner_hz) if hertz is not None]
        return " and ".join(format_hertz(float(f"{hertz:.3g}")) for hertz in corners) or "none"


def response_curves(circuit: Circuit, *, name: str = "output filter") -> list[Curve]:
    """Return the response and its band for each position of the peak switch; none without an output filter.

    Parameters
    ----------
    circuit
        The circuit.
    name
        What the curve is called without a switch.

    Returns
    -------
    list of Curve
        With the tone knob as it is set.
    """
    if circuit.filter.is_wire:
        return []
    tolerances = Tolerances(CAPACITOR_SHARE, RESISTOR_SHARE, TRACK_SHARE)
    curves = []
    for peak in _peaks(circuit):
        switched = with_settings(circuit, {"switches.peak": peak})
        wanted = (Wanted(switched.tone, switched.peak, None, 0.0),)
        band = spread(switched, tolerances=tolerances, boards=BOARDS, wanted=wanted)
        curves.append(Curve(peak or name, response(switched, frequency_hz=band.frequency_hz), band))
    return curves


def filter_facts(circuit: Circuit) -> list[FilterFact]:
    """Return corner and peak at the ends and the set position of the knob, in each position of the switch."""
    if circuit.filter.is_wire:
        return []
    tones = (None,) if circuit.tone is None else tuple(sorted({0.0, circuit.tone, FULL_TURN}))
    return [
        FilterFact(
            tone, peak, response(with_settings(circuit, {"knobs.tone": tone, "switches.peak": peak}), frequency_hz=[])
        )
        for peak in _peaks(circuit)
        for tone in tones
    ]


def _peaks(circuit: Circuit) -> tuple[str | None, ...]:
    """Return the positions of the peak switch."""
    return (None,) if circuit.peak is None else ("flat", "peaked")
