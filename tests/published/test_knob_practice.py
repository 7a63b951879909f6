"""What the trade takes for granted of knobs and levels, as `knobs` shows it: common practice, no source.

Unity near 3 of 10 on a linear volume pot, with about 10 to 12 dB in hand; near 7 with an audio taper and a 5 dB trim.
A sweep of 100 Hz to 3 kHz with a peak of 3.5 to 4 dB is pleasant; 100 Hz to 5 kHz with 7.5 dB is twitchy, and overloads
the output where the other does not.
"""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.circuit.response import response
from sublatch.circuit.with_settings import with_settings
from sublatch.demo.takes import demo_takes
from sublatch.parts.choose.job import choose
from sublatch.parts.choose.request import ChooseRequest
from sublatch.parts.knobs.headroom import headroom
from sublatch.parts.knobs.travel import TWITCHY, knob_curve, position_of_corner
from sublatch.parts.knobs.trim import trim
from sublatch.signal.chain import output_sources
from sublatch.signal.unity import unity
from sublatch.takes.take import take_from_samples

RATE = 24000
WIDE = {"low_hz": 100.0, "high_hz": 5000.0, "peak_db": 7.5, "capacitors": "E24"}
PLEASANT = {"low_hz": 100.0, "high_hz": 3000.0, "peak_db": 4.0, "capacitors": "E24"}
"""What the trade says of two sweeps, as one would ask `choose` for their parts; finer capacitors come nearer to it."""
AUDIO = {"output.pot.taper": "log", "output.pot.midpoint": "20%"}
LATCH = {"detector.kind": "peak-latch", "switches.drive": "inverted"}
"""How loud an octave is hangs on where in the note it switches: what the trade says of levels is of one such box."""


@pytest.fixture(scope="module")
def takes():
    made = demo_takes(RATE)
    return {name: take_from_samples(made[name], RATE, name=name) for name in ("walking-line", "hard-accents")}


@pytest.fixture(scope="module")
def wide():
    return choose(ChooseRequest(**WIDE)).changes


@pytest.fixture(scope="module")
def pleasant():
    return choose(ChooseRequest(**PLEASANT)).changes


@pytest.mark.parametrize("name", ["gated-first-order", "gated-open", "polarity-third-order"])
def test_unity_is_near_3_of_10_on_a_linear_pot_with_10_to_12_db_in_hand(takes, name):
    circuit = load_circuit(name)
    assert circuit.output.pot.taper == "linear"
    found = unity(output_sources(takes["walking-line"], circuit), circuit)
    assert found.position == pytest.approx(3.0, abs=0.5)
    assert 10.0 <= found.excess_gain_db <= 12.5


def test_an_audio_taper_and_a_5_db_trim_put_unity_near_7(takes):
    """What `knobs --unity-at 7` finds by itself is a trim of about 5 dB, on either octave stage."""
    for name in ("gated-first-order", "polarity-third-order"):
        circuit = load_circuit(name, changes=AUDIO | LATCH)
        source = output_sources(takes["walking-line"], circuit)
        trims = (trim(source, circuit, position=wanted) for wanted in (7.0, 7.3, 7.5))
        nearest = min(trims, key=lambda found: abs(found.takes_out_db - 5.0))
        assert nearest.position == pytest.approx(7.0, abs=0.6)
        assert nearest.takes_out_db == pytest.approx(5.0, abs=0.6)


def test_an_audio_taper_alone_leaves_unity_lower_down(takes):
    circuit = load_circuit("gated-first-order", changes=AUDIO)
    assert unity(output_sources(takes["walking-line"], circuit), circuit).position == pytest.approx(5.7, abs=0.3)


@pytest.mark.parametrize("name", ["gated-swept", "polarity-swept"])
def test_the_swept_circuits_have_unity_near_7(takes, name):
    circuit = load_circuit(name)
    assert unity(output_sources(takes["walking-line"], circuit), circuit).position == pytest.approx(7.0, abs=0.6)


