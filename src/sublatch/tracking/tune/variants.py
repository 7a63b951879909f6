"""What a builder can change in a detector, over values that are sold: E12 capacitors, E24 resistors."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import pi, sqrt
from typing import Any

import numpy as np

from sublatch.checked import Checked, Unit
from sublatch.circuit.components import preferred
from sublatch.circuit.components.sold import MOST_FARAD, USUAL_CAPACITORS, USUAL_RESISTORS
from sublatch.circuit.detectors.base import DetectorKind
from sublatch.circuit.filters.first_order import FirstOrder
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.filters.second_order import SecondOrder
from sublatch.circuit.filters.third_order import ThirdOrder
from sublatch.circuit.model import Circuit, detector_kinds
from sublatch.circuit.networks.solver import transfer

Settings = dict[str, Any]
Random = np.random.Generator

FRACTION_STEP, FRACTIONS = 0.05, (0.1, 0.95)
TRIED = {
    "Ω": (USUAL_RESISTORS, (1e3, 1e6)),
    "F": (USUAL_CAPACITORS, (1e-9, MOST_FARAD)),
    "V": ("E12", (5e-4, 20e-3)),
}
"""By unit: along which series a value moves, and the least and most that is tried; the least volts are a good
comparator's own offset."""
CORNERS_HZ = (25.0, 400.0)
"""Least and most corner of a low-pass that is put in another's place."""
USUAL_CORNER_HZ = 100.0
"""Where the low-pass in place has no corner."""
_OTHER = {"positive": "negative", "negative": "positive", "normal": "inverted", "inverted": "normal"}


def starting_points(circuit: Circuit) -> Iterator[Circuit]:
    """Give the circuit, and each kind of detector with its own values, with both polarities of drive and rectifier."""
    for kind in (None, *detector_kinds()):
        for drive in (circuit.switches.drive, _OTHER[circuit.switches.drive]):
            settings = circuit.model_dump()
            settings["switches"]["drive"] = drive
            if kind is not None:
                settings["detector"] = _of_kind(settings["detector"], kind)
            made = Circuit.model_validate(settings)
            yield made
            rectifier = made.detector.front.rectifier
            if kind is not None and rectifier is not None and rectifier.sign_setting is not None:
                table, key = _inside(settings["detector"], rectifier.sign_setting)
                table[key] = _OTHER[table[key]]
                yield Circuit.model_validate(settings)


def sort_of(circuit: Circuit) -> tuple[str, int]:
    """Return what `moved` leaves as it is: the kind of detector, and the sign of its rectifier, 0 without one."""
    detector = circuit.detector
    rectifier = detector.front.rectifier
    return detector.kind, 0 if rectifier is None else rectifier.sign


def moved(circuit: Circuit, rng: Random, *, reach: float) -> Circuit:
    """Return the circuit with one to a few things changed at random, the sort of detector left as it is.

    Parameters
    ----------
    circuit
        The circuit.
    rng
        Where chance comes from.
    reach
        How many steps of its series a value moves, on average.
    """
    settings = circuit.model_dump()
    for _ in range(rng.geometric(0.5)):
        moves = list(_moves(settings))
        moves[rng.integers(len(moves))](settings, rng, reach)
    return Circuit.model_validate(settings)


def _moves(settings: Settings) -> Iterator[Callable[[Settings, Random, float], None]]:
    """Give everything that can be changed in these settings."""
    detector = settings["detector"]
    yield from (_turn_over, _other_order)
    kind = detector_kinds()[detector["kind"]]
    for path in ("filter", "filter", *kind.tuned):
        table, key = _inside(detector, path)
        if not isinstance(table[key], dict):
            yield _move_value(kind, path)
        elif _resistors(table[key]):
            yield _move_filter(path)


def _turn_over(settings: Settings, rng: Random, reach: float) -> None:
    """Turn the drive's polarity over."""
    settings["switches"]["drive"] = _OTHER[settings["switches"]["drive"]]


def _other_order(settings: Settings, rng: Random, reach: float) -> None:
    """Put a Butterworth low-pass of some order in, at the corner of the one in place."""
    corner = _corner_hz(Circuit.model_validate(settings).detector.filter)
    settings["detector"]["filter"] = butterworth(int(rng.integers(1, 4)), corner).model_dump()


