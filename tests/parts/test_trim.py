"""Unity and trim resistor: measured again by rendering, and against the divider's closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sublatch.circuit.components.preferred import is_preferred
from sublatch.circuit.load import load_circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.demo.strings import pluck
from sublatch.errors import AudioDataError, CircuitError
from sublatch.parts.knobs.trim import trim
from sublatch.sampling.levels import levels
from sublatch.signal.chain import output_sources, render
from sublatch.signal.node_voltages import node_voltages
from sublatch.signal.unity import effect_gain_db, tone_take, unity, volume_gain_db
from sublatch.takes.take import take_from_samples

RATE = 16000


def notes(level_volts=0.3):
    parts = [pluck(hz, seconds=0.8, sample_rate=RATE, level_volts=level_volts) for hz in (41.2, 61.7, 82.4, 55.0)]
    return np.concatenate(parts)


@pytest.fixture(scope="module")
def line():
    return take_from_samples(notes(), RATE, name="line")


def rendered_gain_db(take, circuit, measure):
    """Effect against bypassed, by the renderer itself."""
    out = render(take, circuit).samples
    after, before = (levels(samples, sample_rate=take.sample_rate) for samples in (out, take.samples))
    if measure == "rms":
        return after.rms_dbfs - before.rms_dbfs
    return after.loudness_lufs - before.loudness_lufs


@pytest.mark.parametrize("name", ["gated-first-order", "gated-open", "polarity-swept"])
@pytest.mark.parametrize("direct", [0.0, 6.0])
def test_what_is_worked_out_once_is_the_rendering(line, name, direct):
    """All but the limits: with a supply of 60 V there are none."""
    circuit = load_circuit(name, changes={"knobs.direct": direct, "supply": "60V", "knobs.volume": 8})
    (found,) = node_voltages(output_sources(line, circuit), circuit)
    assert found == pytest.approx(render(line, circuit).samples, abs=1e-9)


@pytest.mark.parametrize("measure", ["loudness", "rms"])
@pytest.mark.parametrize("name", ["gated-first-order", "gated-swept"])
def test_at_unity_the_rendering_is_as_loud_as_the_take(line, name, measure):
    circuit = load_circuit(name, changes={"supply": "60V"})
    found = unity(output_sources(line, circuit), circuit, measure=measure)
    assert rendered_gain_db(line, with_settings(circuit, {"knobs.volume": found.position}), measure) == pytest.approx(
        0.0, abs=0.005
    )
    assert found.excess_gain_db == pytest.approx(
        rendered_gain_db(line, with_settings(circuit, {"knobs.volume": 10.0}), measure), abs=0.001
    )
    assert found.set_gain_db == pytest.approx(rendered_gain_db(line, circuit, measure), abs=0.001)
    assert (found.heard, found.measure) == ("line", measure)


def test_unity_follows_from_the_excess_on_a_linear_pot(line):
    """Without a load to speak of the wiper's share is the gain: p = 10 · 10^(−excess/20)."""
    circuit = load_circuit("gated-first-order", changes={"output.load": "100M"})
    found = unity(output_sources(line, circuit), circuit, measure="rms")
    assert found.position == pytest.approx(10 * 10 ** (-found.excess_gain_db / 20), abs=0.01)


def test_the_output_buffers_gain_is_the_excess(line):
    """Twice the gain 1 + Rf/Rg is 6.02 dB more in hand."""
    one, two = (load_circuit("gated-open", changes={"output.ground_resistor": ohm}) for ohm in ("100k", "33.3333333k"))
    excess = [unity(output_sources(line, c), c, measure="rms").excess_gain_db for c in (one, two)]
    assert excess[1] - excess[0] == pytest.approx(20 * math.log10(2), abs=0.001)


def test_how_loud_the_take_is_does_not_matter_and_clipping_neither():
    """Of ideal parts without a floor, since neither an offset nor a floor grows with the take."""
    circuit = load_circuit("gated-first-order", changes={"detector.floor": "0V", "devices.values": "ideal"})
    takes = [take_from_samples(notes(level), RATE) for level in (0.02, 2.0)]
    found = [unity(output_sources(take, circuit), circuit, measure="rms").position for take in takes]
    assert found[0] == pytest.approx(found[1], abs=0.01)


def test_too_little_gain_has_no_unity_and_says_what_is_missing(line):
    circuit = load_circuit("gated-open", changes={"output.ground_resistor": "100M"})
    found = unity(output_sources(line, circuit), circuit)
    assert found.position is None
    assert found.excess_gain_db == pytest.approx(
        rendered_gain_db(line, with_settings(circuit, {"knobs.volume": 10.0}), "loudness"), abs=0.01
    )
    assert found.excess_gain_db < -6.0


def test_a_take_too_short_for_loudness_is_judged_by_rms():
    take = take_from_samples(notes()[:4000], RATE)
    circuit = load_circuit("gated-open")
    assert unity(output_sources(take, circuit), circuit).measure == "rms"


@pytest.mark.parametrize("samples", [np.zeros(16000), np.full(16000, 1e-6)])
def test_silence_has_no_unity(samples):
    circuit = load_circuit("gated-open")
    source = output_sources(take_from_samples(samples, RATE, name="nothing"), circuit)
    with pytest.raises(AudioDataError, match="nothing is silent"):
        unity(source, circuit)


