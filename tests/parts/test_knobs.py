"""What a knob sets over its travel, how evenly, and where another circuit's sound is on it."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from sublatch.circuit.components.pots import wiper_fraction
from sublatch.circuit.load import load_circuit
from sublatch.circuit.response import response
from sublatch.demo.strings import pluck
from sublatch.errors import AudioDataError, CircuitError, OutputError
from sublatch.json_data import plain_values
from sublatch.parts.knobs.plot import knobs_png
from sublatch.parts.knobs.report import knobs
from sublatch.parts.knobs.travel import TWITCHY, knob_curve, most_even, position_of_corner, with_taper
from sublatch.pictures.file import MAKER, guard_picture, write_picture
from sublatch.signal.chain import output_sources
from sublatch.signal.unity import unity
from sublatch.takes.take import take_from_samples

RATE = 16000
OWN = {
    "filter": {
        "kind": "network",
        "parts": [
            {
                "part": "rheostat",
                "name": "P1",
                "pot": {"value": "100k", "taper": "linear"},
                "end_resistor": "3k",
                "between": ["in", "a"],
            },
            {"part": "capacitor", "name": "C1", "value": "10n", "between": ["a", "ground"]},
            {"part": "op-amp", "name": "U1", "plus": "a", "minus": "out", "output": "out"},
        ],
    }
}


@pytest.fixture(scope="module")
def line():
    notes = [pluck(hz, seconds=0.8, sample_rate=RATE, level_volts=0.3) for hz in (41.2, 61.7, 82.4)]
    return take_from_samples(np.concatenate(notes), RATE, name="line")


def second_order_corner_hz(ohm, ground_farad, feedback_farad):
    """Corner of a unity-gain second-order low-pass with equal resistors, in closed form."""
    natural = 1 / (2 * math.pi * ohm * math.sqrt(ground_farad * feedback_farad))
    q = math.sqrt(feedback_farad / ground_farad) / 2
    u = 1 - 1 / (2 * q * q)
    return natural * math.sqrt(u + math.sqrt(u * u + 1))


def test_the_tone_knob_shows_the_filters_corner():
    curve = knob_curve(load_circuit("gated-swept"), "tone")
    lower = np.array([wiper_fraction(p, taper="reverse-log", midpoint=0.15) for p in curve.position.tolist()])
    expected = [second_order_corner_hz(3e3 + 100e3 * (1 - share), 12e-9, 22e-9) for share in lower]
    assert curve.value == pytest.approx(expected, rel=1e-6)
    assert (curve.unit, curve.step_unit) == ("Hz", "octaves")


def test_start_resistors_are_in_parallel_with_the_tone_pots_gangs():
    circuit = load_circuit("gated-swept", changes={"filter.start_resistor": "100k"})
    curve = knob_curve(circuit, "tone")
    gangs = [100e3 * (1 - wiper_fraction(p, taper="reverse-log", midpoint=0.15)) for p in curve.position.tolist()]
    expected = [second_order_corner_hz(3e3 + gang * 100e3 / (gang + 100e3), 12e-9, 22e-9) for gang in gangs]
    assert curve.value == pytest.approx(expected, rel=1e-6)
    assert position_of_corner(circuit, expected[6]) == pytest.approx(3.0, abs=1e-3)
    other = with_taper(circuit, "tone", "linear", 0.15)
    assert knob_curve(other, "tone").value[[0, -1]] == pytest.approx([expected[0], expected[-1]], rel=1e-6)


def test_the_volume_knob_shows_the_dividers_gain():
    """Linear pot of 100 kΩ into 1 MΩ, against the same fully clockwise."""
    curve = knob_curve(load_circuit("gated-first-order"), "volume")
    alpha = curve.position[1:] / 10
    expected = 20 * np.log10(alpha / (1 + alpha * (1 - alpha) * 0.1))
    assert curve.value[1:] == pytest.approx(expected, abs=0.001)
    assert np.isnan(curve.value[0])


def test_the_direct_knob_works_into_the_mixing_resistors():
    """Linear pot of 10 kΩ, its wiper through 22 kΩ + 22 kΩ to the filter's output, which stands still."""
    curve = knob_curve(load_circuit("gated-first-order"), "direct")
    alpha = curve.position[1:] / 10
    expected = 20 * np.log10(alpha / (1 + alpha * (1 - alpha) * 10 / 44))
    assert curve.value[1:] == pytest.approx(expected, abs=0.001)


