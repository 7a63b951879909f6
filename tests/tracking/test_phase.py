"""Where edges fall in a note's cycle, on waves and edges of which that is known."""

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.takes.take import take_from_samples
from sublatch.tracking.lock import Dropout
from sublatch.tracking.phase import LEAST_EDGES, Fed, Switching
from sublatch.tracking.track import track

RATE = 48000
SECONDS = 6.0


def wave(pitch, partials=(1.0,), *, phases=None, decay=0.0, rate=RATE):
    """A note that begins at a rising zero crossing of its fundamental."""
    t = np.arange(round(SECONDS * rate)) / rate
    phases = np.zeros(len(partials)) if phases is None else phases
    parts = (
        a * np.sin(2 * np.pi * n * pitch * t + p) for n, (a, p) in enumerate(zip(partials, phases, strict=True), 1)
    )
    return np.exp(-decay * t) * sum(parts)


def edges_at(phase_deg, pitch):
    """An edge in every cycle at this phase, one number or one for each cycle."""
    cycles = np.arange(int(SECONDS * pitch) - 1)
    return (cycles + 0.25 + (np.asarray(phase_deg) - 90.0) / 360) / pitch


def measured(samples, edges, pitch, *, rate=RATE, **more):
    pitches = {} if "track" in more else {"pitch_hz": pitch}
    return Fed(samples, sample_rate=rate).switching(edges, start_s=0.0, end_s=SECONDS, **pitches, **more)


@pytest.mark.parametrize("pitch", [30.8677, 41.2034, 97.9989, 329.6276, 987.77])
@pytest.mark.parametrize("phase_deg", [-75.0, -20.0, 0.0, 5.74, 45.0, 89.0])
def test_a_sine_switched_at_a_known_phase(pitch, phase_deg):
    """The step is sin φ of the peak: 2 sin φ for polarity switching, sin φ for a gate.

    At 988 Hz the window has only sixteen samples, which is good for 0.015°.
    """
    found = measured(wave(pitch), edges_at(phase_deg, pitch), pitch)
    assert found.edges == pytest.approx(SECONDS * pitch, abs=6)
    assert found.phase_deg == pytest.approx(phase_deg, abs=0.01)
    assert found.spread_deg < 0.02
    assert found.jitter_deg < 0.01
    assert found.step_share == pytest.approx(abs(np.sin(np.radians(phase_deg))), abs=2e-3)


@pytest.mark.parametrize("rate", [8000, 22050, 44100, 192000])
def test_any_sample_rate(rate):
    found = measured(wave(55.0, rate=rate), edges_at(30.0, 55.0), 55.0, rate=rate)
    assert found.phase_deg == pytest.approx(30.0, abs=0.02)
    assert found.step_share == pytest.approx(0.5, abs=2e-3)


@pytest.mark.parametrize("turned_deg", [90.0, 60.0])
def test_rising_and_falling_crossings_are_the_same(turned_deg):
    phase_deg = turned_deg - 90.0 + 180.0 * (np.arange(int(SECONDS * 55.0) - 1) % 2)
    found = measured(wave(55.0), edges_at(phase_deg, 55.0), 55.0)
    assert found.phase_deg == pytest.approx(turned_deg - 90.0, abs=0.01)
    assert found.spread_deg < 0.01


@pytest.mark.parametrize("sigma_deg", [0.5, 3.0, 12.0])
@pytest.mark.parametrize("pitch", [41.2034, 97.9989])
def test_planted_jitter_is_found(rng, sigma_deg, pitch):
    planted_deg = 20.0 + sigma_deg * rng.standard_normal(int(SECONDS * pitch) - 1)
    found = measured(wave(pitch), edges_at(planted_deg, pitch), pitch)
    kept = planted_deg[2 : 2 + found.edges]
    assert found.phase_deg == pytest.approx(np.mean(kept), abs=0.3 * sigma_deg)
    assert found.spread_deg == pytest.approx(np.std(kept), rel=0.04)
    assert found.jitter_deg == pytest.approx(np.std(np.diff(kept)) / np.sqrt(2), rel=0.04)
    assert found.jitter_ms == pytest.approx(found.jitter_deg / 360 / pitch * 1000)
    assert found.jitter_deg == pytest.approx(sigma_deg, rel=0.15)  # a sample of 240 or more


def test_slow_wandering_is_spread_but_no_jitter():
    """Even from −30° to 30°: the deviation is the width over √12, on the circle a little more."""
    phase_deg = np.linspace(-30.0, 30.0, int(SECONDS * 55.0) - 1)
    found = measured(wave(55.0), edges_at(phase_deg, 55.0), 55.0)
    doubled = np.sin(np.radians(60.0)) / np.radians(60.0)
    assert found.spread_deg == pytest.approx(np.degrees(np.sqrt(-2 * np.log(doubled))) / 2, rel=0.01)
    assert found.spread_deg == pytest.approx(60.0 / np.sqrt(12), rel=0.05)
    assert found.phase_deg == pytest.approx(0.0, abs=0.2)
    assert found.jitter_deg < 0.02


def test_overtones_do_not_disturb_the_phase(rng):
    """A fundamental 20 dB under its second partial."""
    partials = np.array([0.1, 1.0, 0.7, 0.5, 0.4, 0.3])
    samples = wave(55.0, partials, phases=[0.0, *rng.uniform(0, 6, 5)], decay=1.5)
    found = measured(samples, edges_at(35.0, 55.0), 55.0)
    assert found.phase_deg == pytest.approx(35.0, abs=0.5)
    assert found.jitter_deg < 0.1


