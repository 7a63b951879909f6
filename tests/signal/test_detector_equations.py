"""Detectors of parts that can be bought against their differential equations (see `front_equations`)."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline

from circuit_equations import Modes, derivatives, heard
from equation_cases import by_hand, two_notes
from front_equations import (
    LogarithmicParts,
    OvertoneParts,
    Stores,
    edges,
    logarithmic_rates,
    overtone_rates,
    watched_volts,
)
from real_parts import WORST, real_parts
from recordings.soundfont import bass_notes, requires_soundfont
from sublatch.circuit.devices.errors import op_amp_offset_v
from sublatch.circuit.load import load_circuit
from sublatch.sampling.rates import resampled
from sublatch.signal.chain import detected_edges, render
from sublatch.takes.take import take_from_samples

RATE, SECONDS = 48000, 0.7


def overtone_parts(circuit):
    """The overtone detector's values as plain numbers; the rectifier's are the drawing's."""
    detector = circuit.detector
    band, blend, gain, low = detector.band, detector.blend, detector.gain, detector.filter
    return OvertoneParts(
        input_c=circuit.input.coupling,
        input_r=circuit.input.resistance,
        band_c=band.capacitor,
        band_r=band.resistor,
        band_gain=1 + band.feedback_resistor / band.ground_resistor,
        band_filter_r=band.filter.first_resistor,
        band_ground_c=band.filter.ground_capacitor,
        band_feedback_c=band.filter.feedback_capacitor,
        rectifier_c=band.coupling,
        rectifier_r=(22e3, 10e3, 15e3, 150e3, 220e3),
        rectifier_sign={"positive": 1, "negative": -1}[band.rectifier],
        blend_c=blend.coupling,
        rectified_r=blend.rectified_resistor,
        plain_r=blend.plain_resistor,
        low_r=(low.first_resistor, low.second_resistor, low.third_resistor),
        low_c=(low.first_ground_capacitor, low.feedback_capacitor, low.second_ground_capacitor),
        first_r=(gain.input_resistor, gain.feedback_resistor),
        between_c=gain.coupling,
        between_r=gain.coupled_resistor,
        second_gain=1 + gain.second_feedback_resistor / gain.second_ground_resistor,
        last_c=gain.last_coupling,
        last_r=gain.last_resistor,
    )


def logarithmic_parts(circuit):
    """The logarithmic latch's values as plain numbers; the diode's are those of a 1N4148 type."""
    amplifier, low = circuit.detector.amplifier, circuit.detector.filter
    return LogarithmicParts(
        input_c=circuit.input.coupling,
        input_r=circuit.input.resistance,
        low_r=(low.first_resistor, low.second_resistor, low.third_resistor),
        low_c=(low.first_ground_capacitor, low.feedback_capacitor, low.second_ground_capacitor),
        amplifier_c=amplifier.coupling,
        amplifier_r=amplifier.input_resistor,
        feedback_r=amplifier.feedback_resistor,
        diodes=amplifier.diodes,
        saturation_a=2.52e-9,
        emission_v=1.752 * 25.85e-3,
    )


def expected_edges(circuit, source, end_s, real):
    """Edges by the equations."""
    detector = circuit.detector
    if detector.kind == "overtone":
        parts, count, rates = overtone_parts(circuit), 11, overtone_rates
        lower = detector.fraction * detector.hold_resistor
        stores = Stores(detector.hold_resistor - lower, lower, detector.floor, detector.hold_capacitor)
    else:
        parts, count, rates = logarithmic_parts(circuit), 5, logarithmic_rates
        end_v = detector.floor + detector.step
        string_ohm = 10.0 * detector.hold_resistor  # to the supply's far end, 4.5 V beyond the bias
        step_ohm = detector.step / (4.5 + end_v) * string_ohm
        stores = Stores(0.0, detector.hold_resistor, end_v, detector.hold_capacitor, detector.step, step_ohm)
    times, watched = watched_volts(lambda t, y: rates(t, y, parts, real, source), count, end_s)
    return edges(times, watched, stores, real)


def heard_with(circuit, source, times, toggles):
    """The buffer's output where the drive turns over at given times, by the equations behind the detector."""
    values = by_hand(load_circuit("gated-swept", changes={"detector.kind": "peak-latch", "knobs.tone": 4.0}))
    rest = values.gain * op_amp_offset_v(circuit.devices, "output.buffer")
    limits = (values.limits[0] - rest, values.limits[1] - rest)
    values = replace(values, note_idle=op_amp_offset_v(circuit.devices, "input.follower"), limits=limits)
    out, y, modes, start = np.empty(len(times)), np.zeros(10), Modes(), 0.0
    for end in (*toggles, float(times[-1])):
        here = (times >= start) & (times <= end)
        solved = solve_ivp(
            lambda t, y: derivatives(t, y, values, source, modes),
            (start, end),
            y,
            method="DOP853",
            rtol=1e-8,
            atol=1e-10,
            max_step=1e-3,
            dense_output=True,
        )
        states = solved.sol(times[here])
        out[here] = heard(source(times[here]) - states[0], states, values)
        modes.drive_high, y, start = not modes.drive_high, solved.y[:, -1], end
    return out


