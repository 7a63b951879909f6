"""Settings that give a circuit a meaning: a corner in hertz, a peak in dB, unity at a position of the volume knob."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sublatch import units
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.model import Circuit
from sublatch.circuit.origins import Origin, markable_paths
from sublatch.circuit.response import response
from sublatch.circuit.save import settings_of
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError, UnitError
from sublatch.parts.fit.filter_parts import WantedFilter, filter_figures, fit_filter
from sublatch.parts.fit.fitting import UnmetError
from sublatch.parts.knobs.travel import position_of_corner
from sublatch.parts.knobs.trim import trim
from sublatch.signal.chain import output_sources
from sublatch.signal.unity import tone_take
from sublatch.units import format_hertz

MEANINGS = ("corner", "peak", "unity")
"""What can be wanted of a circuit, in place of a part's value: by which word."""
ORDER = {"peak": 0, "corner": 1, "unity": 2}
"""In which order several are found: each on the circuit that the ones before have changed."""


def settings_for(circuit: Circuit, wanted: Mapping[str, Any]) -> dict[str, Any]:
    """Return the settings by which a circuit has what is wanted of it.

    Parameters
    ----------
    circuit
        The circuit, its controls where they stand; a volume at unity stays there.
    wanted
        Values by meaning: ``corner`` in hertz, ``peak`` in dB, ``unity`` as a position of the volume knob, as texts or
        numbers.

    Returns
    -------
    dict
        By dotted path, values as the trade writes them, in four digits; they need not be sold ones.

    Raises
    ------
    CircuitError
        When a value is none, or the circuit cannot be brought there; it names the nearest that works.

    Notes
    -----
    The corner is set with the tone knob, where there is one, else by the filter's resistors. The peak is made by the
    capacitors of the peaked position, with the switch there, or by those of a filter without one, its corner kept.
    Unity is put in its place by the trim resistor, with a tone; where gain is missing for that, by the buffer's gain.
    """
    settings: dict[str, Any] = {}
    for meaning in sorted(wanted, key=ORDER.__getitem__):
        found = _FINDERS[meaning](with_settings(circuit, settings), _number(meaning, wanted[meaning]))
        settings |= found
    texts = settings_of(with_settings(circuit, settings))
    return {path: _text(path, value, texts) for path, value in settings.items()}


def _number(meaning: str, value: Any) -> float:
    """Return a meaning's value as a number."""
    try:
        if meaning == "unity":
            return float(value)
        return units.hertz(value) if meaning == "corner" else units.decibels(value)
    except UnitError as problem:
        raise CircuitError(f"{meaning}: {problem}") from None
    except ValueError:
        raise CircuitError(f"{meaning} must be a position from 0 to 10, got {value!r}") from None


def _text(path: str, value: Any, texts: Mapping[str, Any]) -> Any:
    """Return a setting as a plan has it: a position as a number, a part as the trade writes it."""
    if value is None:
        return "none"
    return value if path.startswith("knobs.") else texts[path].text


def _corner(circuit: Circuit, corner_hz: float) -> dict[str, Any]:
    """Return where the tone knob, or the filter's resistors, give the output filter a corner."""
    if circuit.tone is None:
        return _fitted(circuit, WantedFilter(corner_hz=corner_hz, peak_db=_own_peak_db(circuit)), "resistor")
    position = position_of_corner(circuit, corner_hz)
    if position is None:
        low, high = (_corner_at(circuit, tone) for tone in (0.0, FULL_TURN))
        raise CircuitError(f"the tone knob sweeps the corner from {low} to {high}, not to {format_hertz(corner_hz)}")
    return {"knobs.tone": round(position, 3)}


def _corner_at(circuit: Circuit, tone: float) -> str:
    """Return the corner at a position of the tone knob, in words."""
    corner = response(with_settings(circuit, {"knobs.tone": tone}), frequency_hz=[]).corner_hz
    return "none" if corner is None else format_hertz(float(f"{corner:.3g}"))


def _own_peak_db(circuit: Circuit) -> float | None:
    """Return the peak of a filter that may have one; None of one that never has."""
    peak = filter_figures(circuit)["peak"]
    return peak if peak and circuit.filter.kind == "second-order" else None


def _peak(circuit: Circuit, peak_db: float) -> dict[str, Any]:
    """Return the capacitors that give the output filter a peak, with the peak switch at peaked where there is one."""
    if not 0.0 <= peak_db <= 24.0:
        raise CircuitError(f"peak must be 0 to 24 dB, got {peak_db:g}")
    figures = filter_figures(circuit)
    if circuit.peak is None:
        if circuit.tone is not None:
            raise CircuitError("peak is for a filter with a peak switch, or without knob and switch")
        return _fitted(circuit, WantedFilter(corner_hz=figures["corner"], peak_db=peak_db), "")
    wanted = WantedFilter(low_hz=figures["low"], high_hz=figures["high"], peak_db=peak_db)
    peaked = _fitted(circuit, wanted, "_capacitor.peaked")
    flat = {path.replace(".peaked", ".flat"): _value(circuit, path.replace(".peaked", ".flat")) for path in peaked}
    return {**flat, **peaked, "switches.peak": "peaked"}


def _fitted(circuit: Circuit, wanted: WantedFilter, ending: str) -> dict[str, Any]:
    """Return the filter's settings, of those with an ending, that give it what is wanted."""
    paths = [path for path in markable_paths(circuit) if path.startswith("filter.") and path.endswith(ending)]
    marks: dict[str, Origin] = dict.fromkeys(paths, "assumed")
    try:
        fitted = fit_filter(circuit.model_copy(update={"origins": marks}), wanted)
    except UnmetError as problem:
        raise CircuitError(problem.text) from None
    changed = [path for path, mark in fitted.origins.items() if mark == "fitted"]
    values = {path: _value(fitted, path) for path in changed}
    return {path: float(f"{value:.4g}") if isinstance(value, float) else value for path, value in values.items()}


def _value(circuit: Circuit, path: str) -> Any:
    """Return the value at a dotted path."""
    value: Any = circuit
    for step in path.split("."):
        value = getattr(value, step)
    return value


def _unity(circuit: Circuit, position: float) -> dict[str, Any]:
    """Return the trim resistor, or the gain, that puts unity at a position of the volume knob."""
    at = {"knobs.volume": position}
    source = output_sources(tone_take(), with_settings(circuit, at))
    found = trim(source, with_settings(circuit, at), position=position, measure="rms")
    if found.possible:
        exact = None if found.resistor_ohm is None else found.exact_ohm
        return {"output.trim_resistor": None if exact is None else float(f"{exact:.4g}"), **at}
    if found.missing_db is None or found.ground_resistor_ohm is None:
        without = "beyond 10" if found.position is None else f"at {found.position:.2f}"
        raise CircuitError(f"the output buffer has no gain that puts unity at {position:g}; as it is, it is {without}")
    output = circuit.output
    gain = (1.0 + output.feedback_resistor / output.ground_resistor) * 10.0 ** (found.missing_db / 20.0)
    ohm = output.feedback_resistor / (gain - 1.0)
    return {"output.trim_resistor": None, "output.ground_resistor": float(f"{ohm:.4g}"), **at}


_FINDERS = {"corner": _corner, "peak": _peak, "unity": _unity}
