"""What the trade takes for granted of such circuits: common practice, no source. The built-in circuits must agree."""

import numpy as np
import pytest
from scipy.optimize import brentq

from sublatch.circuit.components.preferred import is_preferred
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.circuit.response import response
from sublatch.demo.takes import demo_takes
from sublatch.sampling.levels import levels
from sublatch.signal.chain import render
from sublatch.takes.take import take_from_samples

SWEPT = ("gated-swept", "polarity-swept")


def corner_hz(name, **changes):
    return response(load_circuit(name, changes={f"knobs.{k}": v for k, v in changes.items()})).corner_hz


def test_a_first_order_output_filter_sits_near_270_to_280_hz():
    assert 270 <= corner_hz("gated-first-order") <= 280


def test_a_third_order_output_filter_sits_near_300_hz():
    found = response(load_circuit("polarity-third-order"))
    assert found.corner_hz == pytest.approx(300, rel=0.02)
    assert found.peak_db < 0.05


@pytest.mark.parametrize("name", SWEPT)
def test_a_swept_filter_spans_100_hz_to_3_khz(name):
    assert corner_hz(name, tone=0) <= 100
    assert corner_hz(name, tone=10) >= 3000
    assert corner_hz(name, tone=0) == pytest.approx(100, rel=0.1)
    assert corner_hz(name, tone=10) == pytest.approx(3000, rel=0.1)


@pytest.mark.parametrize("name", SWEPT)
@pytest.mark.parametrize("tone", [0, 2, 5, 8, 10])
def test_its_peak_is_3_5_to_4_db_peaked_and_none_flat(name, tone):
    changes = {"knobs.tone": tone}
    assert response(load_circuit(name, changes=changes)).peak_db == 0.0
    assert 3.5 <= response(load_circuit(name, changes={**changes, "switches.peak": "peaked"})).peak_db <= 4.0


@pytest.mark.parametrize("name", SWEPT)
def test_the_275_hz_setting_is_near_3_to_3_5_of_10(name):
    position = brentq(lambda tone: corner_hz(name, tone=tone) - 275, 0, 10)
    assert 3.0 <= position <= 3.5


@pytest.mark.parametrize("name", SWEPT)
def test_the_tone_knob_is_evenly_spread(name):
    """About half an octave a step, nowhere more than twice the least."""
    steps = np.diff(np.log2([corner_hz(name, tone=tone) for tone in range(11)]))
    assert np.sum(steps) == pytest.approx(5, abs=0.3)
    assert steps.max() < 2 * steps.min() + 0.1


@pytest.fixture(scope="module")
def line():
    """The invented walking line, in volts."""
    return take_from_samples(demo_takes(24000)["walking-line"], 24000)


def effect_gain_db(take, name, **knobs):
    out = render(take, load_circuit(name, changes={f"knobs.{key}": value for key, value in knobs.items()})).samples
    heard = levels(out, sample_rate=take.sample_rate), levels(take.samples, sample_rate=take.sample_rate)
    return heard[0].loudness_lufs - heard[1].loudness_lufs


@pytest.mark.parametrize("name", ["gated-first-order", "polarity-third-order"])
def test_unity_is_near_3_of_10_on_a_linear_pot_with_10_to_12_db_in_hand(line, name):
    unity = brentq(lambda volume: effect_gain_db(line, name, volume=volume), 1, 10, xtol=0.02)
    assert unity == pytest.approx(3, abs=0.5)
    assert 10 <= effect_gain_db(line, name, volume=10) <= 12.5


def test_an_audio_taper_and_a_5_db_trim_put_unity_near_7(line):
    changes = {"output.trim_resistor": "75k", "output.pot.taper": "log", "output.pot.midpoint": "20%"}

    def gain(volume):
        circuit = load_circuit("gated-first-order", changes={**changes, "knobs.volume": volume})
        out = render(line, circuit).samples
        heard = levels(out, sample_rate=line.sample_rate), levels(line.samples, sample_rate=line.sample_rate)
        return heard[0].loudness_lufs - heard[1].loudness_lufs

    assert brentq(gain, 3, 10, xtol=0.02) == pytest.approx(7, abs=0.6)


@pytest.mark.parametrize("name", SWEPT)
def test_the_swept_circuits_have_unity_near_7(line, name):
    unity = brentq(lambda volume: effect_gain_db(line, name, volume=volume, tone=3.2), 3, 10, xtol=0.02)
    assert unity == pytest.approx(7, abs=0.6)


@pytest.mark.parametrize("name", circuit_names())
def test_every_part_can_be_bought(name):
    """Capacitors from E12, resistors from E24, pots from the usual 1, 2.2, 2.5, 4.7, 5 of a decade (10k, 100k here)."""

    def values(data, path=""):
        for key, value in data.items():
            if isinstance(value, dict):
                yield from values(value, f"{path}{key}.")
            elif isinstance(value, float):
                yield f"{path}{key}", value

    for path, value in values(load_circuit(name).model_dump()):
        if "capacitor" in path or "coupling" in path:
            assert is_preferred(value, "E12"), path
        elif "resist" in path or path.endswith("load"):
            assert is_preferred(value, "E24"), path
        elif path.endswith("pot.value"):
            assert value in (10e3, 100e3), path