def test_a_take_that_makes_no_sound_is_named():
    """Below the floor nothing switches, and a gate that begins closed stays closed; a wire to ground hears nothing."""
    circuit = load_circuit("gated-open", changes={"detector.floor": "5V"})
    source = output_sources(take_from_samples(notes(), RATE, name="soft"), circuit)
    if np.any(source.octave):
        assert unity(source, circuit).excess_gain_db > 0.0
    else:
        with pytest.raises(AudioDataError, match="soft makes no sound"):
            unity(source, circuit)


def test_the_tone_that_stands_in_is_what_it_says():
    take = tone_take()
    assert np.max(np.abs(take.samples)) == pytest.approx(0.2, rel=1e-3)
    spectrum = np.abs(np.fft.rfft(take.samples))
    assert np.argmax(spectrum) * take.sample_rate / len(take.samples) == pytest.approx(82.4, abs=0.5)
    assert take.name == "a sine of 82.4 Hz, 0.2 V peak"


def test_volume_gain_is_the_divider_and_the_buffer():
    """At 4 of a linear 100 kΩ into 1 MΩ: 0.4 / (1 + 0.4 · 0.6 · 0.1)."""
    circuit = load_circuit("gated-first-order")
    expected = 20 * math.log10(0.4 / 1.024 * (1 + 100 / 8.2))
    assert volume_gain_db(circuit, 4.0) == pytest.approx(expected, abs=0.002)


def test_a_trim_resistor_by_the_closed_form(line):
    """Into no load, a trim T ahead of R takes out (R + T)/R at any position, so T = R · (10^(excess/20) − 1)."""
    circuit = load_circuit("gated-first-order", changes={"output.load": "100M"})
    source = output_sources(line, circuit)
    excess = effect_gain_db(source, with_settings(circuit, {"knobs.volume": 7.0}))
    found = trim(source, circuit, position=7.0)
    assert found.exact_ohm == pytest.approx(100e3 * (10 ** (excess / 20) - 1), rel=0.005)
    assert is_preferred(found.resistor_ohm, "E24")
    assert found.resistor_ohm == pytest.approx(found.exact_ohm, rel=0.06)
    assert found.takes_out_db == pytest.approx(20 * math.log10(1 + found.resistor_ohm / 100e3), abs=0.01)


@pytest.mark.parametrize("taper", ["linear", "log"])
@pytest.mark.parametrize("wanted", [6.5, 8.0, 10.0])
def test_a_trimmed_circuit_has_unity_there_by_rendering(line, taper, wanted):
    circuit = load_circuit("gated-first-order", changes={"output.pot.taper": taper, "supply": "60V"})
    found = trim(output_sources(line, circuit), circuit, position=wanted)
    if found.position is None:  # the next E24 value is a little too much for the very end of the travel
        assert wanted == 10.0
        assert -0.5 < found.excess_gain_db < 0.0
        return
    assert found.position == pytest.approx(wanted, abs=0.35)
    trimmed = with_settings(circuit, {"output.trim_resistor": found.resistor_ohm, "knobs.volume": found.position})
    assert rendered_gain_db(line, trimmed, "loudness") == pytest.approx(0.0, abs=0.005)
    full = with_settings(trimmed, {"knobs.volume": 10.0})
    assert found.excess_gain_db == pytest.approx(rendered_gain_db(line, full, "loudness"), abs=0.001)
    assert found.possible


def test_the_trim_that_is_there_does_not_change_the_answer(line):
    trimmed, plain = (
        load_circuit("gated-swept"),
        with_settings(load_circuit("gated-swept"), {"output.trim_resistor": None}),
    )
    source = output_sources(line, plain)
    assert trim(source, trimmed, position=8.0) == trim(source, plain, position=8.0)


def test_unity_below_where_it_is_without_a_trim_is_impossible_and_more_gain_would_do_it(line):
    plain = {"supply": "60V", "detector.kind": "peak-latch"}
    circuit = load_circuit("gated-first-order", changes=plain)
    source = output_sources(line, circuit)
    natural = unity(source, circuit).position
    found = trim(source, circuit, position=2.0)
    assert not found.possible
    assert found.resistor_ohm is None
    assert found.position == pytest.approx(natural)
    assert natural > 2.0
    more = load_circuit("gated-first-order", changes={**plain, "output.ground_resistor": found.ground_resistor_ohm})
    assert unity(source, more).position == pytest.approx(2.0, abs=0.15)
    assert unity(source, more).position <= 2.0
    assert found.missing_db == pytest.approx(
        -rendered_gain_db(line, with_settings(circuit, {"knobs.volume": 2.0}), "loudness"), abs=0.01
    )


def test_unity_at_nought_is_impossible(line):
    circuit = load_circuit("gated-first-order")
    found = trim(output_sources(line, circuit), circuit, position=0.0)
    assert (found.possible, found.resistor_ohm, found.ground_resistor_ohm) == (False, None, None)


def test_where_unity_is_already_no_trim_is_needed(line):
    circuit = load_circuit("gated-first-order")
    source = output_sources(line, circuit)
    found = trim(source, circuit, position=unity(source, circuit).position)
    assert (found.possible, found.resistor_ohm, found.takes_out_db) == (True, None, 0.0)


@pytest.mark.parametrize("position", [-0.1, 10.5, math.nan, math.inf])
def test_a_position_that_no_knob_has_is_refused(line, position):
    circuit = load_circuit("gated-open")
    with pytest.raises(CircuitError, match="unity can be at 0 to 10"):
        trim(output_sources(line, circuit), circuit, position=position)