@pytest.mark.parametrize("cents", [-30.0, 30.0])
def test_a_reference_pitch_a_little_off_does_not_disturb_the_phase(cents):
    found = measured(wave(55.0, (1.0, 0.6)), edges_at(35.0, 55.0), 55.0 * 2 ** (cents / 1200))
    assert found.phase_deg == pytest.approx(35.0, abs=0.3)
    assert found.spread_deg < 0.3


def test_the_step_is_a_share_of_the_peak_of_the_wave_itself():
    """The peak of sin θ + sin 2θ is 1.760173, at cos θ = (√33 − 1)/8; at θ = 90° it is 1."""
    peak = 1.7601725
    found = measured(wave(55.0, (1.0, 1.0), decay=0.05), edges_at(90.0, 55.0), 55.0)
    assert found.step_share == pytest.approx(1 / peak, abs=2e-3)


def test_the_pitch_may_move():
    """A slide of a fifth up in six seconds, an edge 25° after each zero crossing."""
    start, rise = 55.0, 27.5 / SECONDS
    t = np.arange(round(SECONDS * RATE)) / RATE
    samples = np.sin(2 * np.pi * (start * t + rise * t**2 / 2))
    cycles = np.arange(400) + 25 / 360
    edges = (np.sqrt(start**2 + 2 * rise * cycles) - start) / rise
    times = np.linspace(0, SECONDS, 600)
    found = measured(samples, edges, None, track=(times, start + rise * times))
    assert found.phase_deg == pytest.approx(25.0, abs=0.3)
    assert found.spread_deg < 0.2


def test_edges_in_dropouts_do_not_count():
    edges = edges_at(np.where(np.arange(int(SECONDS * 55.0) - 1) < 100, 10.0, 80.0), 55.0)
    lost = Dropout(float(edges[100]) - 1e-3, SECONDS, "stray")
    found = measured(wave(55.0), edges, 55.0, dropouts=[lost])
    assert found.phase_deg == pytest.approx(10.0, abs=0.01)
    assert found.edges <= 100
    assert measured(wave(55.0), edges, 55.0).spread_deg > 20.0


def test_edges_on_both_sides_of_a_dropout_are_no_neighbours():
    """The phase changes in the dropout and is steady before and after: no jitter."""
    edges = edges_at(np.where(np.arange(int(SECONDS * 55.0) - 1) < 150, 10.0, 60.0), 55.0)
    lost = Dropout(float(edges[148]), float(edges[152]), "stray")
    found = measured(wave(55.0), edges, 55.0, dropouts=[lost])
    assert found.jitter_deg < 0.01
    assert found.spread_deg > 20.0


def test_too_few_edges_say_nothing():
    edges = edges_at(0.0, 55.0)[10 : 10 + LEAST_EDGES - 1]
    assert measured(wave(55.0), edges, 55.0) == Switching(LEAST_EDGES - 1)
    assert measured(wave(55.0), edges[:0], 55.0) == Switching(0)
    with pytest.raises(ValueError, match="needs a pitch_hz or a track"):
        measured(wave(55.0), edges, None)


@pytest.mark.parametrize("pitch", [41.2034, 55.0, 97.9989])
@pytest.mark.parametrize("hysteresis", [0.01, 0.1])
@pytest.mark.parametrize("drive", ["normal", "inverted"])
def test_a_first_order_detector_switches_as_late_as_it_must(pitch, hysteresis, drive):
    """Closed form of ideal parts: atan(f/fc) for the low-pass, asin(h/(A·|H|)) for a threshold h."""
    resistor, capacitor, amplitude = 22e3, 100e-9, 0.5
    corner = 1 / (2 * np.pi * resistor * capacitor)
    low_pass = {"kind": "first-order", "resistor": resistor, "capacitor": capacitor}
    detector = {"kind": "zero-crossing", "hysteresis": hysteresis, "filter": low_pass}
    # an input that takes nothing away and hardly turns the phase, so that A is the take's own
    changes = {"detector": detector, "switches.drive": drive, "input.coupling": "1u", "input.resistance": "10M"}
    circuit = load_circuit("gated-open", changes={**changes, "devices.values": "ideal"})
    samples = np.concatenate((np.zeros(RATE // 5), amplitude * wave(pitch)[: 3 * RATE]))
    found = track(take_from_samples(samples, RATE), circuit)
    gain = 1 / np.sqrt(1 + (pitch / corner) ** 2)
    expected = np.degrees(np.arctan(pitch / corner) + np.arcsin(hysteresis / (amplitude * gain)))
    (item,) = found.notes
    assert item.switching.phase_deg == pytest.approx(expected, abs=0.1)
    assert item.switching.jitter_deg < 0.05
    assert item.switching.step_share == pytest.approx(np.sin(np.radians(expected)), abs=3e-3)


def test_two_flip_flops_switch_every_second_cycle():
    samples = np.concatenate((np.zeros(RATE // 5), 0.5 * wave(98.0)[: 2 * RATE]))
    take = take_from_samples(samples, RATE)
    one, two = (
        track(take, load_circuit("gated-open", changes={"detector.kind": "peak-latch", "divider.stages": n}))
        for n in (1, 2)
    )
    assert two.notes[0].switching.edges == pytest.approx(one.notes[0].switching.edges / 2, abs=1)
    assert two.notes[0].switching.phase_deg == pytest.approx(one.notes[0].switching.phase_deg, abs=0.1)
    assert two.notes[0].lock == one.notes[0].lock
