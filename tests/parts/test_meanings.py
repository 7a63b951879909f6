"""Settings for a corner, a peak or a place of unity, held against closed forms."""

from __future__ import annotations

import math

import pytest

import box_lines
from sublatch.circuit.load import load_circuit
from sublatch.circuit.response import response
from sublatch.errors import CircuitError
from sublatch.parts.fit.meanings import settings_for
from sublatch.signal.chain import output_sources
from sublatch.signal.unity import tone_take, unity
from sublatch.units import farads, ohms


def changed(name, wanted, changes=None):
    """Return a circuit brought to what is wanted, by way of a plan's settings, and these."""
    settings = settings_for(load_circuit(name, changes=changes), wanted)
    return load_circuit(name, changes={**(changes or {}), **settings}), settings


@pytest.mark.parametrize("corner", ["150Hz", 300.0, "1k2"])
def test_a_first_order_corner_is_that_of_r_and_c(corner):
    circuit, settings = changed("gated-first-order", {"corner": corner})
    hertz = {"150Hz": 150.0, "1k2": 1200.0}.get(corner, corner)
    assert ohms(settings["filter.resistor"]) == pytest.approx(1.0 / (2.0 * math.pi * hertz * 15e-9), rel=1e-3)
    assert list(settings) == ["filter.resistor"]
    assert box_lines.corner_hz(circuit) == pytest.approx(hertz, rel=1e-3)


@pytest.mark.parametrize("kind", ["second-order", "third-order"])
def test_a_corner_keeps_the_curve(kind):
    changes = {"filter.kind": kind}
    before = load_circuit("polarity-third-order", changes=changes)
    after, _ = changed("polarity-third-order", {"corner": "500Hz"}, changes)
    assert box_lines.corner_hz(after) == pytest.approx(500.0, rel=1e-3)
    for share in (0.3, 1.0, 3.0):  # of the corner
        there, here = (abs(box_lines.filter_gain(c.filter, share * box_lines.corner_hz(c))) for c in (before, after))
        assert here == pytest.approx(there, rel=2e-3)


def test_a_swept_corner_is_a_place_of_the_knob():
    circuit, settings = changed("gated-swept", {"corner": "300Hz"}, {"switches.peak": "peaked"})
    assert list(settings) == ["knobs.tone"]
    assert response(circuit).corner_hz == pytest.approx(300.0, rel=2e-3)


@pytest.mark.parametrize("kind", ["swept-second-order", "swept-state-variable"])
@pytest.mark.parametrize("peak_db", [0.0, 2.0, 8.0])
def test_a_peak_and_a_corner_together(kind, peak_db):
    changes = {"filter.kind": kind, "knobs.tone": 5}
    circuit, settings = changed("gated-swept", {"corner": "400Hz", "peak": peak_db}, changes)
    there = response(circuit)
    assert there.corner_hz == pytest.approx(400.0, rel=3e-3)
    assert there.peak_db == pytest.approx(peak_db, abs=0.02)
    assert settings["switches.peak"] == "peaked"
    before = load_circuit("gated-swept", changes={"filter.kind": kind})
    for name in [path.split(".")[1] for path in settings if path.endswith("flat")]:
        assert getattr(circuit.filter, name).flat == getattr(before.filter, name).flat


def test_a_peak_without_a_switch_keeps_the_corner():
    changes = {"filter.kind": "second-order"}
    before = response(load_circuit("gated-open", changes=changes)).corner_hz
    circuit, settings = changed("gated-open", {"peak": "3dB"}, changes)
    assert response(circuit).corner_hz == pytest.approx(before, rel=2e-3)
    cf, cg = (farads(settings[f"filter.{name}_capacitor"]) for name in ("feedback", "ground"))
    power = 10.0**0.3
    assert 0.5 * math.sqrt(cf / cg) == pytest.approx(math.sqrt((power + math.sqrt(power**2 - power)) / 2), rel=2e-3)


@pytest.mark.parametrize("position", [1.0, 4.0, 8.5])
def test_unity_is_where_it_is_wanted(position):
    circuit, settings = changed("polarity-third-order", {"unity": position})
    assert box_lines.unity_position(circuit) == pytest.approx(position, abs=0.02)
    assert circuit.knobs.volume == position
    assert ("output.ground_resistor" in settings) == (position == 1.0)  # where gain is missing


def test_unity_follows_the_corner_that_is_wanted_with_it():
    circuit, _ = changed("gated-first-order", {"unity": 6, "corner": "120Hz"})
    assert unity(output_sources(tone_take(), circuit), circuit, measure="rms").position == pytest.approx(6.0, abs=0.02)
    assert response(circuit).corner_hz == pytest.approx(120.0, rel=1e-3)


@pytest.mark.parametrize(
    ("name", "wanted", "message"),
    [
        ("gated-swept", {"corner": "9kHz"}, "the tone knob sweeps the corner from 90.9 Hz to 3.12 kHz, not to 9 kHz"),
        ("gated-open", {"corner": "300Hz"}, "a filter of kind 'none' has no corner, wanted is 300 Hz"),
        ("gated-first-order", {"peak": "3dB"}, "a first-order filter with these parts has no peak, not 3 dB"),
        ("gated-swept", {"peak": "40dB"}, "peak must be 0 to 24 dB, got 40"),
        ("gated-first-order", {"corner": "3 apples"}, "corner: a frequency is written like 300Hz"),
        ("gated-first-order", {"unity": "three"}, "unity must be a position from 0 to 10, got 'three'"),
        ("gated-first-order", {"unity": 30}, "a knob's position must be 0"),
        (
            "gated-first-order",
            {"unity": 0},
            "the output buffer has no gain that puts unity at 0; as it is, it is at 2.38",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_the_nearest(name, wanted, message):
    with pytest.raises(CircuitError, match=message):
        settings_for(load_circuit(name), wanted)
