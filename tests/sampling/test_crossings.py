"""Crossings against sines, whose crossings are known."""

import numpy as np
import pytest

from sublatch.sampling.crossings import refine


@pytest.mark.parametrize(
    ("cycles_per_sample", "within"), [(41.2 / 48000, 1e-9), (400 / 48000, 1e-7), (1245 / 44100, 1e-5)]
)
@pytest.mark.parametrize("threshold", [0.0, 0.3, -0.7])
def test_a_sine_crosses_where_its_arcsine_says(cycles_per_sample, within, threshold):
    omega = 2 * np.pi * cycles_per_sample
    x = np.sin(omega * np.arange(5000) + 0.1)
    before = np.flatnonzero((x[1:] > threshold) & (x[:-1] <= threshold))[1:-1]
    level = np.full(len(before), threshold)
    found = refine(x, before, level, level)
    phase = omega * found + 0.1 - np.arcsin(threshold)
    error = (phase + np.pi) % (2 * np.pi) - np.pi
    assert np.max(np.abs(error)) / omega < within


def test_a_moving_threshold_is_followed():
    x = np.arange(10.0)
    found = refine(x, np.array([4]), np.array([5.0]), np.array([4.0]))
    # x = 4 + u meets 5 − u at u = 1/2
    assert found[0] == pytest.approx(4.5)


def test_the_answer_stays_between_its_samples():
    rng = np.random.default_rng(3)
    x = rng.standard_normal(2000)
    before = np.flatnonzero((x[1:] > 0) & (x[:-1] <= 0))
    found = refine(x, before, np.zeros(len(before)), np.zeros(len(before)))
    assert np.all((found >= before) & (found <= before + 1))


def test_crossings_at_the_ends_need_no_samples_beyond():
    x = np.array([-1.0, 1.0])
    assert refine(x, np.array([0]), np.zeros(1), np.zeros(1))[0] == pytest.approx(0.5)