@pytest.mark.parametrize("name", ["gated-swept", "polarity-swept"])
def test_a_fixed_filter_of_272_or_275_hz_is_near_3_of_10(name):
    """Measured before by other means: 275 Hz at 3.18. It is where the corner is, not the sound."""
    circuit = load_circuit(name)
    corner_hz = response(load_circuit("gated-first-order")).corner_hz
    assert corner_hz == pytest.approx(272.06, abs=0.01)
    assert position_of_corner(circuit, corner_hz) == pytest.approx(3.15, abs=0.02)
    assert position_of_corner(circuit, 275.0) == pytest.approx(3.18, abs=0.01)


@pytest.mark.parametrize(("sweep", "high_hz", "peak_db"), [("wide", 5000.0, 7.5), ("pleasant", 3000.0, 4.0)])
def test_the_sweeps_are_what_they_are_called(request, sweep, high_hz, peak_db):
    flat = load_circuit("gated-swept", changes=request.getfixturevalue(sweep))
    for peak in ("flat", "peaked"):
        curve = knob_curve(with_settings(flat, {"switches.peak": peak}), "tone")
        assert curve.value[0] == pytest.approx(100.0, rel=0.06)
        assert curve.value[-1] == pytest.approx(high_hz, rel=0.06)
    assert response(flat).peak_db < 0.1
    assert response(with_settings(flat, {"switches.peak": "peaked"})).peak_db == pytest.approx(peak_db, abs=0.25)


def test_a_sweep_to_5_khz_is_twitchy_and_one_to_3_khz_is_not(wide, pleasant):
    wide, pleasant = (knob_curve(load_circuit("gated-swept", changes=one), "tone") for one in (wide, pleasant))
    assert wide.twitchy
    assert not pleasant.twitchy
    assert pleasant.steepest_per_step == pytest.approx(0.5, abs=0.05)
    assert wide.steepest_per_step > TWITCHY["octaves"] + 0.05


@pytest.mark.parametrize(("name", "volts"), [("gated-swept", 1.6), ("polarity-swept", 2.0)])
def test_a_peak_of_7_5_db_overloads_the_output_on_9_v_where_one_of_4_db_does_not(takes, wide, pleasant, name, volts):
    """Slapped accents, the volume at unity, the tone knob turned all the way through, 9 V.

    An electric bass gives 1 to 2 V at its largest when it is slapped (common practice, no source); the gain-gated stage
    meets its limits in the middle of that, the polarity-switched one at its upper end. Played at 0.4 V, as an ordinary
    line is, neither sweep overloads anything. Take, volume and all parts but the filter's are the same for both sweeps;
    each has half a decibel or more to its side of the limits.
    """
    loudest = np.max(np.abs(takes["hard-accents"].samples))
    slapped = take_from_samples(takes["hard-accents"].samples * volts / loudest, RATE, name="slapped")
    wide, pleasant = (load_circuit(name, changes=one | LATCH) for one in (wide, pleasant))
    assert wide.model_copy(update={"filter": pleasant.filter}) == pleasant
    assert wide.supply == 9.0
    at_unity = unity(output_sources(slapped, pleasant), pleasant).position
    assert at_unity == pytest.approx(7.0, abs=0.5)
    assert unity(output_sources(slapped, wide), wide).position == pytest.approx(at_unity, abs=0.05)
    left = {}
    for title, circuit in (("wide", wide), ("pleasant", pleasant)):
        for played in (slapped, takes["walking-line"]):
            rows = headroom(output_sources(played, circuit), circuit, unity_position=at_unity)
            left[title, played.name] = next(row for row in rows if (row.at, row.peak) == ("unity", "peaked"))
            assert left[title, played.name].first == "output buffer"
    assert left["wide", "slapped"].hardest.headroom_db < -0.5
    assert left["wide", "slapped"].hardest.at_limit_share > 0.0
    assert left["pleasant", "slapped"].hardest.headroom_db > 0.5
    assert left["pleasant", "slapped"].hardest.at_limit_share == 0.0
    assert all(left[title, "walking-line"].hardest.headroom_db > 6.0 for title in ("wide", "pleasant"))
