"""Unity, gain in hand and corner of a circuit, from the Fourier series of a switched sine and the laws of its parts.

Nothing here uses the package's networks, detectors or searches: values are read off a circuit as plain numbers. The
detector is a peak latch behind a third-order low-pass; its edge is where the filtered tone rises through a share of
its last peak, which has leaked since. Source of the series: that of the square wave, any textbook; all else is Ohm's
and Kirchhoff's laws written out.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.optimize import brentq

TONE_HZ = 82.407
LINES = np.arange(1, 400)


def in_hand_db(circuit):
    """Effect against bypassed with the volume at 10, in dB."""
    return gain_db(circuit, 10.0)


def unity_position(circuit):
    """Position of the volume knob at which the effect is as loud as bypassed."""
    return brentq(lambda position: gain_db(circuit, position), 1e-3, 10.0, xtol=1e-6)


def corner_hz(circuit):
    """Highest frequency at which the output filter is 3.01 dB down."""
    grid = np.geomspace(1.0, 1e5, 20001)
    down = np.abs(filter_gain(circuit.filter, grid)) ** 2 > 0.5
    last = int(np.flatnonzero(down)[-1])
    return brentq(lambda hertz: abs(filter_gain(circuit.filter, hertz)) ** 2 - 0.5, grid[last], grid[last + 1])


def gain_db(circuit, position):
    """Power of the output against that of the tone, in dB, as if no supply limited it."""
    hertz = LINES * TONE_HZ / 2.0
    lines = switched_lines(circuit.octave.kind, switching_phase(circuit))
    passed = lines * filter_gain(circuit.filter, hertz) * after_filter(circuit, hertz, position)
    passed = passed * abs(input_gain(circuit, TONE_HZ))
    return 10.0 * np.log10(np.sum(np.abs(passed) ** 2))


@lru_cache(maxsize=64)
def switched_lines(kind, phase):
    """Complex lines at multiples of half the tone's frequency of sin(2x) times the drive, for a tone of amplitude 1."""
    product = np.zeros(len(LINES), complex)
    for n in range(-799, 800, 2):  # drive: sum of 2/(jπn) e^{jn(x − phase)}
        line = 2.0 / (1j * np.pi * n) * np.exp(-1j * n * phase)
        for shift, factor in ((2, 1 / 2j), (-2, -1 / 2j)):
            if 1 <= n + shift <= LINES[-1]:
                product[n + shift - 1] += 2.0 * line * factor
    if kind == "polarity-switched":
        return product
    tone = np.zeros(len(LINES), complex)
    tone[1] = 1.0 / 1j
    return (product + tone) / 2.0


def switching_phase(circuit):
    """Phase of half the tone, against the note at the input follower, at which the drive turns."""
    detector, filter_ = circuit.detector, circuit.detector.filter
    late = np.angle(filter_gain(filter_, TONE_HZ))
    decay = 1.0 / (2.0 * np.pi * TONE_HZ * detector.hold_resistor * detector.hold_capacitor)
    angle = brentq(
        lambda a: np.sin(a) - detector.fraction * np.exp(-decay * (2.0 * np.pi + a - np.pi / 2.0)), 0.0, np.pi / 2.0
    )
    return (angle - late) / 2.0


def filter_gain(made, hertz):
    """Complex gain of a filter without knob or switch, by Kirchhoff's current law at its nodes."""
    s = 2j * np.pi * np.asarray(hertz, float)
    if made.kind == "first-order":
        return 1.0 / (1.0 + s * made.resistor * made.capacitor)
    if made.kind == "second-order":
        r1, r2, cg, cf = made.first_resistor, made.second_resistor, made.ground_capacitor, made.feedback_capacitor
        return 1.0 / (1.0 + s * cg * (r1 + r2) + s**2 * r1 * r2 * cg * cf)
    g1, g2, g3 = 1.0 / made.first_resistor, 1.0 / made.second_resistor, 1.0 / made.third_resistor
    c1, cf, c3 = s * made.first_ground_capacitor, s * made.feedback_capacitor, s * made.second_ground_capacitor
    b = (g3 + c3) / g3  # at the second joint, for 1 V out
    a = (b * (g2 + g3 + cf) - g3 - cf) / g2  # at the first
    return g1 / (a * (g1 + g2 + c1) - g2 * b)


def input_gain(circuit, hertz):
    """Complex gain of the input coupling."""
    turns = 2j * np.pi * hertz * circuit.input.resistance * circuit.input.coupling
    return turns / (1.0 + turns)


def after_filter(circuit, hertz, position):
    """Complex gain from the output filter to the output buffer's output, direct at 0."""
    mix, output = circuit.mix, circuit.output
    mixed = mix.direct_resistor / (mix.direct_resistor + mix.octave_resistor)
    below = track_share(output.pot, position) * output.pot.value
    above = output.pot.value - below + (output.trim_resistor or 0.0)
    loaded = below * output.load / (below + output.load)
    reactance = 1.0 / (2j * np.pi * np.asarray(hertz, float) * output.coupling)
    return mixed * loaded / (reactance + above + loaded) * (1.0 + output.feedback_resistor / output.ground_resistor)


def track_share(pot, position):
    """Share of a track below the wiper: linear, or the exponential through the midpoint at half rotation."""
    turn = position / 10.0
    if pot.taper == "linear":
        return turn
    base = (1.0 / pot.midpoint - 1.0) ** 2
    if pot.taper == "log":
        return (base**turn - 1.0) / (base - 1.0)
    return 1.0 - (base ** (1.0 - turn) - 1.0) / (base - 1.0)
