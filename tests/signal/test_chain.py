"""The signal path as a whole: what any circuit must do to any take."""

import numpy as np
import pytest

from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.demo.partials import String
from sublatch.demo.strings import pluck
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_drive, detected_edges, render
from sublatch.takes.take import take_from_samples

CIRCUITS = circuit_names()
IDEAL_LATCH = {"detector.kind": "peak-latch", "devices.values": "ideal"}


@pytest.fixture(scope="module")
def note():
    """One plucked A, 1 s."""
    return take_from_samples(pluck(55.0, seconds=1.0, sample_rate=48000), 48000)


@pytest.mark.parametrize("name", CIRCUITS)
def test_silence_in_silence_out(name):
    rendered = render(take_from_samples(np.zeros(4800), 48000), load_circuit(name))
    assert not np.any(rendered.samples)
    assert len(rendered.drive_edges_s) == 0


@pytest.mark.parametrize("name", CIRCUITS)
@pytest.mark.parametrize("rate", [8000, 22050, 44100, 192000])
def test_output_keeps_the_take_s_rate_and_length(name, rate):
    samples = pluck(82.4, seconds=0.3, sample_rate=rate)
    rendered = render(take_from_samples(samples, rate), load_circuit(name))
    assert len(rendered.samples) == len(samples)
    assert rendered.sample_rate == rate


@pytest.mark.parametrize("count", [1, 2, 3, 50])
def test_the_shortest_takes_render(count):
    rendered = render(take_from_samples(np.full(count, 0.1), 48000), load_circuit("gated-swept"))
    assert len(rendered.samples) == count
    assert np.all(np.isfinite(rendered.samples))


def test_the_octave_is_half_the_note(note):
    """Common practice, no source: a gated octave passes every other cycle, so its period is twice the note's."""
    circuit = load_circuit("gated-open")
    drive = detected_drive(note, circuit)
    locked = drive[(drive > 0.2) & (drive < 0.8)]
    np.testing.assert_allclose(np.diff(locked), 1 / 55.0, rtol=0.01)
    out = render(note, circuit).samples[9600:38400]
    lags = np.arange(400, 2600)
    likeness = [np.dot(out[:-2600], out[lag : len(out) - 2600 + lag]) for lag in lags]
    assert 48000 / lags[int(np.argmax(likeness))] == pytest.approx(27.5, rel=0.01)


def test_polarity_switching_keeps_the_note_out(note):
    """Nothing at the note's own pitch from a perfect inverter; the gate leaves half of it."""

    def level(name, frequency):
        out = render(note, load_circuit(name, changes={"filter.kind": "none"})).samples[9600:33600]
        window = np.hanning(len(out))
        return abs(np.sum(out * window * np.exp(-2j * np.pi * frequency * np.arange(len(out)) / 48000)))

    assert level("polarity-third-order", 27.5) > 5 * level("polarity-third-order", 55.0)
    assert level("gated-open", 55.0) > 0.1 * level("gated-open", 27.5)


def test_scaling_the_take_scales_a_linear_output(note):
    """Of ideal parts without a floor, since neither an offset nor a floor grows with the take."""
    circuit = load_circuit("gated-swept", changes={**IDEAL_LATCH, "detector.floor": "0V", "knobs.volume": 5})
    loud = take_from_samples(0.5 * note.samples, 48000)
    np.testing.assert_allclose(detected_edges(loud, circuit), detected_edges(note, circuit), atol=1e-9)
    np.testing.assert_allclose(2 * render(loud, circuit).samples, render(note, circuit).samples, atol=1e-9)


def test_an_inverted_drive_clocks_on_the_other_slope(note):
    """Of ideal parts, whose thresholds lie alike above and below the bias."""
    normal_circuit = load_circuit("gated-open", changes=IDEAL_LATCH)
    normal = detected_edges(note, normal_circuit)
    inverted = {**IDEAL_LATCH, "switches.drive": "inverted"}
    turned = detected_edges(note, load_circuit("gated-open", changes=inverted))
    upside_down = detected_edges(take_from_samples(-note.samples, 48000), normal_circuit)
    np.testing.assert_allclose(turned, upside_down, atol=1e-12)
    assert abs(np.median(np.diff(turned[::2])) - np.median(np.diff(normal[::2]))) < 1e-4
    assert abs(turned[20] - normal[20]) > 1e-3


def test_a_second_flip_flop_is_another_octave_down(note):
    once = detected_drive(note, load_circuit("gated-open"))
    twice = detected_drive(note, load_circuit("gated-open", changes={"divider.stages": 2}))
    np.testing.assert_array_equal(twice, once[::2])


def test_the_direct_knob_adds_the_note(note):
    dry = render(note, load_circuit("gated-swept", changes={"knobs.direct": 0})).samples
    wet = render(note, load_circuit("gated-swept", changes={"knobs.direct": 10})).samples
    added = wet - dry
    likeness = np.corrcoef(added[4800:], note.samples[4800:])[0, 1]
    assert likeness > 0.95


def test_volume_at_zero_is_silent(note):
    out = render(note, load_circuit("gated-open", changes={"knobs.volume": 0})).samples
    assert np.max(np.abs(out)) < 1e-6


def test_a_leveller_evens_what_the_comparator_sees():
    dying = take_from_samples(pluck(55.0, seconds=4.0, sample_rate=8000, string=String(decay_s=1.0)), 8000)
    plain = {"detector.kind": "zero-crossing", "detector.hysteresis": "50mV"}
    evened = {**plain, "detector.leveller": {"target": "0.5V", "most_gain": 100}}
    without = detected_edges(dying, load_circuit("gated-open", changes=plain))
    with_it = detected_edges(dying, load_circuit("gated-open", changes=evened))
    assert with_it[-1] > without[-1] + 0.5


def test_shared_stages_change_nothing(note):
    cache = StageCache()
    for name in CIRCUITS:
        for direct in (0, 5):
            circuit = load_circuit(name, changes={"knobs.direct": direct})
            shared, alone = render(note, circuit, cache=cache), render(note, circuit)
            np.testing.assert_array_equal(shared.samples, alone.samples)


@pytest.mark.parametrize("change", [{"supply": "18V"}, {"output.bias": "30%"}, {"input.pickup": {}}])
@pytest.mark.parametrize("kind", ["overtone", "logarithmic-latch"])
def test_no_edges_are_shared_that_supply_bias_or_pickup_move(note, change, kind):
    """A logarithmic latch's step hangs from the supply, so that a comparator's current in it depends on that too."""
    own = {"detector.kind": kind, "devices.values": "worst", "devices.comparator_bias": "5uA"}
    first, other = (load_circuit("gated-open", changes=own | more) for more in ({}, change))
    cache = StageCache()
    detected_edges(note, first, cache=cache)
    np.testing.assert_array_equal(detected_edges(note, other, cache=cache), detected_edges(note, other))


def test_the_same_take_and_circuit_give_the_same_samples(note):
    circuit = load_circuit("polarity-swept")
    np.testing.assert_array_equal(render(note, circuit).samples, render(note, circuit).samples)


def test_a_failed_stage_is_tried_again():
    cache, tries = StageCache(), []

    def fails_once():
        tries.append(1)
        if len(tries) == 1:
            raise MemoryError
        return 7

    with pytest.raises(MemoryError):
        cache.get("key", fails_once)
    assert cache.get("key", fails_once) == 7
    assert cache.get("key", fails_once) == 7
    assert len(tries) == 2
