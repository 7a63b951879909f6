"""Margins of edges: closed forms, and a comparator that is run again with offsets at its input."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from oracles import offset_latch
from sublatch.circuit.detectors.thresholds import Side, alike
from sublatch.circuit.devices.catalogue import COMPARATORS
from sublatch.circuit.load import load_circuit
from sublatch.demo.takes import demo_takes
from sublatch.pitch.notes import Note
from sublatch.signal import detector
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import comparator_volts, detected_edges
from sublatch.takes.take import take_from_samples
from sublatch.tracking import margins as job
from sublatch.tracking.lock import Dropout
from sublatch.tracking.margins import Margins, NoteMargin, detected_margins, edge_margins, small_margins

RATE = 48000
CIRCUITS = {
    "latch": load_circuit("gated-open", changes={"detector.kind": "peak-latch"}),
    "inverted": load_circuit("gated-open", changes={"detector.kind": "peak-latch", "switches.drive": "inverted"}),
    "overtone": load_circuit("gated-open", changes={"detector.kind": "overtone"}),
    "logarithmic": load_circuit("gated-open", changes={"detector.kind": "logarithmic-latch"}),
    "fixed": load_circuit("gated-open", changes={"detector.kind": "zero-crossing"}),
}
signals = arrays(float, st.integers(1, 60), elements=st.integers(-40, 40).map(lambda whole: whole / 16))
"""Few values, so that thresholds are met exactly and extremes are flat."""


def fixed(hysteresis):
    """Fixed thresholds."""
    return alike(Side(added_v=hysteresis), setting="hysteresis")


def latch(fraction, hold, floor=0.0):
    """A peak latch whose stores hold so many samples at 1 Hz."""
    return alike(Side(share=fraction, least_v=floor), setting="floor", hold_ohm=hold, hold_farad=1.0)


def margins(samples, thresholds, *, rate=1):
    return edge_margins(np.asarray(samples, dtype=float), sample_rate=rate, thresholds=thresholds)


def run_again(samples, thresholds, offsets):
    """Return whether the latch is set after each sample (n, k), with each of k offsets at its comparator's input."""
    decay, side = _decay(thresholds), thresholds.positive
    law = (side.share, decay, side.least_v)
    return offset_latch(samples, np.asarray(offsets), *law, rest=side.rest_v, added=side.added_v)


def _decay(thresholds):
    """What is left of a store after a sample."""
    return 0.0 if thresholds.fixed else np.exp(-1.0 / thresholds.hold_s)


def changes_in(states):
    """Return after how many samples the latch changes."""
    return np.diff(states, axis=0, prepend=False)


def harmed(samples, thresholds, edges, sizes):
    """Return whether edges (e,) are harmed by offsets against them of so many volts (e, k), all of it run again.

    Harmed is an edge when the comparator does not turn its way once between its place and the next one's: it is lost,
    or there are more of it. The next edge may come early, but after the last one there must be no change back.
    """
    bounds = [*np.flatnonzero(changes_in(run_again(samples, thresholds, [0.0]))), len(samples)]
    against = np.where(np.asarray(edges) % 2 == 0, -1.0, 1.0)[:, np.newaxis] * sizes
    states = run_again(samples, thresholds, against.ravel())
    turned = changes_in(states).reshape(len(samples), *against.shape)
    states = states.reshape(turned.shape)
    harm = np.empty(against.shape, dtype=bool)
    for row, edge in enumerate(edges):
        inside = slice(bounds[edge], bounds[edge + 1])
        is_last = edge == len(bounds) - 2
        its_way = turned[inside, row] & ((states[inside, row] == (edge % 2 == 0)) | is_last)
        harm[row] = its_way.sum(axis=0) != 1
    return harm


def by_search(samples, thresholds):
    """Every edge's margin, from runs with an offset between every two values at which anything can change."""
    decay, side = _decay(thresholds), thresholds.positive
    high = low = side.rest_v
    values = {0.0}
    for x in samples:
        high, low = (max(side.rest_v + (store - side.rest_v) * decay, y) for store, y in ((high, x), (low, -x)))
        upper, lower = (max(side.share * store + side.added_v, side.least_v) for store in (high, low))
        values |= {abs(x - upper), abs(x + lower)}
    steps = np.array(sorted(values))
    between = np.append(0.5 * (steps[1:] + steps[:-1]), steps[-1] + 1.0)
    edges = np.arange(np.count_nonzero(changes_in(run_again(samples, thresholds, [0.0]))))
    return steps[np.argmax(harmed(samples, thresholds, edges, np.tile(between, (len(edges), 1))), axis=1)]


def by_bisection(samples, thresholds, edges):
    """The margins of some edges: the least harmful offset of a grid, and then again and again of eight below it."""
    sizes = np.tile(np.append(0.0, np.geomspace(1e-6, 2.0 * np.max(np.abs(samples)), 250)), (len(edges), 1))
    for _ in range(8):
        first = np.argmax(harmed(samples, thresholds, edges, sizes), axis=1)
        assert np.all(first > 0)
        rows = np.arange(len(edges))
        sizes = np.linspace(sizes[rows, first - 1], sizes[rows, first], 9, axis=1)
    return sizes[:, 4]


