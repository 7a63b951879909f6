"""The output filter's parts from its corner and peak."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import log
from typing import Any

import numpy as np

from sublatch.arrays import Array
from sublatch.circuit.components.controls import PEAKS, Peak
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.filters.kinds import kind_named
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.corners import Response
from sublatch.circuit.response import response
from sublatch.circuit.with_settings import with_settings
from sublatch.parts.choose.curves import FLAT_Q, q_of_peak, second_order_corner
from sublatch.parts.fit.fitting import UnmetError, is_open, solved, with_fitted
from sublatch.units import format_hertz

OHMS, FARADS = (10.0, 100e6), (10e-12, 1e-3)
"""Between them a part's value is looked for."""
CORNER_SHARE, PEAK_DB = 0.01, 0.1
"""A corner or peak that is further off is not met."""
PARTS_SHARE = 0.11
"""By so much a corner is off where a resistor of 5 % and a capacitor of 10 % are."""
INVOLVED_IN_FILTER = ("corner", "low", "high", "peak", "filter")


@dataclass(frozen=True)
class WantedFilter:
    """What an output filter shall do; None for what is left as it is.

    Attributes
    ----------
    corner_hz
        Its corner, 3.01 dB down, of a filter without a tone knob.
    low_hz, high_hz
        Its corner with the tone knob at 0 and at 10, both or neither.
    peak_db
        Its peak, where a peak switch is, with it at peaked.
    """

    corner_hz: float | None = None
    low_hz: float | None = None
    high_hz: float | None = None
    peak_db: float | None = None


def fit_filter(circuit: Circuit, wanted: WantedFilter) -> Circuit:
    """Return a circuit whose output filter has the corner and the peak that are wanted.

    Parameters
    ----------
    circuit
        The circuit; only parts that are marked as assumed are fitted.
    wanted
        What its filter shall do.

    Raises
    ------
    UnmetError
        When no value of those parts gives it.
    """
    if wanted.low_hz is not None and wanted.high_hz is not None:
        fitted = _swept(circuit, wanted.low_hz, wanted.high_hz, wanted.peak_db)
    elif wanted.corner_hz is not None or wanted.peak_db is not None:
        fitted = _fixed(circuit, wanted.corner_hz, wanted.peak_db)
    else:
        return circuit
    _check(fitted, wanted)
    return fitted


def filter_figures(circuit: Circuit) -> dict[str, float | None]:
    """Return what the output filter gives, by name; None for what it does not have."""
    if circuit.tone is None:
        here = response(circuit, frequency_hz=[])
        return {"corner": here.corner_hz, "peak": here.peak_db}
    low, high = (_at(circuit, tone, circuit.filter.peaks[0]) for tone in (0.0, FULL_TURN))
    peaked = _at(circuit, FULL_TURN, circuit.filter.peaks[-1])
    return {"low": low.corner_hz, "high": high.corner_hz, "peak": peaked.peak_db}


def _at(circuit: Circuit, tone: float, peak: Peak | None) -> Response:
    """Return the filter's response at a position of its controls."""
    return response(with_settings(circuit, {"knobs.tone": tone, "switches.peak": peak}), frequency_hz=[])


def _fixed(circuit: Circuit, corner_hz: float | None, peak_db: float | None) -> Circuit:
    """Return a circuit whose filter without controls has a corner and a peak, as near as its parts go."""
    parts = {f"filter.{name}": value for name, value in circuit.filter if isinstance(value, float)}
    resistors = [path for path in parts if path.endswith("resistor") and is_open(circuit, path)]
    capacitors = [path for path in parts if path.endswith("capacitor") and is_open(circuit, path)]
    moved = resistors or capacitors
    wants_peak = bool(peak_db) and bool(capacitors) and circuit.filter.kind == "second-order"
    if not moved:
        return circuit

    def with_scales(scales: Sequence[float]) -> Circuit:
        values = {path: parts[path] * scales[0] for path in moved} if corner_hz is not None else {}
        for path in capacitors if wants_peak else []:
            ratio = scales[-1] if path.endswith("feedback_capacitor") else 1.0 / scales[-1]
            values[path] = values.get(path, parts[path]) * ratio
        return with_fitted(circuit, values)

    def misses(scales: Sequence[float]) -> list[float]:
        here = response(with_scales(scales), frequency_hz=[])
        off = [] if corner_hz is None else [log((here.corner_hz or 1e-3) / corner_hz)]
        return [*off, here.peak_db - (peak_db or 0.0)] if wants_peak else off

    bounds = [_scales(parts[path] for path in moved)] if corner_hz is not None else []
    bounds += [(0.03, 30.0)] if wants_peak else []
    start = [(response(circuit, frequency_hz=[]).corner_hz or corner_hz) / corner_hz] if corner_hz is not None else []
    start += [2.0] * wants_peak  # all resistors together move the corner as 1 / R
    if not bounds:
        return circuit
    scales = solved(misses, start, bounds)
    return with_scales(scales)


def _scales(values: Iterable[float]) -> tuple[float, float]:
    """Return by how much values may be scaled and still be parts."""
    numbers = np.array(list(values))
    low, high = FARADS if numbers[0] < 1.0 else OHMS
    return float(low / numbers.min()), float(high / numbers.max())


