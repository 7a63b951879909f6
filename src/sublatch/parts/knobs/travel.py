"""A knob's curve: what it sets at each position, how evenly, and which taper would be the most even."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import brentq

from sublatch.arrays import Array
from sublatch.circuit.components.controls import Pot
from sublatch.circuit.components.pots import AUDIO_MIDPOINT, FULL_TURN, Taper
from sublatch.circuit.components.sold import MIDPOINTS
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import nodal_response
from sublatch.circuit.response import response
from sublatch.circuit.signal_path import output_network
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError
from sublatch.signal.node_voltages import BUFFER
from sublatch.signal.unity import MIDBAND_HZ

HALF_STEPS = np.linspace(0.0, FULL_TURN, 21)
"""Where a knob's gain is taken: no coupling capacitor takes anything there."""
OFF_DB = -100.0
"""A knob that lets less through is off."""
USEFUL_DB = -30.0
"""A volume that is further below full is as good as off, so that how evenly it goes there does not count."""
TWITCHY = {"octaves": 2.0 / 3.0, "dB": 6.0}
"""More in one step of ten makes a knob twitchy. Common practice, no source: half an octave a step is pleasant."""
TRACKS: tuple[tuple[Taper, float], ...] = (
    ("linear", AUDIO_MIDPOINT),
    *(("log", midpoint) for midpoint in MIDPOINTS),
    *(("reverse-log", midpoint) for midpoint in MIDPOINTS),
)
"""Tapers and midpoints that pots are sold with."""


@dataclass(frozen=True, eq=False)
class KnobCurve:
    """What a knob sets over its travel.

    Attributes
    ----------
    name
        The knob.
    unit, step_unit
        Of its value and of a step: ``Hz`` and ``octaves``, or ``dB`` and ``dB``.
    taper, midpoint
        Of its pot; the midpoint counts for the log tapers only.
    position, value
        Positions every half step (21,) and the values there: the output filter's corner, or gain against the knob
        fully clockwise; NaN where the filter has no corner, or the knob is off.
    steepest_per_step, steepest_at
        Most that the value changes within one step, in `step_unit`, and where that step begins; None where there is
        no value.
    gentlest_per_step
        The least.
    """

    name: str
    unit: str
    step_unit: str
    taper: Taper
    midpoint: float
    position: Array
    value: Array
    steepest_per_step: float | None
    steepest_at: float | None
    gentlest_per_step: float | None

    @property
    def spread(self) -> float:
        """How much the steepest step and the gentlest differ, in `step_unit`."""
        if self.steepest_per_step is None or self.gentlest_per_step is None:
            return np.inf
        return self.steepest_per_step - self.gentlest_per_step

    @property
    def twitchy(self) -> bool:
        """Whether one step changes more than `TWITCHY` allows."""
        return self.steepest_per_step is not None and self.steepest_per_step > TWITCHY[self.step_unit]

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the curve by whole positions."""
        return {
            "name": self.name,
            "positions": [
                {"position": at, "value": value if np.isfinite(value) else None, "unit": self.unit}
                for at, value in zip(self.position[::2], self.value[::2], strict=True)
            ],
            "steepest_per_step": self.steepest_per_step,
            "steepest_at": self.steepest_at,
            "gentlest_per_step": self.gentlest_per_step,
            "step_unit": self.step_unit,
            "twitchy": self.twitchy,
            "taper": self.taper,
            "midpoint": None if self.taper == "linear" else self.midpoint,
        }


def taper_name(taper: Taper, midpoint: float) -> str:
    """Return a taper in words; its midpoint as shops give it, the log pot's share at half rotation."""
    return taper if taper == "linear" else f"{taper} {100 * midpoint:g} %"


def knob_names(circuit: Circuit) -> tuple[str, ...]:
    """Return the knobs that a circuit has."""
    names = ("volume", "direct") if circuit.tone is None else ("tone", "volume", "direct")
    return tuple(name for name in names if name not in (circuit.hardwired or ()))


