"""Where another circuit's sound is on the knobs, against sounds that are rendered one by one and measured plainly."""

from __future__ import annotations

import numpy as np
import pytest

from oracles import heard_difference_db, third_octaves
from sublatch.circuit.load import load_circuit
from sublatch.demo.takes import demo_takes
from sublatch.errors import AudioDataError, CircuitError
from sublatch.parts.knobs.same_sound import same_sound
from sublatch.parts.knobs.standard_bass import standard_bass
from sublatch.parts.sound_bands import source_bands
from sublatch.sampling.bands import band_powers, cross_powers_between
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_drive, output_sources, render
from sublatch.signal.node_voltages import node_voltages
from sublatch.takes.take import take_from_samples

RATE = 24000
OTHER_DETECTOR = {"detector.kind": "zero-crossing", "detector.hysteresis": "5mV"}


@pytest.fixture(scope="module")
def walking():
    return take_from_samples(demo_takes(RATE)["walking-line"], RATE, name="walking-line")


@pytest.fixture(scope="module")
def other_bass():
    """Notes that nothing was made to suit: partials of random strength that fall by 9 dB an octave, and die away."""
    chance = np.random.default_rng(20)
    time_s = np.arange(RATE) / RATE
    notes = []
    for pitch_hz in (43.7, 55.0, 65.4, 49.0, 87.3):
        partials = np.arange(1, 1 + int(6000 / pitch_hz))
        strength = partials**-1.5 * chance.uniform(0.3, 1.0, len(partials))
        phase = chance.uniform(0.0, 2 * np.pi, len(partials))
        waves = strength[:, None] * np.sin(2 * np.pi * pitch_hz * partials[:, None] * time_s + phase[:, None])
        notes.append(0.2 * waves.sum(axis=0) * np.exp(-2.0 * time_s))
    notes[-1] *= np.cos(np.pi / 2 * time_s) ** 2  # else the take is cut while its filters ring
    return take_from_samples(np.concatenate(notes), RATE, name="other bass")


def rendered(take, cache, circuit, **positions):
    """A take through a circuit with knobs and switch elsewhere, as `sublatch render` gives it."""
    paths = {"peak": "switches.peak"}
    changes = {paths.get(name, f"knobs.{name}"): value for name, value in positions.items()}
    return render(take, load_circuit(circuit, changes=changes), cache=cache).samples


def test_a_first_order_filter_of_272_hz_is_near_5_75_and_not_where_its_corner_is(walking):
    """Published: on the demo's walking line nearest flat near 5.75, 1.8 dB off; at equal corners, 3.2, 4.4 dB off.

    How the bands were weighted is not published with it, so positions are held to a quarter and levels to 0.3 dB.
    """
    old, cache = rendered(walking, StageCache(), "gated-first-order"), StageCache()

    def measured(tone, peak="flat"):
        return heard_difference_db(rendered(walking, cache, "gated-swept", tone=tone, peak=peak), old, RATE)

    found = same_sound(load_circuit("gated-swept"), load_circuit("gated-first-order"), take=walking)
    flat = {tone: measured(tone) for tone in (3.2, *np.arange(4.5, 7.01, 0.25))}
    best = min(flat, key=flat.get)
    assert best == pytest.approx(5.75, abs=0.25)
    assert flat[best] == pytest.approx(1.8, abs=0.3)
    assert flat[3.2] == pytest.approx(4.4, abs=0.3)
    assert min(measured(tone, "peaked") for tone in range(0, 11)) > 1.5 * flat[best]
    assert (found.nearest.peak, found.nearest.direct) == ("flat", 0.0)
    assert found.nearest.tone == pytest.approx(best, abs=0.126)
    assert found.nearest.difference_db == pytest.approx(measured(found.nearest.tone), abs=0.03)
    assert found.nearest.difference_db <= flat[best] + 0.03
    assert found.corner_tone == pytest.approx(3.15, abs=0.01)
    assert found.corner_difference_db == pytest.approx(measured(found.corner_tone), abs=0.05)


def test_a_setting_with_direct_that_is_nearer_but_not_by_half_is_told(walking):
    found = same_sound(load_circuit("gated-swept"), load_circuit("gated-first-order"), take=walking)
    beside = found.with_direct
    old = rendered(walking, StageCache(), "gated-first-order")
    positions = {"tone": beside.tone, "peak": beside.peak, "direct": beside.direct}
    made = rendered(walking, StageCache(), "gated-swept", **positions)
    assert beside.difference_db == pytest.approx(heard_difference_db(made, old, RATE), abs=0.03)
    assert 0.5 * found.nearest.difference_db < beside.difference_db < found.nearest.difference_db - 0.1


@pytest.mark.long
@pytest.mark.parametrize("circuit", ["gated-swept", "polarity-swept"])
def test_nothing_in_a_scan_of_rendered_sounds_is_nearer(other_bass, circuit):
    """Another take, another octave stage and another detector: tone, peak and direct, each in whole positions."""
    wanted = load_circuit("polarity-third-order", changes=OTHER_DETECTOR)
    found = same_sound(load_circuit(circuit), wanted, take=other_bass)
    old, cache = render(other_bass, wanted).samples, StageCache()
    nearest = found.nearest if found.with_direct is None else found.with_direct
    scan = [
        heard_difference_db(rendered(other_bass, cache, circuit, tone=tone, peak=peak, direct=direct), old, RATE)
        for tone in range(0, 11)
        for peak in ("flat", "peaked")
        for direct in (0, 1, 3, 6, 10)
    ]
    assert nearest.difference_db <= min(scan) + 0.05
    at = {"tone": nearest.tone, "peak": nearest.peak, "direct": nearest.direct}
    made = rendered(other_bass, cache, circuit, **at)
    assert nearest.difference_db == pytest.approx(heard_difference_db(made, old, RATE), abs=0.05)


