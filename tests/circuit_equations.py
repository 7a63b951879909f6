"""The whole signal path as differential equations, written out by hand from Kirchhoff's laws and integrated tightly.

Nothing here uses the package: part values come in as plain numbers. The comparator, the peak stores' diodes and the
flip-flop are switched at events that the integrator finds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp


@dataclass(frozen=True)
class Values:
    """Part values in ohms, farads and volts."""

    input_c: float
    input_r: float
    detector_r: float  # three equal resistors
    detector_c: tuple[float, float, float]  # first to ground, feedback, second to ground
    fraction: float  # of the peak stores; 0 for fixed thresholds
    hold_s: float
    floor: float
    gains: tuple[float, float]
    filter_r: float
    filter_ground_c: float
    filter_feedback_c: float
    mix_r: tuple[float, float]  # octave, direct
    direct_upper: float
    direct_lower: float
    coupling_c: float
    volume_upper: float  # with the trim resistor
    volume_lower: float
    load: float
    gain: float  # of the output buffer, below 0 where it inverts
    limits: tuple[float, float]
    note_idle: float = 0.0  # where the input follower's output rests
    mixing: str = "two-resistors"  # or "virtual-earth", or "none"
    mix_feedback: float = 0.0  # of the virtual earth
    direct_r: float = 0.0  # the direct signal's own low-pass
    direct_c: float = 0.0  # 0 without one


@dataclass
class Modes:
    """What is switched: diodes of both stores, the latch, the flip-flop."""

    charging_high: bool = False
    charging_low: bool = False
    is_set: bool = False
    drive_high: bool = True


# states: input capacitor, detector a, b, c, stores high and low, filter x and v, output and direct low-pass capacitor
IN, DA, DB, DC, HIGH, LOW, FX, FV, OUT, DIRECT = range(10)


def derivatives(t: float, y: np.ndarray, values: Values, source: Callable[[float], float], modes: Modes) -> np.ndarray:
    """Kirchhoff's current law at each capacitor."""
    d = np.empty(10)
    note = source(t) - y[IN]
    d[IN] = note / (values.input_r * values.input_c)
    c1, c2, c3 = values.detector_c
    r = values.detector_r
    d[DA] = ((note - y[DA]) - (y[DA] - y[DB])) / (r * c1)
    d[DC] = (y[DB] - y[DC]) / (r * c3)
    d[DB] = d[DC] + ((y[DA] - y[DB]) - (y[DB] - y[DC])) / (r * c2)
    d[HIGH] = d[DC] if modes.charging_high else -y[HIGH] / values.hold_s
    d[LOW] = -d[DC] if modes.charging_low else -y[LOW] / values.hold_s
    gain = values.gains[0 if modes.drive_high else 1]
    made = (note + values.note_idle) * gain - values.note_idle * values.gains[0]  # from where it rests
    d[FV] = (y[FX] - y[FV]) / (values.filter_r * values.filter_ground_c)
    d[FX] = d[FV] + ((made - y[FX]) - (y[FX] - y[FV])) / (values.filter_r * values.filter_feedback_c)
    d[DIRECT] = (note - y[DIRECT]) / (values.direct_r * values.direct_c) if values.direct_c else 0.0
    d[OUT] = output_current(note, y, values) / values.coupling_c
    return d


def output_current(note, y, values):
    """Current through the output coupling capacitor."""
    joint = mixed(y[DIRECT] if values.direct_c else note, y[FV], values)
    lower = values.volume_lower * values.load / (values.volume_lower + values.load)
    return (joint - y[OUT]) / (values.volume_upper + lower)


def mixed(direct, filtered, values):
    """What the mixing stage gives: Millman's theorem at a joint, Kirchhoff's current law at a virtual earth."""
    if values.mixing == "none":
        return filtered
    track = values.direct_upper + values.direct_lower
    wiper = direct * values.direct_lower / track
    source = values.direct_upper * values.direct_lower / track + values.mix_r[1]
    if values.mixing == "virtual-earth":
        return -values.mix_feedback * (filtered / values.mix_r[0] + wiper / source)
    return (filtered / values.mix_r[0] + wiper / source) / (1 / values.mix_r[0] + 1 / source)


def threshold(y, values, modes):
    """Distance of what the comparator sees from the threshold it waits for; it rises through 0."""
    if modes.is_set:
        return -y[DC] - max(values.fraction * y[LOW], values.floor)
    return y[DC] - max(values.fraction * y[HIGH], values.floor)


def solve(values: Values, source: Callable[[float], float], sample_times: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the output at the sample times, and the times at which the comparator changed state."""
    modes, y, t, end = Modes(), np.zeros(10), 0.0, float(sample_times[-1])
    y[[HIGH, LOW]] = 1e-9  # a trace of charge, so that the diodes of a silent circuit are off and not undecided
    out, edges = np.empty(len(sample_times)), []

    def rate(t, y):
        return derivatives(t, y, values, source, modes)

    def latch(t, y):
        return threshold(y, values, modes)

    def diode_high(t, y):
        return rate(t, y)[DC] + y[HIGH] / values.hold_s if modes.charging_high else y[DC] - y[HIGH]

    def diode_low(t, y):
        return -rate(t, y)[DC] + y[LOW] / values.hold_s if modes.charging_low else -y[DC] - y[LOW]

    done = 0
    while t < end:
        latch.direction, latch.terminal = 1.0, True
        diode_high.direction, diode_high.terminal = (-1.0 if modes.charging_high else 1.0), True
        diode_low.direction, diode_low.terminal = (-1.0 if modes.charging_low else 1.0), True
        part = solve_ivp(
            rate,
            (t, end),
            y,
            method="DOP853",
            rtol=1e-9,
            atol=1e-11,
            max_step=1e-3,
            events=(latch, diode_high, diode_low),
            dense_output=True,
        )
        upto = np.searchsorted(sample_times, part.t[-1], side="right")
        if upto > done:
            states = part.sol(sample_times[done:upto])
            note = np.array([source(s) for s in sample_times[done:upto]]) - states[IN]
            out[done:upto] = heard(note, states, values)
            done = upto
        t, y = float(part.t[-1]), part.y[:, -1].copy()
        if len(part.t_events[0]):
            edges.append(t)
            modes.is_set = not modes.is_set
            if modes.is_set:
                modes.drive_high = not modes.drive_high
        if len(part.t_events[1]):
            modes.charging_high = not modes.charging_high
            y[HIGH] = max(y[HIGH], y[DC])
        if len(part.t_events[2]):
            modes.charging_low = not modes.charging_low
            y[LOW] = max(y[LOW], -y[DC])
    return out, np.array(edges)


def heard(note, states, values):
    """Output of the buffer between its limits."""
    lower = values.volume_lower * values.load / (values.volume_lower + values.load)
    wiper = output_current(note, states, values) * lower
    return np.clip(values.gain * wiper, *values.limits)