def knob_curve(circuit: Circuit, name: str) -> KnobCurve:
    """Return what a knob sets over its travel, all other knobs and switches as they stand.

    Parameters
    ----------
    circuit
        The circuit.
    name
        ``tone``, ``volume`` or ``direct``.

    Raises
    ------
    CircuitError
        When the circuit has no such knob.

    Notes
    -----
    The steepest step is sought over every stretch of one step that begins at a whole or half position, for the
    gains within `USEFUL_DB` of full.
    """
    if name not in knob_names(circuit):
        raise CircuitError(f"{circuit.title!r} has no knob {name!r}, only {', '.join(knob_names(circuit))}")
    pot = _pot(circuit, name)
    value = _corners(circuit) if name == "tone" else _gains(circuit, name)
    unit, step_unit = ("Hz", "octaves") if name == "tone" else ("dB", "dB")
    counted = value if name == "tone" else np.where(value >= USEFUL_DB, value, np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        even = np.log2(counted) if name == "tone" else counted
    step = np.abs(even[2:] - even[:-2])
    known = np.flatnonzero(np.isfinite(step))
    steepest = int(known[np.argmax(step[known])]) if len(known) else None
    return KnobCurve(
        name=name,
        unit=unit,
        step_unit=step_unit,
        taper=pot.taper,
        midpoint=pot.midpoint,
        position=HALF_STEPS,
        value=value,
        steepest_per_step=None if steepest is None else float(step[steepest]),
        steepest_at=None if steepest is None else float(HALF_STEPS[steepest]),
        gentlest_per_step=float(np.min(step[known])) if len(known) else None,
    )


def most_even(circuit: Circuit, name: str) -> KnobCurve:
    """Return a knob's curve with the taper that makes its steps the most alike: its own, or one that is sold.

    Parameters
    ----------
    circuit
        The circuit.
    name
        As for `knob_curve`.

    Raises
    ------
    CircuitError
        As `knob_curve`.
    """
    curves = [knob_curve(circuit, name)]
    curves += [knob_curve(with_taper(circuit, name, taper, midpoint), name) for taper, midpoint in TRACKS]
    return min(curves, key=lambda curve: round(curve.spread, 6))


def position_of_corner(circuit: Circuit, corner_hz: float) -> float | None:
    """Return where the tone knob gives the output filter a corner, or None where it nowhere does.

    Parameters
    ----------
    circuit
        The circuit.
    corner_hz
        The corner, where the filter is 3.01 dB down, in hertz.

    Raises
    ------
    CircuitError
        When the circuit has no tone knob.
    """
    if circuit.tone is None:
        raise CircuitError(f"{circuit.title!r} has no tone knob that could be set to a corner; try -c gated-swept")
    corners = _corners(circuit)
    there = np.flatnonzero(np.isclose(corners, corner_hz, rtol=1e-9, atol=0.0))
    if len(there):
        return float(HALF_STEPS[there[0]])
    with np.errstate(invalid="ignore"):
        above = corners >= corner_hz
    crossed = np.flatnonzero(above[1:] != above[:-1])
    if len(crossed) == 0:
        return None
    low, high = HALF_STEPS[crossed[0]], HALF_STEPS[crossed[0] + 1]

    def miss(position: float) -> float:
        corner = _corner_hz(with_settings(circuit, {"knobs.tone": position}))
        return -corner_hz if corner is None else corner - corner_hz

    return float(brentq(miss, low, high, xtol=1e-4)) if miss(low) * miss(high) <= 0.0 else None


def with_taper(circuit: Circuit, name: str, taper: Taper, midpoint: float) -> Circuit:
    """Return a circuit whose knob has a pot of another taper and the same value."""
    new = {"taper": taper, "midpoint": midpoint}
    if name == "tone":
        return circuit.model_copy(update={"filter": circuit.filter.with_pots(new)})
    pot = "output.pot" if name == "volume" else "mix.direct_pot"
    return with_settings(circuit, {f"{pot}.{key}": value for key, value in new.items()})


def _pot(circuit: Circuit, name: str) -> Pot:
    """Return the pot that a knob turns; of several gangs the first."""
    if name == "volume":
        return circuit.output.pot
    if name == "direct":
        return circuit.mix.direct_pot
    return circuit.filter.wired.rheostats[0].pot


def _corners(circuit: Circuit) -> Array:
    """Return the output filter's corner in hertz at every half step of the tone knob, NaN where it has none."""
    corners = [_corner_hz(with_settings(circuit, {"knobs.tone": float(position)})) for position in HALF_STEPS]
    return np.array([np.nan if corner is None else corner for corner in corners])


def _corner_hz(circuit: Circuit) -> float | None:
    """Return the output filter's corner, of a high-pass the one that it has."""
    curve = response(circuit, frequency_hz=[])
    return curve.low_corner_hz if curve.corner_hz is None else curve.corner_hz


def _gains(circuit: Circuit, name: str) -> Array:
    """Return the gain of the volume or direct knob at every half step, in dB against fully clockwise."""
    source = "octave" if name == "volume" else "direct"
    at = [with_settings(circuit, {f"knobs.{name}": position}) for position in HALF_STEPS.tolist()]
    heard = [abs(nodal_response(output_network(one), MIDBAND_HZ, source=source, output=BUFFER)) for one in at]
    decibels = 20.0 * np.log10(np.array(heard, dtype=float) / heard[-1])
    return np.where(decibels < OFF_DB, np.nan, decibels)
