"""Twice and half the sample rate, against tones that are known at both."""

import numpy as np
import pytest

from sublatch.sampling.rates import doubled, halved, resampled


@pytest.mark.parametrize("cycles", [0.001, 0.02, 0.3, 0.44])
def test_tones_of_the_passband_keep_their_shape_and_place(cycles):
    coarse = np.sin(2 * np.pi * cycles * np.arange(20_000))
    fine = np.sin(np.pi * cycles * np.arange(40_000))
    np.testing.assert_allclose(doubled(coarse)[8000:-8000], fine[8000:-8000], atol=2e-9)
    np.testing.assert_allclose(halved(fine)[4000:-4000], coarse[4000:-4000], atol=2e-9)


@pytest.mark.parametrize("cycles", [0.51, 0.6, 0.9])
def test_halving_removes_what_would_fold(cycles):
    """In parts of the lower rate: −170 dB."""
    fine = np.sin(np.pi * cycles * np.arange(40_000))
    assert np.max(np.abs(halved(fine)[4000:-4000])) < 3e-9


@pytest.mark.parametrize("count", [0, 1, 2, 3, 17, 1001, 4096])
def test_lengths_are_exact(count):
    assert len(doubled(np.ones(count))) == 2 * count
    assert len(halved(np.ones(count))) == (count + 1) // 2


def test_the_same_rate_is_the_same_signal():
    x = np.arange(5.0)
    assert resampled(x, 48000, 48000) is x
