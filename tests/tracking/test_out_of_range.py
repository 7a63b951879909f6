"""Notes too high for a detector: its limit from formulas, and what is said of takes above and below it."""

import math

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.takes.take import take_from_samples
from sublatch.tracking.track import track
from sublatch.tracking.tune.out_of_range import FALL_DB, LOWEST_HZ, highest_hz, range_remarks

RATE = 24000
PLAIN = {"detector.kind": "peak-latch", "devices.values": "ideal"}
"""Of ideal parts, with which it hears notes far above its low-pass's corner."""
OVERTONE = load_circuit("gated-open", changes={"detector.kind": "overtone"})
PEAK_LATCH = load_circuit("gated-open", changes=PLAIN)
GUITAR = (110.0, 164.814, 220.0, 261.626, 329.628, 391.995)
BASS = (41.2034, 55.0, 73.4162, 97.9989, 110.0, 130.813)


def tone(pitch, volts):
    """A dying note of half a second with four partials, in volts."""
    t = np.arange(RATE // 2) / RATE
    wave = sum(share * np.sin(2 * np.pi * n * pitch * t) for n, share in ((1, 1.0), (2, 0.5), (3, 0.3), (4, 0.2)))
    return volts / 1.5 * wave * np.exp(-2 * t) * np.minimum(1, np.minimum(t / 0.003, (0.5 - t) / 0.02))


def said(pitches, circuit, *, volts=0.3):
    """What is said of a line of notes."""
    rest = np.zeros(RATE // 5)
    take = take_from_samples(np.concatenate([rest, *(tone(pitch, volts) for pitch in pitches), rest]), RATE)
    return range_remarks(track(take, circuit, tuning="guitar-6"), circuit)


def with_capacitors_divided(circuit, factor):
    """A circuit whose detector has smaller capacitors."""

    def divided(values):
        return {
            name: divided(value) if isinstance(value, dict)
            else value / factor if "capacitor" in name or name == "coupling"
            else value
            for name, value in values.items()
        }  # fmt: skip

    detector = type(circuit.detector).model_validate(divided(circuit.detector.model_dump()))
    return circuit.model_copy(update={"detector": detector})


@pytest.mark.parametrize(("circuit", "corner_hz"), [(PEAK_LATCH, 142.1), (OVERTONE, 83.8)])
def test_the_limit_of_a_third_order_butterworth_is_an_octave_above_its_corner(circuit, corner_hz):
    """|H|² = 1 / (1 + (f / fc)^6); corners of built-in parts by the textbook's formulas, to the makers' E12 steps."""
    expected = corner_hz * (10 ** (FALL_DB / 10) - 1) ** (1 / 6)
    assert highest_hz(circuit) == pytest.approx(expected, rel=0.03)


def test_the_limit_of_a_first_order_low_pass_is_further_up():
    """|H|² = 1 / (1 + (f / fc)²), against its best, which it has at the lowest pitch that is looked at."""
    changes = {**PLAIN, "detector.filter.kind": "first-order", "detector.filter.capacitor": "100n"}
    circuit = load_circuit("gated-open", changes=changes)
    parts = circuit.detector.filter
    corner_hz = 1 / (2 * math.pi * parts.resistor * parts.capacitor)
    best = 1 / (1 + (LOWEST_HZ / corner_hz) ** 2)
    assert highest_hz(circuit) == pytest.approx(corner_hz * math.sqrt(10 ** (FALL_DB / 10) / best - 1), rel=0.002)


def test_without_a_low_pass_there_is_no_limit():
    bare = load_circuit("gated-open", changes={"detector.filter.kind": "none"})
    assert highest_hz(bare) == math.inf
    assert said(GUITAR, bare) == ()


@pytest.mark.parametrize(
    ("circuit", "volts", "begins", "ends"),
    [
        (OVERTONE, 0.3, "high for this detector: 4 of 6 notes lie above 168 Hz", "capacitors by 3"),
        (PEAK_LATCH, 0.05, "high for this detector: 2 of 6 notes lie above 285 Hz", "capacitors by 2"),
    ],
)
def test_notes_of_a_guitar_are_too_high_for_a_detector_of_a_bass(circuit, volts, begins, ends):
    (remark,) = said(GUITAR, circuit, volts=volts)
    assert remark.code == "high-for-detector"
    assert remark.text.startswith(begins)
    assert remark.text.endswith(ends)


@pytest.mark.parametrize("factor", [2, 3])
@pytest.mark.parametrize(("circuit", "lacking"), [(OVERTONE, 0.06), (PEAK_LATCH, 0.005)])
def test_dividing_its_capacitors_moves_the_limit_up_by_as_much(circuit, lacking, factor):
    """The overtone detector's blend passes more below its coupling capacitor's corner, which moves up too."""
    smaller = with_capacitors_divided(circuit, factor)
    assert highest_hz(smaller) == pytest.approx(factor * highest_hz(circuit), rel=lacking)


def test_with_the_capacitors_it_asks_for_there_is_nothing_to_say():
    assert said(GUITAR, with_capacitors_divided(OVERTONE, 3)) == ()


@pytest.mark.parametrize("circuit", [OVERTONE, PEAK_LATCH])
@pytest.mark.parametrize("volts", [0.3, 0.02])
def test_nothing_is_said_of_notes_of_a_bass(circuit, volts):
    assert said(BASS, circuit, volts=volts) == ()


def test_nothing_is_said_where_high_notes_are_held_or_are_few():
    assert said(GUITAR, PEAK_LATCH) == ()
    assert said((*BASS, *BASS, 220.0), OVERTONE) == ()


def test_a_take_without_notes_has_no_range():
    take = take_from_samples(np.zeros(RATE), RATE)
    assert range_remarks(track(take, OVERTONE), OVERTONE) == ()
