"""Detectors whose parts have offsets, written out by hand from Kirchhoff's laws and integrated tightly.

Nothing here uses the package: part values come in as plain numbers. Real parts are more plain numbers: each op-amp's
input offset and the limits of its output, the comparators' offsets and input currents, the stores' diodes' leakage. The
rectifier's diodes are ideal switches.

What lies ahead of the comparators does not depend on them, so it is integrated first; both stores and the latch follow
on a grid of a microsecond.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from math import asinh, copysign, sinh

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq

GRID_S, COARSE = 1e-6, 10
"""The grid of the stores, and how many of its steps what they watch is worked out at, smooth between them."""


@dataclass(frozen=True)
class Real:
    """What real parts add; nothing of ideal ones. Volts, amperes."""

    offset: dict[str, float] = field(default_factory=dict)  # of op-amps, by the names used below
    comparator: tuple[float, float] = (0.0, 0.0)  # set, reset: what has to be reached beyond the threshold
    input_current: float = 0.0  # out of each comparator's input
    leakage: float = 0.0  # of each store's diode
    limits: tuple[float, float] = (-3.0, 3.0)

    def of(self, name: str) -> float:
        """The offset of an op-amp."""
        return self.offset.get(name, 0.0)

    def held(self, volts: float) -> float:
        """What an op-amp gives that should give so many volts."""
        return min(max(volts, self.limits[0]), self.limits[1])


@dataclass(frozen=True)
class Stores:
    """Two peak stores: resistor from the store to the tap, from the tap to the end, its volts, and the capacitor."""

    upper: float
    lower: float
    end_v: float
    hold_c: float
    step_v: float = 0.0  # how far below the tap the threshold is
    step_ohm: float = 0.0  # what makes the step, which the comparator's input current passes


@dataclass(frozen=True)
class OvertoneParts:
    """Part values in ohms and farads, in the order of the signal."""

    input_c: float
    input_r: float
    band_c: float
    band_r: float
    band_gain: float
    band_filter_r: float  # two alike
    band_ground_c: float
    band_feedback_c: float
    rectifier_c: float
    rectifier_r: tuple[float, float, float, float, float]  # input, around A, around B, B to the second, around it
    rectifier_sign: int
    blend_c: float
    rectified_r: float
    plain_r: float
    low_r: tuple[float, float, float]
    low_c: tuple[float, float, float]  # first to ground, feedback, second to ground
    first_r: tuple[float, float]  # input, feedback
    between_c: float
    between_r: float
    second_gain: float
    last_c: float
    last_r: float


@dataclass(frozen=True)
class LogarithmicParts:
    """Part values in ohms, farads, amperes and volts, in the order of the signal."""

    input_c: float
    input_r: float
    low_r: tuple[float, float, float]
    low_c: tuple[float, float, float]
    amplifier_c: float
    amplifier_r: float
    feedback_r: float
    diodes: int
    saturation_a: float
    emission_v: float


def rectified(i: float, parts: OvertoneParts, real: Real) -> float:
    """Output of the rectifier for a current into its first op-amp's minus input.

    Node B has a diode that lets the first op-amp pull it (push it, turned round), node A the other diode. The second
    op-amp's plus input is on A. A: resistor to the first minus input. B: one there, one to the second minus input.
    """
    _, around_a, around_b, link, around = parts.rectifier_r
    first, second = real.of("rectifier.first"), real.of("rectifier.second")
    sign = parts.rectifier_sign
    minus_2 = first + second  # while A's diode is off, no current flows to A
    b = first - around_b * i
    pulled = (first - b) / around_b + (minus_2 - b) / link
    if sign * pulled > 0.0:
        return minus_2 + around * (minus_2 - b) / link
    # A's diode is on and B hangs between both minus inputs: (a - first) / Ra + (a + second - first) / (Rb + Rl) = -i
    a = (-i + first / around_a + (first - second) / (around_b + link)) / (1 / around_a + 1 / (around_b + link))
    return a + second + around * (a + second - first) / (around_b + link)


def third_order(a, b, c, fed, parts):
    """Rates of a third-order low-pass's three nodes, its op-amp a follower; `fed` is the current into the first."""
    _, r2, r3 = parts.low_r
    c1, feedback, c3 = parts.low_c
    d_a = (fed - (a - b) / r2) / c1
    d_c = (b - c) / (r3 * c3)
    return d_a, d_c + ((a - b) / r2 - (b - c) / r3) / feedback, d_c