@pytest.mark.parametrize("level", [0.0101, 0.05, 1.0])
def test_a_sine_against_fixed_thresholds_has_its_amplitude_less_the_hysteresis(sine, level):
    """50 Hz at 48 kHz has samples at its crests. The last edge is left out: the sine ends under way."""
    found = margins(sine(50.0, amplitude=level), fixed(0.01), rate=RATE)
    assert len(found) == 100
    np.testing.assert_allclose(found[:-1], level - 0.01, rtol=1e-9)


@pytest.mark.parametrize("fraction", [0.3, 0.6, 0.85])
@pytest.mark.parametrize("hold_s", [0.005, 0.047, 1.0])
def test_a_steady_sine_on_a_peak_latch(sine, fraction, hold_s):
    """At its crest the sine charges the store, so that it is 1 − f above the threshold, f the fraction.

    The first edge has an empty store, the last one no next.
    """
    found = margins(sine(50.0), latch(fraction, hold_s, 1e-6), rate=RATE)
    np.testing.assert_allclose(found[2:-1], 1.0 - fraction, rtol=1e-9)


def test_a_dip_that_nearly_resets_is_the_margin():
    """Two humps of 1.0 and 0.8 with a dip to 0.3 between: 0.3 + 0.1 to the lower threshold, 0.7 above the upper one."""
    wave = [0.0, 1.0, 0.3, 0.8, -1.0, 1.0, -1.0]
    np.testing.assert_allclose(margins(wave, fixed(0.1))[0], 0.4)
    np.testing.assert_allclose(margins([1.0, *np.negative(wave)], fixed(0.1))[1], 0.4)


def test_a_dip_without_a_hump_high_enough_after_it_is_no_false_edge():
    """An offset of 0.4 resets in the dip, but the second hump, 0.35 above the upper threshold, does not set again."""
    np.testing.assert_allclose(margins([0.0, 1.0, 0.3, 0.45, -1.0, 1.0], fixed(0.1))[0], 0.9)


def test_the_last_edge_stands_until_the_end():
    """A set, then silence: an offset of the hysteresis resets it, and nothing sets it again."""
    np.testing.assert_allclose(margins([0.0, 1.0, 0.0, 0.0], fixed(0.1)), [0.1])


def test_no_edges_have_no_margins():
    assert len(margins(np.zeros(100), latch(0.6, 10.0, 0.001))) == 0
    assert len(margins(np.zeros(1), fixed(0.1))) == 0


@given(signals, st.sampled_from([0.0, 1 / 16, 0.4, 1.0]))
def test_fixed_thresholds_agree_with_running_it_again(samples, hysteresis):
    np.testing.assert_allclose(
        margins(samples, fixed(hysteresis)), by_search(samples, fixed(hysteresis)), rtol=0, atol=1e-12
    )


@given(signals, st.floats(0.05, 0.99), st.floats(0.5, 100), st.sampled_from([0.0, 1 / 16, 0.3]))
def test_a_peak_latch_agrees_with_running_it_again(samples, fraction, hold, floor):
    thresholds = latch(fraction, hold, floor)
    np.testing.assert_allclose(margins(samples, thresholds), by_search(samples, thresholds), rtol=0, atol=1e-9)


@given(signals, st.floats(0.05, 1.0), st.floats(0.5, 100), st.sampled_from([0.05, 0.3]), st.floats(0.0, 0.2))
def test_a_latch_that_rests_elsewhere_agrees_with_running_it_again(samples, share, hold, rest, added):
    side = Side(rest_v=rest, share=share, added_v=added - 0.04 * (share == 1.0))
    thresholds = alike(side, setting="floor", hold_ohm=hold, hold_farad=1.0)
    np.testing.assert_allclose(margins(samples, thresholds), by_search(samples, thresholds), rtol=0, atol=1e-9)


@given(signals, st.floats(0.05, 0.99), st.floats(0.5, 100), st.floats(0.0, 0.99))
def test_an_offset_under_every_margin_leaves_the_number_of_changes(samples, fraction, hold, share):
    """A negative one, since a positive one may set the latch ahead of its first edge, which is no edge's margin."""
    thresholds = latch(fraction, hold, 0.01)
    found = margins(samples, thresholds)
    offset = -share * min(found, default=1.0)
    assert np.count_nonzero(changes_in(run_again(samples, thresholds, [offset]))) == len(found)