@pytest.mark.parametrize(
    ("tone", "peak", "direct"), [(0.0, "flat", 0.0), (1.3, "peaked", 0.0), (10.0, "flat", 0.0), (6.2, "peaked", 3.7)]
)
def test_a_circuit_finds_itself(other_bass, tone, peak, direct):
    changes = {"knobs.tone": tone, "switches.peak": peak, "knobs.direct": direct}
    other = load_circuit("polarity-swept", changes=changes)
    at = same_sound(load_circuit("polarity-swept"), other, take=other_bass).nearest
    assert (at.tone, at.peak, at.direct) == (pytest.approx(tone, abs=0.05), peak, pytest.approx(direct, abs=0.1))
    assert at.difference_db < 0.05


def test_bands_without_rendering_are_those_of_the_rendered_sound(other_bass):
    """With direct and without, on a filter with a peak: within 0.05 dB in bands of any weight."""
    source = output_sources(other_bass, load_circuit("polarity-swept"))
    bands = source_bands(source)
    for tone, direct in ((2.0, 0.0), (4.0, 5.0), (8.0, 10.0)):
        changes = {"knobs.tone": tone, "switches.peak": "peaked", "knobs.direct": direct}
        circuit = load_circuit("polarity-swept", changes=changes)
        made = node_voltages(source, circuit)[0]
        plain = band_powers(made, sample_rate=RATE)
        counted = plain > 1e-7 * plain.max()
        assert 10 * np.log10(bands.powers(circuit) / plain)[counted] == pytest.approx(0.0, abs=0.05)


def test_cross_powers_are_those_of_the_sum():
    """By the cosine law, and for two sines of one frequency in closed form."""
    time_s = np.arange(4800) / 4800.0
    first, second = np.sin(2 * np.pi * 100 * time_s), 0.5 * np.sin(2 * np.pi * 100 * time_s + 1.0)
    cross = cross_powers_between(first, second, sample_rate=4800, edges_hz=[50.0, 150.0, 2400.0])
    assert cross[0] == pytest.approx(0.25 * np.exp(-1j), abs=1e-12)
    assert abs(cross[1]) < 1e-12
    assert cross.sum().real == pytest.approx(np.mean(first * second), abs=1e-12)


def test_the_oracle_of_bands_sees_a_sine_in_its_band():
    sine = np.sin(2 * np.pi * 250 * np.arange(RATE) / RATE)
    powers = third_octaves(sine, RATE)
    assert powers[11] == pytest.approx(0.5, rel=1e-9)
    assert powers.sum() == pytest.approx(0.5, rel=1e-9)


def test_the_bands_that_stay_different_are_told(walking):
    """What the report says of each band is what the rendered sounds have there, the mean taken out."""
    found = same_sound(load_circuit("gated-swept"), load_circuit("gated-first-order"), take=walking)
    old = rendered(walking, StageCache(), "gated-first-order")
    made = rendered(walking, StageCache(), "gated-swept", tone=found.nearest.tone)
    apart = 10 * np.log10(third_octaves(made, RATE) / third_octaves(old, RATE))
    apart -= np.average(apart, weights=found.band_share)
    assert found.band_db == pytest.approx(apart, abs=0.1)
    assert sum(found.band_share) == pytest.approx(1.0)
    rms_db = np.sqrt(np.sum(np.array(found.band_share) * np.square(found.band_db)))
    assert found.nearest.difference_db == pytest.approx(rms_db, abs=1e-9)


def test_a_sound_without_a_corner_is_found_too(other_bass):
    found = same_sound(load_circuit("gated-swept"), load_circuit("gated-open"), take=other_bass)
    assert found.nearest.tone == 10.0
    assert found.corner_hz is found.corner_tone is found.corner_difference_db is None


@pytest.mark.parametrize("name", ["gated-swept", "polarity-third-order"])
def test_a_circuit_halves_the_notes_of_the_standard_bass(name):
    """The drive changes once in each period of the note: 41.2, 49.0, … changes in a second."""
    drive_s = detected_drive(standard_bass(), load_circuit(name))
    for number, pitch_hz in enumerate((41.2, 49.0, 55.0, 65.4, 73.4, 82.4, 98.0, 123.5)):
        inside = (drive_s > 0.6 * number + 0.1) & (drive_s < 0.6 * number + 0.45)
        assert np.count_nonzero(inside) == pytest.approx(0.35 * pitch_hz, abs=1.0)


def test_what_cannot_be_compared(other_bass):
    swept, fixed = load_circuit("gated-swept"), load_circuit("gated-first-order")
    with pytest.raises(CircuitError, match="has no tone knob"):
        same_sound(fixed, swept, take=other_bass)
    with pytest.raises(AudioDataError, match="must make a sound in 'Gain-gated octave, first-order filter'"):
        same_sound(swept, fixed, take=take_from_samples(np.zeros(RATE), RATE, name="silence"))


def test_a_volume_at_unity_is_compared_like_any_other(other_bass):
    """At matched level it changes nothing but the coupling capacitor's corner, far under the bands."""
    numbers, words = (
        same_sound(
            *(load_circuit(name, changes=changes) for name in ("gated-swept", "gated-first-order")), take=other_bass
        )
        for changes in ({}, {"knobs.volume": "unity"})
    )
    assert words.nearest.tone == pytest.approx(numbers.nearest.tone, abs=0.05)
    assert words.nearest.difference_db == pytest.approx(numbers.nearest.difference_db, abs=0.01)
