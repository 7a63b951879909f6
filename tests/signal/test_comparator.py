"""The comparator against a plain loop, and what any comparator must do."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from oracles import latch_loop, peak_store_loop, real_latch_loop
from sublatch.circuit.detectors.thresholds import Side, Thresholds, alike
from sublatch.signal.comparator import comparator_edges, peak_store


def latch_edges(samples, *, fraction, hold, floor):
    """Times in samples at which the textbook latch changes: a share of what its stores hold, and a floor."""
    thresholds = alike(Side(share=fraction, least_v=floor), setting="floor", hold_ohm=hold, hold_farad=1.0)
    return comparator_edges(samples, sample_rate=1.0, thresholds=thresholds)


def fixed_threshold_edges(samples, *, hysteresis):
    """Times in samples at which a comparator with fixed hysteresis changes."""
    return comparator_edges(samples, sample_rate=1.0, thresholds=alike(Side(added_v=hysteresis), setting="hysteresis"))


signals = arrays(float, st.integers(1, 300), elements=st.floats(-2, 2))


@given(signals, st.floats(0.05, 500))
def test_peak_store_is_its_recursion(x, hold):
    np.testing.assert_allclose(peak_store(x, hold=hold), peak_store_loop(x, hold), rtol=1e-9, atol=1e-12)


def test_peak_store_over_many_blocks():
    x = np.random.default_rng(1).standard_normal(50_000) * np.exp(-np.arange(50_000) / 8000)
    np.testing.assert_allclose(peak_store(x, hold=3.0), peak_store_loop(x, 3.0), rtol=1e-9)


@given(signals, st.floats(0.0, 0.99), st.floats(0.5, 300), st.floats(0.0, 0.3))
def test_latch_is_its_loop(x, fraction, hold, floor):
    edges = latch_edges(x, fraction=fraction, hold=hold, floor=floor)
    expected = latch_loop(x, fraction, np.exp(-1 / hold), floor)
    assert len(edges) == len(expected)
    assert np.all(edges >= np.maximum(expected - 1, 0) - 1e-9)
    assert np.all(edges <= np.maximum(expected, 1) + 1e-9)


@given(signals, st.floats(0.0, 1.0))
def test_fixed_thresholds_are_a_latch_without_stores(x, hysteresis):
    edges = fixed_threshold_edges(x, hysteresis=hysteresis)
    expected = latch_loop(x, 0.0, 0.0, hysteresis)
    assert len(edges) == len(expected)
    np.testing.assert_array_equal(edges, latch_edges(x, fraction=0.0, hold=10.0, floor=hysteresis))


@pytest.mark.parametrize("level", [0.099, 0.0])
def test_below_the_hysteresis_nothing_happens(sine, level):
    """Closed form: a sine smaller than V_h never toggles."""
    assert len(fixed_threshold_edges(sine(55.0, amplitude=level), hysteresis=0.1)) == 0


@pytest.mark.parametrize("level", [0.1001, 0.2, 3.0])
def test_above_the_hysteresis_it_toggles_once_a_half_cycle(sine, level):
    """Closed form: one set and one reset a cycle, at phase asin(V_h/A)."""
    edges = fixed_threshold_edges(sine(50.0, seconds=1.0, amplitude=level), hysteresis=0.1)
    assert len(edges) in (99, 100)
    phase = (2 * np.pi * 50.0 * edges[::2] / 48000) % (2 * np.pi)
    np.testing.assert_allclose(phase, np.arcsin(0.1 / level), atol=1e-6)


def test_false_toggles_of_a_strong_second_harmonic(sine):
    """Sin ωt + r sin 2ωt, counted on a grid of 10⁵ points a cycle: past some r there are two sets a cycle."""
    fine = np.arange(100_000) * 2 * np.pi / 100_000
    for ratio in (0.2, 0.45, 0.8, 1.6, 3.0):
        wave = np.sin(np.tile(fine, 3)) + ratio * np.sin(2 * np.tile(fine, 3))
        expected = np.count_nonzero(latch_loop(wave, 0.0, 0.0, 0.05) >= 100_000) / 2
        x = sine(40.0, seconds=2.0) + ratio * sine(80.0, seconds=2.0)
        found = len(fixed_threshold_edges(x, hysteresis=0.05))
        assert found / 2 / 80 == pytest.approx(expected / 2, abs=0.05)


def test_scaling_signal_and_thresholds_together_leaves_the_edges(rng):
    x = rng.standard_normal(4000).cumsum()
    x -= x.mean()
    once = latch_edges(x, fraction=0.6, hold=200.0, floor=0.5)
    ten = latch_edges(10 * x, fraction=0.6, hold=200.0, floor=5.0)
    np.testing.assert_allclose(ten, once, rtol=1e-12)


def test_a_dying_note_keeps_its_edges_above_the_floor(sine):
    """A decay slower than the stores' never stops the latch; fixed thresholds stop it."""
    note = sine(55.0, seconds=4.0) * np.exp(-np.arange(4 * 48000) / 48000)
    latched = latch_edges(note, fraction=0.8, hold=0.022 * 48000, floor=1e-6)
    assert len(latched) == pytest.approx(2 * 55 * 4, abs=2)
    assert len(fixed_threshold_edges(note, hysteresis=0.2)) < 200


def test_silence_makes_no_edges():
    assert len(latch_edges(np.zeros(100), fraction=0.6, hold=10.0, floor=0.0)) == 0
    assert len(fixed_threshold_edges(np.zeros(100), hysteresis=0.0)) == 0


def test_a_start_above_the_threshold_counts_as_an_edge_at_the_start():
    edges = fixed_threshold_edges(np.array([1.0, 1.0, -1.0, -1.0]), hysteresis=0.5)
    assert edges[0] <= 1.0
    assert edges[1] == pytest.approx(1.75, abs=0.2)


sides = st.builds(
    Side,
    rest_v=st.floats(-0.2, 0.3),
    share=st.floats(0.05, 1.0),
    added_v=st.floats(-0.1, 0.2),
    charge_shift_v=st.floats(-0.1, 0.1),
    least_v=st.sampled_from([-1.0, 0.0, 0.05]),
)


@given(signals, sides, sides, st.floats(0.5, 300))
def test_the_latch_of_real_parts_is_its_loop(x, positive, negative, hold):
    """Stores that empty towards a rest of their own, charged beside the peaks, thresholds beside what they hold."""
    thresholds = Thresholds(positive, negative, "floor", hold, 1.0)
    edges = comparator_edges(x, sample_rate=1.0, thresholds=thresholds)
    laws = [(side.rest_v, side.share, side.added_v, side.charge_shift_v, side.least_v) for side in (positive, negative)]
    expected, least = real_latch_loop(x, laws, np.exp(-1 / hold))
    if least < 1e-12:  # a tie is rounding's to decide
        return
    assert len(edges) == len(expected)
    assert np.all(edges >= np.maximum(expected - 1, 0) - 1e-9)
    assert np.all(edges <= np.maximum(expected, 1) + 1e-9)


def test_at_rest_the_threshold_is_what_the_record_says():
    for side in (Side(0.015, 0.4, 0.009), Side(0.1, 1.0, -0.023), Side(added_v=0.01), Side(share=0.85, least_v=0.001)):
        thresholds = alike(side, setting="floor", hold_ohm=1e5, hold_farad=1e-6)
        for size, count in ((0.999 * side.idle_v, 0), (1.001 * side.idle_v, 2)):
            step = np.concatenate((np.zeros(100), np.full(100, size), np.full(100, -size)))
            edges = comparator_edges(step, sample_rate=1000.0, thresholds=thresholds)
            assert len(edges) == count
