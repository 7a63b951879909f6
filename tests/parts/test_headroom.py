"""Headroom against the closed form of a clipped sine, and against the renderer's own limits."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.demo.strings import pluck
from sublatch.parts.knobs.headroom import headroom, op_amps, peak_cost_db
from sublatch.signal.chain import output_sources, render
from sublatch.signal.node_voltages import OutputSources
from sublatch.takes.take import take_from_samples

RATE = 16000


def sine_through(amplitude, *, name="gated-open", changes=None, frequency_hz=997.0):
    """A circuit of ideal parts whose octave stage gives a sine, whatever the detector would do."""
    t = np.arange(RATE) / RATE
    samples = amplitude * np.sin(2 * np.pi * frequency_hz * t)
    circuit = load_circuit(name, changes={"devices.values": "ideal", **(changes or {})})
    return OutputSources(take_from_samples(samples, RATE), samples, samples), circuit


def accents():
    return take_from_samples(
        np.concatenate([pluck(hz, seconds=0.7, sample_rate=RATE, level_volts=1.0) for hz in (41.2, 61.7, 82.4)]), RATE
    )


@pytest.mark.parametrize("volume", [3.0, 7.0, 10.0])
def test_a_sine_is_at_the_limits_as_long_as_the_closed_form_says(volume):
    """Mix ½, buffer 11, linear pot: amplitude A against L = V/2 − 1.5 V; share (2/π)·acos(L/A)."""
    source, circuit = sine_through(1.0, changes={"knobs.volume": volume, "output.load": "100M"})
    row = headroom(source, circuit, unity_position=None)[0]
    assert row.at == "set"
    amplitude = 0.5 * volume / 10 * 11.0
    for one in row.supplies:
        limit = one.supply_volts / 2 - 1.5
        assert one.headroom_db == pytest.approx(20 * math.log10(limit / amplitude), abs=0.05)
        expected = 2 / math.pi * math.acos(min(limit / amplitude, 1.0))
        assert one.at_limit_share == pytest.approx(expected, abs=0.01)
    assert [one.supply_volts for one in row.supplies] == [9.6, 9.0, 7.5, 6.0]


def test_a_bias_off_the_middle_costs_headroom_on_its_near_side():
    """Bias 0.4 of 9 V: 3.6 V, so 2.1 V down and 3.9 V up; the lower side counts."""
    source, circuit = sine_through(0.2, changes={"knobs.volume": 10, "output.load": "100M", "output.bias": 0.4})
    row = headroom(source, circuit, unity_position=None)[0]
    assert row.at == "set"
    assert row.node_headroom_db["output buffer"] == pytest.approx(20 * math.log10(2.1 / 1.1), abs=0.05)


def test_a_supply_that_leaves_no_room_is_told_as_such():
    source, circuit = sine_through(0.2, changes={"output.low_margin": "3.2V"})
    row = headroom(source, circuit, unity_position=None)[0]
    assert (row.supplies[-1].headroom_db, row.supplies[-1].at_limit_share) == (None, 1.0)
    assert row.supplies[0].headroom_db is not None


BETWEEN_DB = 0.05
"""How far a peak may rise between the samples, by which headroom is told; the renderer clips there too."""


@pytest.mark.parametrize("name", ["gated-first-order", "polarity-swept"])
def test_it_agrees_with_the_renderer(name):
    take = accents()
    circuit = load_circuit(name, changes={"knobs.volume": 10})
    rows = headroom(output_sources(take, circuit), circuit, unity_position=None)
    assert {row.at for row in rows} == {"set", "full", "clips"}
    seen = 0
    for row in (row for row in rows if row.at != "clips"):
        for one in row.supplies:
            changes = {"knobs.volume": 10, "supply": one.supply_volts}
            if row.peak:
                changes["switches.peak"] = row.peak
            share = render(take, load_circuit(name, changes=changes)).at_limit_share
            assert one.at_limit_share == pytest.approx(share, abs=2e-4)
            if abs(one.headroom_db) > BETWEEN_DB:
                assert (one.headroom_db < 0.0) == (share > 0.0)
            seen += share > 0.0
    assert seen


def test_every_op_amp_is_named_in_order():
    assert list(op_amps(load_circuit("gated-swept"))) == ["output filter", "mix follower", "output buffer"]
    assert list(op_amps(load_circuit("gated-open"))) == ["mix follower", "output buffer"]


@pytest.mark.parametrize(
    ("changes", "first"),
    [
        ({}, "output buffer"),
        ({"knobs.volume": 0.5}, "input follower"),
        ({"knobs.volume": 0.5, "switches.peak": "peaked"}, "output filter"),
    ],
)
def test_the_first_to_reach_its_limits_is_named(changes, first):
    """With the volume down the buffer has room; a sine at the peak of the filter is 3.8 dB larger after it."""
    settings = {"knobs.tone": 4, **changes}
    source, circuit = sine_through(1.0, name="gated-swept", changes=settings, frequency_hz=460.0)
    rows = headroom(source, circuit, unity_position=None)
    row = next(one for one in rows if one.peak == circuit.peak)
    assert row.first == first
    assert row.first == min(row.node_headroom_db, key=row.node_headroom_db.get)
    assert row.node_headroom_db["input follower"] == pytest.approx(20 * math.log10(3.0), abs=0.01)


def second_order_gain(frequency_hz, ohm, ground_farad, feedback_farad):
    """|1 / (1 + 2 s R Cg + s² R² Cg Cf)|."""
    s = 2j * math.pi * frequency_hz
    return abs(1 / (1 + 2 * s * ohm * ground_farad + s * s * ohm**2 * ground_farad * feedback_farad))


def test_the_peaked_position_costs_what_the_filter_adds():
    """A sine at the peak's frequency: the difference is the two responses' difference there."""
    _, circuit = sine_through(0.1, name="gated-swept", changes={"knobs.tone": 4})
    samples = np.hanning(RATE) * np.sin(2 * np.pi * 460.0 * np.arange(RATE) / RATE)  # no start for it to overshoot at
    source = OutputSources(take_from_samples(samples, RATE), samples, samples)
    rows = headroom(source, circuit, unity_position=6.0)
    ohm = circuit.filter.end_resistor + circuit.filter.pot.resistances(4.0)[1]
    flat, peaked = (second_order_gain(460.0, ohm, *farads) for farads in ((12e-9, 22e-9), (5.6e-9, 47e-9)))
    expected = 20 * math.log10(peaked / flat)
    assert expected > 5.0
    assert peak_cost_db(rows, "unity") == pytest.approx(expected, abs=0.02)
    assert peak_cost_db(rows, "set") == pytest.approx(expected, abs=0.02)


def test_without_the_switch_the_peak_costs_nothing_that_could_be_told():
    source, circuit = sine_through(0.1)
    rows = headroom(source, circuit, unity_position=3.0)
    assert [(row.at, row.volume, row.peak, row.tone) for row in rows] == [
        ("unity", 3.0, None, None),
        ("set", 2.5, None, None),
        ("full", 10.0, None, None),
    ]
    assert peak_cost_db(rows, "set") is None
    assert [row.hardest for row in rows] == [None] * 3


@pytest.mark.parametrize("amplitude", [0.7, 1.0, 2.0])
@pytest.mark.parametrize("load", [10e3, 100e6])
def test_clipping_begins_where_the_closed_form_says(amplitude, load):
    """Mix ½, buffer 11, linear 100 kΩ into a load: p/10 ∥ load of the track, times 5.5 A, is 3 V."""
    _, circuit = sine_through(amplitude, changes={"output.load": load})
    samples = amplitude * np.hanning(RATE) * np.sin(2 * np.pi * 997.0 * np.arange(RATE) / RATE)  # no start to overshoot
    source = OutputSources(take_from_samples(samples, RATE), samples, samples)
    rows = {row.at: row for row in headroom(source, circuit, unity_position=None)}
    below = np.linspace(0.0, 1e5, 100001)
    loaded = below * load / (below + load)
    share = 5.5 * amplitude * loaded / (1e5 - below + loaded)
    begins = 10.0 * below[np.flatnonzero(share >= 3.0)[0]] / 1e5
    assert rows["clips"].volume == pytest.approx(begins, abs=0.01)
    assert rows["clips"].node_headroom_db["output buffer"] == pytest.approx(0.0, abs=0.02)
    assert rows["full"].volume == 10.0
    assert rows["full"].node_headroom_db["output buffer"] == pytest.approx(
        20 * math.log10(3 / 5.5 / amplitude), abs=0.05
    )


def test_where_nothing_clips_there_is_no_such_row():
    source, circuit = sine_through(0.3)
    assert [row.at for row in headroom(source, circuit, unity_position=None)] == ["set", "full"]


@pytest.mark.long
@pytest.mark.parametrize("name", ["gated-swept", "polarity-swept"])
def test_the_hardest_tone_is_where_the_output_is_largest(name):
    """Against every tenth of the knob: several places may be hard, and the one that is told is within 0.1 dB of all.

    Parts are ideal, so that the output has 28.5 V on either side.
    """
    take = accents()
    changes = {"switches.peak": "peaked", "supply": "60V", "devices.values": "ideal"}
    circuit = load_circuit(name, changes=changes)
    rows = headroom(output_sources(take, circuit), circuit, unity_position=4.0)
    tones = [round(0.1 * place, 1) for place in range(101)]
    for at, volume in (("unity", 4.0), ("set", circuit.knobs.volume)):
        told = next(row.hardest for row in rows if (row.at, row.peak) == (at, "peaked"))
        peaks = [
            np.max(np.abs(render(take, with_settings(circuit, {"knobs.tone": t, "knobs.volume": volume})).samples))
            for t in tones
        ]
        assert told.headroom_db == pytest.approx(20 * math.log10(28.5 / max(peaks)), abs=0.1)
        assert told.headroom_db == pytest.approx(20 * math.log10(28.5 / peaks[tones.index(told.tone)]), abs=0.01)
        assert max(peaks) > 1.05 * peaks[0]


def test_the_hardest_tone_says_how_long_the_output_clips_there():
    """Past the limits there, within them as the knob is set; the renderer's own limits agree."""
    take = accents()
    changes = {"detector.kind": "peak-latch", "knobs.volume": 10, "knobs.tone": 0, "switches.peak": "peaked"}
    circuit = load_circuit("gated-swept", changes=changes)
    rows = headroom(output_sources(take, circuit), circuit, unity_position=None)
    row = next(one for one in rows if one.peak == "peaked")
    assert row.node_headroom_db["output buffer"] > 0.0 > row.hardest.headroom_db
    heard = render(take, with_settings(circuit, {"knobs.tone": row.hardest.tone}))
    assert row.hardest.at_limit_share == pytest.approx(heard.at_limit_share, abs=2e-4)
    assert heard.at_limit_share > 0.001


def test_silence_has_all_the_room():
    silent = take_from_samples(np.zeros(RATE), RATE)
    circuit = load_circuit("gated-swept")
    rows = headroom(OutputSources(silent, np.zeros(RATE), np.zeros(RATE)), circuit, unity_position=None)
    assert rows[0].first is None
    assert [one.at_limit_share for one in rows[0].supplies] == [0.0] * 4
    assert rows[0].hardest is None