def _of_kind(detector: Settings, kind: str) -> Settings:
    """Return the settings of another kind of detector, as a changed ``detector.kind`` would bring them."""
    if detector["kind"] == kind:
        return detector
    kinds = detector_kinds()
    new: Settings = kinds[kind]().model_dump()
    if not (kinds[kind].stands_alone or kinds[detector["kind"]].stands_alone):
        new.update({key: value for key, value in detector.items() if key in new and key != "kind"})
    return new


def butterworth(order: int, corner_hz: float) -> Filter:
    """Return a Butterworth low-pass of order 1 to 3 of parts that are sold, near a corner in hertz."""
    corner = float(np.clip(corner_hz, *CORNERS_HZ))
    if order == 1:
        return FirstOrder(resistor=_series_ohm(corner, 100e-9), capacitor=100e-9)
    if order == 2:
        ohm = _series_ohm(corner, sqrt(33e-9 * 68e-9))
        return SecondOrder(first_resistor=ohm, second_resistor=ohm, ground_capacitor=33e-9, feedback_capacitor=68e-9)
    ohm = _series_ohm(corner, 47e-9 / 1.3926)
    return ThirdOrder(
        first_resistor=ohm,
        second_resistor=ohm,
        third_resistor=ohm,
        first_ground_capacitor=47e-9,
        feedback_capacitor=120e-9,
        second_ground_capacitor=6.8e-9,
    )


def _series_ohm(corner_hz: float, farad: float) -> float:
    """Return the resistor that is sold nearest to 1 / (2π f C)."""
    return preferred.nearest(1.0 / (2 * pi * corner_hz * farad), USUAL_RESISTORS)


def _corner_hz(filter_: Filter) -> float:
    """Return a low-pass's corner in hertz, near enough to begin from, or a usual one."""
    frequency = np.geomspace(CORNERS_HZ[0] / 2, CORNERS_HZ[1] * 2, 200)
    gain = np.abs(transfer(filter_.network(tone=None, peak=None)).response(np.concatenate(([0.0], frequency))))
    above = np.flatnonzero(gain[1:] > gain[0] * np.sqrt(0.5))
    return USUAL_CORNER_HZ if len(above) in {0, len(frequency)} else float(frequency[above[-1]])


def _move_value(kind: type[DetectorKind], path: str) -> Callable[[Settings, Random, float], None]:
    """Return what moves one value: along the series and within the limits of its unit, a share by whole steps."""
    unit = _unit(kind, path)

    def move(settings: Settings, rng: Random, reach: float) -> None:
        table, key = _inside(settings["detector"], path)
        if unit is None:
            wanted = table[key] + FRACTION_STEP * _steps(rng, reach / 2)
            table[key] = round(float(np.clip(wanted, *FRACTIONS)), 4)
        else:
            table[key] = _along(table[key], _steps(rng, reach), *TRIED[unit])

    return move


def _move_filter(path: str) -> Callable[[Settings, Random, float], None]:
    """Return what moves all resistors of a filter together, and so its corner."""

    def move(settings: Settings, rng: Random, reach: float) -> None:
        table, key = _inside(settings["detector"], path)
        count = _steps(rng, reach)
        for name in _resistors(table[key]):
            table[key][name] = _along(table[key][name], count, *TRIED["Ω"])

    return move


def _inside(settings: Settings, path: str) -> tuple[Settings, str]:
    """Return the table that a dotted path leads to, and the key in it."""
    *steps, key = path.split(".")
    for step in steps:
        settings = settings[step]
    return settings, key


def _unit(kind: type[Checked], path: str) -> str | None:
    """Return the unit of a setting of a kind of detector; None of a share."""
    step, _, rest = path.partition(".")
    field = kind.model_fields[step]
    if rest:
        record = field.annotation
        assert isinstance(record, type)
        assert issubclass(record, Checked)
        return _unit(record, rest)
    return next((part.symbol for part in field.metadata if isinstance(part, Unit)), None)


def _resistors(filter_: Settings) -> list[str]:
    """Return the names of a ready-made filter's resistors."""
    return [key for key in filter_ if "resistor" in key]


def _steps(rng: Random, reach: float) -> int:
    """Return how far to move, up or down, never 0."""
    return int(rng.geometric(1.0 / max(reach, 1.0)) * rng.choice((-1, 1)))


def _along(value: float, count: int, series: str, limits: tuple[float, float]) -> float:
    """Return the value so many places along its series, within limits that the value itself may lie beyond."""
    step = preferred.above if count > 0 else preferred.below
    for _ in range(abs(count)):
        further = step(value, series)
        if (further > limits[1]) if count > 0 else (further < limits[0]):
            break
        value = further
    return value
