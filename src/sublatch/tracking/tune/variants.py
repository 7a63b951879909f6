"""What a builder can change in a detector, over values that are sold: E12 capacitors, E24 resistors."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from math import pi, sqrt
from typing import Any
from zlib import crc32

import numpy as np

from sublatch.circuit.components import preferred
from sublatch.circuit.detectors.kinds import Overtone, PeakLatch, ZeroCrossing
from sublatch.circuit.filters.first_order import FirstOrder
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.filters.second_order import SecondOrder
from sublatch.circuit.filters.third_order import ThirdOrder
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import transfer

Settings = dict[str, Any]
Random = np.random.Generator

KINDS = {"zero-crossing": ZeroCrossing, "peak-latch": PeakLatch, "overtone": Overtone}
OWN_FILTER = {"overtone"}
"""Kinds whose low-pass suits no other."""
FRACTION_STEP, FRACTIONS = 0.05, (0.1, 0.95)
RESISTORS_OHM = (1e3, 1e6)
CAPACITORS_F = (1e-9, 1e-6)
THRESHOLDS_V = (5e-4, 20e-3)
"""Least and most that is tried; the least is a good comparator's own offset."""
CORNERS_HZ = (25.0, 400.0)
"""Least and most corner of a low-pass that is put in another's place."""
USUAL_CORNER_HZ = 100.0
"""Where the low-pass in place has no corner."""
_OTHER = {"positive": "negative", "negative": "positive", "normal": "inverted", "inverted": "normal"}
PART_WORDS = ("resistor", "capacitor", "coupling")


def starting_points(circuit: Circuit) -> Iterator[Circuit]:
    """Give the circuit, and each kind of detector with its own values, with both polarities of drive and rectifier."""
    for kind in (None, *KINDS):
        for drive in (circuit.switches.drive, _OTHER[circuit.switches.drive]):
            settings = circuit.model_dump()
            settings["switches"]["drive"] = drive
            if kind is not None:
                settings["detector"] = _of_kind(settings["detector"], kind)
            yield Circuit.model_validate(settings)
            if kind == "overtone":
                settings["detector"]["band"]["rectifier"] = _OTHER[settings["detector"]["band"]["rectifier"]]
                yield Circuit.model_validate(settings)


def sort_of(circuit: Circuit) -> tuple[str, str]:
    """Return what `moved` leaves as it is: the kind of detector, and which way round its rectifier is."""
    detector = circuit.detector
    return detector.kind, detector.band.rectifier if isinstance(detector, Overtone) else ""


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


def with_other_parts(circuit: Circuit, *, off: float, variant: int) -> Circuit:
    """Return the circuit with every resistor and capacitor of its detector a share `off` too large or too small.

    Which of the two follows from the part's name and from `variant`, so that all circuits meet the same luck.
    """
    settings = circuit.model_dump()
    for path, table, key in list(_parts(settings["detector"])):
        table[key] *= 1.0 + off * (1 if crc32(f"{variant}{path}".encode()) & 64 else -1)
    return Circuit.model_validate(settings)


def _moves(settings: Settings) -> Iterator[Callable[[Settings, Random, float], None]]:
    """Give everything that can be changed in these settings."""
    detector = settings["detector"]
    yield from (_turn_over, _other_order)
    if _resistors(detector["filter"]):
        yield from (_move_filter(()),) * 2
    if detector["kind"] == "zero-crossing":
        yield _move_volts("hysteresis")
        return
    yield from (_move_fraction,) * 2
    yield _move_part(("hold_resistor",), "E24", RESISTORS_OHM)
    yield _move_volts("floor")
    if detector["kind"] == "overtone":
        yield _move_part(("band", "capacitor"), "E12", CAPACITORS_F)
        yield _move_part(("band", "resistor"), "E24", RESISTORS_OHM)
        yield _move_part(("blend", "coupling"), "E12", CAPACITORS_F)
        yield _move_part(("blend", "rectified_resistor"), "E24", RESISTORS_OHM)
        yield _move_part(("blend", "plain_resistor"), "E24", RESISTORS_OHM)
        if _resistors(detector["band"]["filter"]):
            yield _move_filter(("band",))


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
    new: Settings = KINDS[kind]().model_dump()
    if not {kind, detector["kind"]} & OWN_FILTER:
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
    return preferred.nearest(1.0 / (2 * pi * corner_hz * farad), "E24")


def _corner_hz(filter_: Filter) -> float:
    """Return a low-pass's corner in hertz, near enough to begin from, or a usual one."""
    frequency = np.geomspace(CORNERS_HZ[0] / 2, CORNERS_HZ[1] * 2, 200)
    gain = np.abs(transfer(filter_.network(tone=None, peak=None)).response(np.concatenate(([0.0], frequency))))
    above = np.flatnonzero(gain[1:] > gain[0] * np.sqrt(0.5))
    return USUAL_CORNER_HZ if len(above) in {0, len(frequency)} else float(frequency[above[-1]])


def _move_fraction(settings: Settings, rng: Random, reach: float) -> None:
    """Move the latch fraction by whole steps."""
    detector = settings["detector"]
    wanted = detector["fraction"] + FRACTION_STEP * _steps(rng, reach / 2)
    detector["fraction"] = round(float(np.clip(wanted, *FRACTIONS)), 4)


def _move_volts(name: str) -> Callable[[Settings, Random, float], None]:
    """Return what moves a threshold in volts."""
    return _move_part((name,), "E12", THRESHOLDS_V)


def _move_part(
    path: tuple[str, ...], series: str, limits: tuple[float, float]
) -> Callable[[Settings, Random, float], None]:
    """Return what moves one value along its series."""

    def move(settings: Settings, rng: Random, reach: float) -> None:
        table = settings["detector"]
        for step in path[:-1]:
            table = table[step]
        table[path[-1]] = _along(table[path[-1]], _steps(rng, reach), series, limits)

    return move


def _move_filter(path: tuple[str, ...]) -> Callable[[Settings, Random, float], None]:
    """Return what moves all resistors of a filter together, and so its corner."""

    def move(settings: Settings, rng: Random, reach: float) -> None:
        table = settings["detector"]
        for step in path:
            table = table[step]
        count = _steps(rng, reach)
        for key in _resistors(table["filter"]):
            table["filter"][key] = _along(table["filter"][key], count, "E24", RESISTORS_OHM)

    return move


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


def _parts(table: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, Any, str]]:
    """Give path, table and key of each resistor and capacitor."""
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _parts(value, f"{above}{key}.")
        elif isinstance(value, float) and any(word in key for word in PART_WORDS):
            yield f"{above}{key}", table, key