def test_steps_are_sought_between_whole_positions_too():
    """A linear volume pot: from 0.5 to 1.5 is a ratio of 3, as far as its load lets it be; 0 to 0.5 does not count."""
    curve = knob_curve(load_circuit("gated-first-order", changes={"output.load": "100M"}), "volume")
    assert curve.steepest_at == 0.5
    assert curve.steepest_per_step == pytest.approx(20 * math.log10(3), abs=0.01)
    assert curve.gentlest_per_step == pytest.approx(20 * math.log10(10 / 9), abs=0.01)


@pytest.mark.parametrize(
    ("taper", "midpoint", "twitchy"),
    [("linear", 0.15, True), ("reverse-log", 0.15, False), ("reverse-log", 0.2, True), ("log", 0.15, True)],
)
def test_a_knob_is_twitchy_past_two_thirds_of_an_octave_a_step(taper, midpoint, twitchy):
    circuit = with_taper(load_circuit("gated-swept"), "tone", taper, midpoint)
    curve = knob_curve(circuit, "tone")
    assert TWITCHY["octaves"] == pytest.approx(2 / 3)
    assert curve.twitchy == twitchy
    hertz = np.array([response(circuit.model_copy(update={"knobs": circuit.knobs.model_copy(update={"tone": p})}))
                      .corner_hz for p in (9.0, 10.0)])  # fmt: skip
    if taper in ("linear", "log"):
        assert curve.steepest_per_step == pytest.approx(math.log2(hertz[1] / hertz[0]), rel=1e-9)


def test_the_most_even_taper_has_the_least_spread_of_all():
    circuit = with_taper(load_circuit("gated-swept"), "tone", "linear", 0.15)
    best = most_even(circuit, "tone")
    assert (best.taper, best.midpoint) == ("reverse-log", 0.15)
    for taper, midpoint in (("linear", 0.15), ("log", 0.1), ("reverse-log", 0.1), ("reverse-log", 0.2)):
        assert knob_curve(with_taper(circuit, "tone", taper, midpoint), "tone").spread > best.spread + 0.1


def test_a_pot_of_an_odd_midpoint_stays_where_none_that_is_sold_is_better():
    circuit = load_circuit("gated-swept", changes={"filter.pot.midpoint": 0.149})
    assert most_even(circuit, "tone").midpoint == 0.149


def test_a_volume_pot_is_most_even_with_a_log_taper():
    assert most_even(load_circuit("gated-first-order"), "volume").taper == "log"
    assert knob_curve(load_circuit("gated-first-order"), "volume").twitchy


def test_a_network_of_the_users_own_has_its_tone_knob():
    circuit = load_circuit("gated-open", changes=OWN)
    curve = knob_curve(circuit, "tone")
    expected = 1 / (2 * math.pi * 10e-9 * (3e3 + 1e5 * (1 - curve.position / 10)))
    assert curve.value == pytest.approx(expected, rel=1e-6)
    assert most_even(circuit, "tone").taper == "reverse-log"


@pytest.mark.parametrize("position", [0.0, 1.3, 5.0, 9.99])
def test_a_corner_is_found_on_the_knob(position):
    circuit = load_circuit("polarity-swept", changes={"knobs.tone": position})
    corner_hz = response(circuit).corner_hz
    assert position_of_corner(load_circuit("polarity-swept"), corner_hz) == pytest.approx(position, abs=0.001)


@pytest.mark.parametrize("corner_hz", [50.0, 5000.0])
def test_a_corner_that_the_sweep_does_not_reach_is_nowhere(corner_hz):
    assert position_of_corner(load_circuit("gated-swept"), corner_hz) is None


def test_what_cannot_be_is_refused():
    fixed, swept = load_circuit("gated-first-order"), load_circuit("gated-swept")
    with pytest.raises(CircuitError, match=r"has no knob 'tone', only volume, direct"):
        knob_curve(fixed, "tone")
    with pytest.raises(CircuitError, match=r"has no tone knob .* try -c gated-swept"):
        knobs(fixed, same_as=swept)
    for wrong, words in ((11.0, "got 11; was it meant as 1.1"), (-1.0, "got -1"), (math.nan, "got nan")):
        with pytest.raises(CircuitError, match=f"unity can be at 0 to 10 of the volume knob, {words}"):
            knobs(swept, unity_at=wrong)
    with pytest.raises(AudioDataError, match="is silent"):
        knobs(swept, take=take_from_samples(np.zeros(8000), 8000))