def _swept(circuit: Circuit, low_hz: float, high_hz: float, peak_db: float | None) -> Circuit:
    """Return a circuit whose swept filter has its corners at both ends of the tone knob, and its peak.

    Notes
    -----
    Resistance moves the corner as 1 / R and nothing else, so that (track + end) / end is high / low, where a start
    resistor counts as part of the track. The two capacitors of each position of the switch then follow from corner and
    Q there.
    """
    made: Any = circuit.filter
    track_ohm, end_ohm, ratio = _track_ohm(made), made.end_resistor, high_hz / low_hz
    if is_open(circuit, "filter.end_resistor"):
        end_ohm = min(max(track_ohm / (ratio - 1.0), OHMS[0]), OHMS[1])
        circuit = with_fitted(circuit, {"filter.end_resistor": end_ohm})
    elif is_open(circuit, "filter.pot.value") and made.start_resistor is None:
        track_ohm = min(max(end_ohm * (ratio - 1.0), OHMS[0]), OHMS[1])
        circuit = with_fitted(circuit, {"filter.pot.value": track_ohm})
    wanted: tuple[float | None, ...] = (FLAT_Q, None if peak_db is None else q_of_peak(peak_db))
    for peak, q in zip(PEAKS, wanted, strict=True):
        q = _own_q(made, peak) if q is None else q
        circuit = _capacitors(circuit, peak, high_hz / float(second_order_corner(q)), q, end_ohm)
    return circuit


def _track_ohm(made: Any) -> float:
    """Return the track of a swept filter's gang with its start resistor, where it has one."""
    track = float(made.pot.value)
    return track if made.start_resistor is None else track * made.start_resistor / (track + made.start_resistor)


def _own_q(made: Any, peak: Peak) -> float:
    """Return the Q that a swept filter's own capacitors give in a position of the switch."""
    names = kind_named(made.kind).swept_search.capacitors
    return _natural_and_q(made, {name: getattr(made, name).at(peak) for name in names}, 10e3)[1]


def _natural_and_q(made: Any, farads: Mapping[str, float], ohm: float) -> tuple[float, float]:
    """Return natural frequency and Q of a swept filter with these capacitors and this resistance of each gang."""
    values: dict[str, Array] = {name: np.array([value]) for name, value in made if isinstance(value, float)}
    values |= {name: np.array([value]) for name, value in farads.items()}
    gang = np.array([ohm])
    hertz, q = kind_named(made.kind).swept_search.natural_and_q(gang, gang, values)
    return float(hertz[0]), float(q[0])


def _capacitors(circuit: Circuit, peak: Peak, natural_hz: float, q: float, ohm: float) -> Circuit:
    """Return a circuit with the capacitors of a position of the switch fitted, those of them that are open."""
    made: Any = circuit.filter
    old = {name: float(getattr(made, name).at(peak)) for name in kind_named(made.kind).swept_search.capacitors}
    unknown = [name for name in old if is_open(circuit, f"filter.{name}.{peak}")]
    if not unknown:
        return circuit

    def misses(farads: Sequence[float]) -> list[float]:
        hertz, quality = _natural_and_q(made, {**old, **dict(zip(unknown, farads, strict=True))}, ohm)
        return [log(hertz / natural_hz), log(quality / q)][: len(unknown)]

    farads = solved(misses, [old[name] for name in unknown], [FARADS] * len(unknown))
    return with_fitted(circuit, {f"filter.{name}.{peak}": farad for name, farad in zip(unknown, farads, strict=True)})


def _check(circuit: Circuit, wanted: WantedFilter) -> None:
    """Refuse a filter that does not have the figures that are wanted."""
    got, most = filter_figures(circuit), PARTS_SHARE if _is_read(circuit) else CORNER_SHARE
    corners = {"corner": wanted.corner_hz, "low": wanted.low_hz, "high": wanted.high_hz}
    for name, corner_hz in corners.items():
        there = got.get(name)
        if corner_hz is None:
            continue
        if there is None:
            text = f"a filter of kind {circuit.filter.kind!r} has no corner, wanted is {format_hertz(corner_hz)}"
            raise UnmetError(text, INVOLVED_IN_FILTER)
        if abs(log(there / corner_hz)) > most:
            where = {"corner": "corner", "low": "corner at 0", "high": "corner at 10"}[name]
            near = format_hertz(float(f"{there:.4g}"))
            text = f"the output filter's parts make its {where} {near}, not {format_hertz(corner_hz)}"
            raise UnmetError(text, INVOLVED_IN_FILTER)
    peak_db = got.get("peak")
    if wanted.peak_db is not None and (peak_db is None or abs(peak_db - wanted.peak_db) > PEAK_DB):
        near = f"comes no nearer than {peak_db:.2f} dB" if peak_db else "has no peak"
        text = f"a {circuit.filter.kind} filter with these parts {near}, not {wanted.peak_db:g} dB"
        raise UnmetError(text, INVOLVED_IN_FILTER)


def _is_read(circuit: Circuit) -> bool:
    """Return whether all parts of the output filter are known, so that it is as exact as parts are made."""
    marks = {mark for path, mark in circuit.origins.items() if path.startswith("filter.")}
    return marks == {"known"}