def assert_the_same(circuit, samples, rate, source):
    """Edges within 4 µs, none more or less, and a residual of the output under −70 dB."""
    times = np.arange(len(samples)) / rate
    take = take_from_samples(samples, rate)
    expected = expected_edges(circuit, source, float(times[-1]), real_parts(circuit))
    found = detected_edges(take, circuit)
    assert len(expected) > 20
    assert len(found) == len(expected)
    np.testing.assert_allclose(found, expected, rtol=0, atol=4e-6)
    output = heard_with(circuit, source, times, expected[::2])
    rendered = render(take, circuit).samples
    residual = np.sqrt(np.mean((rendered - output) ** 2) / np.mean(output**2))
    assert 20 * np.log10(residual) < -70


CASES = {
    "overtone": {"detector.kind": "overtone"},
    "overtone, diodes turned round": {"detector.kind": "overtone", "detector.band.rectifier": "negative"},
    "logarithmic latch": {"detector.kind": "logarithmic-latch"},
}


IDEAL, TYPICAL = {"devices.values": "ideal"}, {"devices.values": "typical", "devices.op_amp_bias": 0.0}
"""The equations have no op-amps' bias currents; those of the default class make 65 µV of the input's 1 MΩ."""


@pytest.mark.parametrize("level", [pytest.param(0.1, marks=pytest.mark.long), 1.0])
@pytest.mark.parametrize("devices", [IDEAL, TYPICAL], ids=["ideal", "typical"])
@pytest.mark.parametrize("case", CASES)
def test_a_detector_of_real_parts_obeys_its_differential_equations(case, devices, level):
    circuit = load_circuit("gated-swept", changes={"knobs.tone": 4.0, **CASES[case], **devices})
    times = np.arange(round(SECONDS * RATE)) / RATE
    samples = level * np.array([two_notes(t) for t in times])

    def source(t):
        return level * (two_notes(t) if np.ndim(t) == 0 else np.array([two_notes(one) for one in t]))

    assert_the_same(circuit, samples, RATE, source)


@pytest.mark.parametrize(("level", "board"), [(0.1, 1), pytest.param(1.0, 2, marks=pytest.mark.long)])
@pytest.mark.parametrize("case", CASES)
def test_it_does_with_parts_that_are_far_off(case, level, board):
    """Every offset and current at its most, either sign by chance."""
    changes = {"knobs.tone": 4.0, **CASES[case], **WORST, "devices.board": board}
    circuit = load_circuit("gated-swept", changes=changes)
    times = np.arange(round(SECONDS * RATE)) / RATE
    samples = level * np.array([two_notes(t) for t in times])

    def source(t):
        return level * (two_notes(t) if np.ndim(t) == 0 else np.array([two_notes(one) for one in t]))

    assert_the_same(circuit, samples, RATE, source)


@pytest.mark.recordings
@requires_soundfont
@pytest.mark.parametrize(
    ("kind", "parts", "name"),
    [
        ("overtone", IDEAL, "Slap Bass E0"),
        ("overtone", TYPICAL, "Slap Bass E0"),
        ("overtone", WORST, "Finger Bass EO"),
        ("logarithmic-latch", IDEAL, "Finger Bass EO"),
        ("logarithmic-latch", TYPICAL, "Finger Bass EO"),
        ("logarithmic-latch", WORST, "Slap Bass E0"),
    ],
)
def test_they_do_on_recorded_notes(kind, parts, name):
    circuit = load_circuit("gated-swept", changes={"knobs.tone": 4.0, "detector.kind": kind, **parts})
    (note,) = (one for one in bass_notes() if one.name == name)
    rate = 2 * note.sample_rate  # at 22.05 kHz a logarithm makes more than fits, and edges move by up to 9 µs
    samples = resampled(note.samples, note.sample_rate, rate)[: round(0.4 * rate)]
    left = np.maximum(0, len(samples) - 500 - np.arange(len(samples)))  # nothing is left when the take ends
    faded = samples * np.minimum(1.0, np.minimum(np.arange(len(samples)), left) / 500)
    samples = 0.3 * faded / np.abs(faded).max()
    assert_the_same(circuit, samples, rate, between(samples, rate))


def between(samples, rate):
    """What a take is between its samples: band-limited, sixteen times as dense, and a spline of that."""
    padded = np.concatenate((np.zeros(2000), samples, np.zeros(2000)))
    spectrum = np.fft.rfft(padded)
    dense = 16 * np.fft.irfft(spectrum, 16 * len(padded))
    return CubicSpline((np.arange(len(dense)) / 16 - 2000) / rate, dense)