@pytest.mark.parametrize("name", CIRCUITS)
@pytest.mark.parametrize("take_name", ["hard-accents", pytest.param("slide", marks=pytest.mark.long)])
def test_demo_takes_agree_with_bisection(name, take_name):
    """A little over a second at 8 kHz; the whole comparator is run again with every offset."""
    rate, circuit = 8000, CIRCUITS[name]
    take = take_from_samples(demo_takes(rate)[take_name][:10_000], rate)
    volts = comparator_volts(take, circuit, StageCache())
    own = circuit.detector.thresholds
    found = edge_margins(volts, sample_rate=rate, thresholds=own)
    assert len(found) > 40
    edges = np.random.default_rng(7).choice(len(found), 10, replace=False)
    in_samples = replace(own, hold_ohm=own.hold_s * rate, hold_farad=1.0)
    np.testing.assert_allclose(found[edges], by_bisection(volts, in_samples, edges), rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize("name", CIRCUITS)
def test_every_edge_has_a_margin(name):
    take = take_from_samples(demo_takes(16000)["walking-line"], 16000)
    found = detected_margins(take, CIRCUITS[name])
    np.testing.assert_array_equal(found.edges_s, detected_edges(take, CIRCUITS[name]))
    assert len(found.margins_v) == len(found.edges_s) > 1000
    assert np.all(found.margins_v >= 0.0)


def test_scaling_signal_and_floor_together_scales_the_margins(rng):
    wave = rng.standard_normal(4000).cumsum()
    wave -= wave.mean()
    once, ten = margins(wave, latch(0.6, 200.0, 0.5)), margins(10 * wave, latch(0.6, 200.0, 5.0))
    np.testing.assert_allclose(ten, 10 * once, rtol=1e-12)


def test_circuits_with_one_detector_find_their_margins_once(counted):
    take = take_from_samples(demo_takes(8000)["slide"][:8000], 8000)
    calls, cache = counted((job, "edge_margins"), (detector, "edges")), StageCache()
    for name in ("gated-open", "gated-swept", "polarity-third-order"):
        detected_margins(take, load_circuit(name), cache=cache)
    assert calls == {"edge_margins": 1, "edges": 1}
    detected_margins(take, CIRCUITS["fixed"], cache=cache)
    assert calls["edge_margins"] == 2


def of_note(margins_v, *, dropouts=(), volts=(0.0, -0.5, 0.25)):
    """Return the margin of a note of 1 s, its edges a hundredth of a second apart, at a rate of 2 Hz."""
    edges_s = 5.0 + 0.01 * np.arange(len(margins_v))
    samples = np.concatenate((np.full(10, 9.0), volts, np.full(10, 9.0)))
    made = Margins(edges_s, np.asarray(margins_v, dtype=float), samples, 2)
    return made.of_note(start_s=5.0, end_s=6.0, dropouts=dropouts)


def test_a_note_has_the_tenth_percentile_and_its_own_peak():
    """Of 1 to 20 mV two are a tenth; the peak is 0.5 V, below zero, and louder neighbours do not count."""
    found = of_note(np.arange(20, 0, -1) / 1000.0)
    assert found.margin_mv == pytest.approx(2.0)
    assert found.margin_db == pytest.approx(20.0 * np.log10(0.002 / 0.5))


def test_edges_in_dropouts_do_not_count():
    lost = (Dropout(5.0, 5.045, "stall"),)
    assert of_note([0.001] * 5 + [0.03] * 6, dropouts=lost).margin_mv == pytest.approx(30.0)
    assert of_note([0.001] * 5 + [0.03] * 3, dropouts=lost) == NoteMargin()


def test_no_margin_has_no_decibels():
    assert of_note([0.0] * 4) == NoteMargin(0.0, None)


def played(name, start_s, margin_mv):
    note = Note(start_s, start_s + 1.0, 41.2, name, True, True, 41.2, 41.2)
    return note, NoteMargin(margin_mv, None if margin_mv is None else -20.0)


def test_small_margins_are_remarked_upon_with_the_least():
    notes = [played("E1", 0.5, 9.99), played("A1", 2.0, 3.14), played("D2", 3.0, 10.0), played("G2", 4.0, None)]
    (remark,) = small_margins(notes)
    assert remark.code == "small-margin"
    assert remark.text.startswith(
        "small margins: 2 of 4 notes have less than 10 mV at the comparator, A1 at 2.00 s the least with 3.1 mV; "
    )
    assert "1 to 5 mV are usual (data sheets, from memory)" in remark.text
    assert "a comparator with an offset of that size loses" in remark.text
    assert small_margins(notes[2:]) == ()
    assert "1 of 1 notes has" in small_margins(notes[:1])[0].text


def test_what_a_comparator_is_off_already_leaves_less_to_its_class():
    """5.5 mV beyond 1 mV either way bear 4.5 mV for sure; without the 1 mV they would bear 5.5 mV."""
    for off_mv, bears_mv in ((0.0, 5.5), (1.0, 4.5)):
        fit = [name for name, one in COMPARATORS.items() if 1000.0 * one.offset_v.worst < bears_mv]
        (remark,) = small_margins([played("E1", 0.5, 5.5)], off_mv=off_mv)
        assert f"and {' and '.join(fit)} {'is' if len(fit) == 1 else 'are'} off by less at worst" in remark.text
        assert ("so much further off than the 1 mV reckoned with" in remark.text) == (off_mv == 1.0)
    assert 0 < len(fit) < len(COMPARATORS)
