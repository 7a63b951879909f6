"""The output filter's parts from its corner and peak."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
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
from sublatch.parts.mybox.contradiction import UnmetError
from sublatch.parts.mybox.facts import BoxFacts
from sublatch.parts.mybox.fitting import is_open, solved, with_fitted
from sublatch.units import format_hertz

OHMS, FARADS = (10.0, 100e6), (10e-12, 1e-3)
"""Between them a part's value is looked for."""
CORNER_SHARE, PEAK_DB = 0.01, 0.1
"""A corner or peak that is further off is not met."""


def fit_filter(circuit: Circuit, facts: BoxFacts) -> Circuit:
    """Return a circuit whose output filter has the corner and the peak that are known of it.

    Parameters
    ----------
    circuit
        From `class_circuit`.
    facts
        What is known.

    Raises
    ------
    UnmetError
        When no value of what is not known gives them.
    """
    if facts.low_hz is not None and facts.high_hz is not None:
        fitted = _swept(circuit, facts.low_hz, facts.high_hz, facts.peak_db)
    elif facts.corner_hz is not None or facts.peak_db is not None:
        fitted = _fixed(circuit, facts.corner_hz, facts.peak_db)
    else:
        return circuit
    _check(fitted, facts)
    return fitted


def filter_figures(circuit: Circuit) -> dict[str, float | None]:
    """Return what the output filter gives, by the words of `facts.FIGURES`; None for what it does not have."""
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


def _check(circuit: Circuit, facts: BoxFacts) -> None:
    """Refuse a filter that does not have the figures that are known of it."""
    got = filter_figures(circuit)
    for word, wanted in facts.stated.items():
        if word not in ("corner", "low", "high", "peak"):
            continue
        there = got.get(word)
        what = "corner" if word == "corner" else f"corner at {'0' if word == 'low' else '10'}"
        if word == "peak":
            if there is None or abs(there - wanted) > PEAK_DB:
                near = "has no peak" if not there else f"comes no nearer than {there:.2f} dB"
                raise UnmetError(f"a {circuit.filter.kind} filter with the parts known {near}, not {wanted:g} dB", _SAY)
        elif there is None:
            raise UnmetError(
                f"filter.kind = {circuit.filter.kind!r} has no corner, stated {format_hertz(wanted)}", _SAY
            )
        elif abs(log(there / wanted)) > CORNER_SHARE:
            raise UnmetError(
                f"the parts known of the output filter make its {what} {format_hertz(float(f'{there:.4g}'))}, "
                f"not {format_hertz(wanted)}",
                _SAY,
            )


_SAY = ("corner", "low", "high", "peak", "filter")