def overtone_rates(t, y, parts: OvertoneParts, real: Real, source):
    """Rates of all capacitors' states, and what the comparators watch."""
    in_c, band_c, x, v, rect_c, blend_c, a, b, c, between_c, last_c = y
    behind = source(t) - in_c
    note = behind + real.of("input")
    d_v = (x - v) / (parts.band_filter_r * parts.band_ground_c)
    d_x = d_v + ((note - x) - (x - v)) / (parts.band_filter_r * parts.band_feedback_c)
    behind_band = v + real.of("band filter") - band_c
    high = real.held(parts.band_gain * (behind_band + real.of("band")))
    i = (high - rect_c - real.of("rectifier.first")) / parts.rectifier_r[0]
    wave = rectified(i, parts, real) - blend_c
    r1 = parts.low_r[0]
    joint = (wave / parts.rectified_r + note / parts.plain_r + a / r1) / (
        1 / parts.rectified_r + 1 / parts.plain_r + 1 / r1
    )
    d_a, d_b, d_c = third_order(a, b, c, (joint - a) / r1, parts)
    ratio, own = parts.first_r[1] / parts.first_r[0], real.of("first")
    first = real.held(own - ratio * (c + real.of("low-pass") - own))
    between = first - between_c
    second = real.held(parts.second_gain * (between + real.of("second")))
    watched = second - last_c
    rates = (
        behind / (parts.input_r * parts.input_c),
        behind_band / (parts.band_r * parts.band_c),
        d_x,
        d_v,
        i / parts.rectifier_c,
        (wave - joint) / (parts.rectified_r * parts.blend_c),
        d_a,
        d_b,
        d_c,
        between / (parts.between_r * parts.between_c),
        (watched / parts.last_r - 2 * real.input_current) / parts.last_c,
    )
    return rates, watched


def logarithmic_rates(t, y, parts: LogarithmicParts, real: Real, source):
    """Rates of all capacitors' states, and what the comparators watch."""
    in_c, a, b, c, amplifier_c = y
    behind = source(t) - in_c
    note = behind + real.of("input")
    d_a, d_b, d_c = third_order(a, b, c, (note - a) / parts.low_r[0], parts)
    own = real.of("amplifier")
    i = (c + real.of("low-pass") - amplifier_c - own) / parts.amplifier_r
    rates = (behind / (parts.input_r * parts.input_c), d_a, d_b, d_c, i / parts.amplifier_c)
    return rates, own - across_diodes(i, parts)


def across_diodes(i: float, parts: LogarithmicParts) -> float:
    """Voltage across the feedback at a current: between nothing and what one of both alone would have."""
    unit = parts.diodes * parts.emission_v
    high = min(abs(i) * parts.feedback_r, unit * asinh(abs(i) / (2 * parts.saturation_a)))
    if high == 0.0:
        return 0.0

    def lacking(volts: float) -> float:
        return abs(i) - volts / parts.feedback_r - 2 * parts.saturation_a * sinh(volts / unit)

    return copysign(brentq(lacking, 0.0, 1.0001 * high, xtol=1e-13), i)


def at_rest(rates: Callable, count: int) -> np.ndarray:
    """The states that do not move without a source: where the rates, straight but for limits and diodes, vanish.

    The capacitors of a board that has been on for long have their charges.
    """
    start = np.zeros(count)
    if not np.any(rates(0.0, start)[0]):
        return start
    return solve_ivp(lambda t, y: rates(t, y)[0], (0.0, 60.0), start, method="LSODA", rtol=1e-10, atol=1e-13).y[:, -1]


def watched_volts(rates: Callable, count: int, end_s: float) -> tuple[np.ndarray, np.ndarray]:
    """Times on the grid, and what the comparators watch at them. `rates(t, y)` gives rates and that voltage."""
    times = np.arange(round(end_s / GRID_S)) * GRID_S
    solved = solve_ivp(
        lambda t, y: rates(t, y)[0],
        (0.0, end_s),
        at_rest(lambda t, y: rates(0.0, y), count),
        method="LSODA",
        rtol=1e-7,
        atol=1e-9,
        max_step=2e-4,
        dense_output=True,
    )
    coarse = np.append(times[::COARSE], end_s)
    watched = [rates(t, y)[1] for t, y in zip(coarse, solved.sol(coarse).T, strict=True)]
    return times, CubicSpline(coarse, watched)(times)


def edges(times: np.ndarray, watched: np.ndarray, stores: Stores, real: Real) -> np.ndarray:
    """Times at which the latch changes, in turn set and reset.

    Below the bias everything is turned round, but for the currents out of the comparators' inputs and the op-amps'
    offsets, which push up on either side. A diode's leakage empties its store.
    """
    total = stores.upper + stores.lower
    share, parallel = stores.lower / total, stores.upper * stores.lower / total
    decay = np.exp(-GRID_S / (total * stores.hold_c))
    past = []
    for sign, name, beyond in ((1.0, "store +", real.comparator[0]), (-1.0, "store -", real.comparator[1])):
        pushed = sign * real.input_current
        rest = stores.end_v + pushed * stores.lower - real.leakage * total
        held, above = [], 0.0
        for peak in (sign * (watched + real.of(name)) - rest).tolist():
            above = max(peak, above * decay)
            held.append(above)
        tap = share * (rest + np.array(held)) + (1.0 - share) * stores.end_v + pushed * (parallel + stores.step_ohm)
        past.append(sign * watched - (tap - stores.step_v + beyond))
    return latched(times, *past)


def latched(times: np.ndarray, over: np.ndarray, under: np.ndarray) -> np.ndarray:
    """Times at which a latch changes that `over` > 0 sets and `under` > 0 resets, straight between the samples."""
    found, start = [], 1
    while True:
        wave = under if len(found) % 2 else over
        n = start
        while n < len(wave) and not (wave[n] > 0.0):
            step = np.argmax(wave[n : n + 50_000] > 0.0)
            n += step if wave[n + step] > 0.0 else len(wave[n : n + 50_000])
        if n >= len(wave):
            return np.array(found)
        found.append(times[n] - GRID_S * wave[n] / (wave[n] - wave[n - 1]))
        start = n + 1