def test_everything_is_plain_json_with_the_promised_keys(line):
    circuit = load_circuit("gated-swept")
    told = plain_values(knobs(circuit, take=line, unity_at=6.0, same_as=load_circuit("gated-first-order")))
    assert json.loads(json.dumps(told, allow_nan=False)) == told
    assert {"knobs", "unity_position", "excess_gain_db", "trim_resistor_ohm"} <= told.keys()
    assert {"tone", "peak", "direct", "difference_db"} <= told["same_as"].keys()
    assert [knob["name"] for knob in told["knobs"]] == ["tone", "volume", "direct"]
    for knob in told["knobs"]:
        assert [one["position"] for one in knob["positions"]] == list(range(11))
        assert {"position", "value", "unit"} == knob["positions"][0].keys()
        assert knob["steepest_per_step"] > 0.0
    assert told["knobs"][1]["positions"][0]["value"] is None
    assert told["unity"][0] | {"position": told["unity_position"]} == told["unity"][0]
    assert [(one["heard"], one["measure"]) for one in told["unity"][:2]] == [("line", "loudness"), ("line", "rms")]
    assert told["trim_resistor_ohm"] == told["trim"]["resistor_ohm"]


def test_without_a_take_a_tone_stands_in_and_says_so():
    found = knobs(load_circuit("gated-first-order"))
    assert [one.heard for one in found.unities] == ["a sine of 82.4 Hz, 0.2 V peak"]
    assert found.unities[0].measure == "rms"
    assert found.trim is found.same_as is None


@pytest.mark.long
@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"title": "größer $x$ 低音" * 30},
        {"detector.kind": "overtone", "output.ground_resistor": "100M", "output.trim_resistor": "1M"},
    ],
)
def test_the_picture_is_drawn_whatever_there_is_to_show(tmp_path, changes):
    circuit = load_circuit("polarity-swept", changes=changes)
    found = knobs(circuit, same_as=load_circuit("gated-first-order"))
    write_picture(tmp_path / "a.png", knobs_png(found, software=MAKER))
    data = (tmp_path / "a.png").read_bytes()
    assert data.startswith(b"\x89PNG")
    assert int.from_bytes(data[16:20], "big") == 1320
    guard_picture(tmp_path / "a.png", inputs=[], overwrite=False)


def test_the_picture_shows_what_it_is_given():
    found = knobs(load_circuit("gated-swept"), same_as=load_circuit("gated-first-order"))
    pictures = [knobs_png(one) for one in (found, replace(found, same_as=None), found)]
    assert pictures[0] == pictures[2] != pictures[1]


def test_a_picture_of_someone_elses_is_not_replaced(tmp_path):
    path = tmp_path / "a.png"
    path.write_bytes(b"\x89PNG mine")
    with pytest.raises(OutputError, match="was not made by sublatch"):
        guard_picture(path, inputs=[], overwrite=False)
    guard_picture(path, inputs=[], overwrite=True)
    with pytest.raises(OutputError, match="so it cannot be written to as well"):
        guard_picture(path, inputs=[path], overwrite=True)
    with pytest.raises(OutputError, match=r"must end in \.png"):
        guard_picture(tmp_path / "a.jpg", inputs=[], overwrite=True)


@pytest.mark.long
def test_what_was_found_is_in_the_circuit(line):
    """Measured again with what stands in it: unity at its volume, the trim resistor, and the setting that was found."""
    start = load_circuit("gated-swept", changes={"knobs.volume": 1, "output.trim_resistor": "none"})
    old = load_circuit("gated-first-order")
    for more in ({}, {"unity_at": 8.0}, {"same_as": old}, {"unity_at": 9.0, "same_as": old}):
        found = knobs(start, take=line, **more)
        settled = found.circuit
        assert unity(output_sources(line, settled), settled).set_gain_db == pytest.approx(0.0, abs=0.05)
        assert (settled.output.trim_resistor is not None) == ("unity_at" in more)
        assert settled.knobs.volume == pytest.approx(more.get("unity_at", found.unity_position), abs=0.15)
        if "same_as" in more:
            nearest = found.same_as.nearest
            assert (settled.tone, settled.peak, settled.knobs.direct) == (nearest.tone, nearest.peak, nearest.direct)
        else:
            assert (settled.knobs.tone, settled.switches.peak) == (start.knobs.tone, start.switches.peak)


def test_a_volume_that_is_too_soft_everywhere_stays_at_10():
    found = knobs(load_circuit("gated-open", changes={"output.ground_resistor": "100M"}))
    assert found.settled_position is None
    assert found.circuit.knobs.volume == 10.0
