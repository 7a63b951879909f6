"""Third-octave levels: sines in the middle and at the edges, pink noise, and that no power is lost."""

import numpy as np
import pytest

from oracles import db
from sublatch.sampling.bands import NOMINAL_HZ, band_centres_hz, band_edges_hz, band_levels, band_powers, powers_between

RATE = 48000


@pytest.mark.parametrize("band", range(25))
def test_a_sine_in_the_middle_of_a_band_is_all_in_it(sine, band):
    """Full scale reads 0 dBFS there, and next to nothing (what its cut ends leak) elsewhere."""
    levels = band_levels(sine(band_centres_hz()[band], 20.0, amplitude=2.0), sample_rate=RATE, full_scale_volts=2.0)
    assert levels[band] == pytest.approx(0.0, abs=0.02)
    others = [level for place, level in enumerate(levels) if place != band and level is not None]
    assert max(others) < -25


def test_whole_cycles_leak_nothing(sine):
    levels = band_levels(sine(100.0, 1.0, amplitude=0.5), sample_rate=RATE)
    assert levels[NOMINAL_HZ.index(100.0)] == pytest.approx(db(0.5), abs=1e-9)
    assert max(level for level, hz in zip(levels, NOMINAL_HZ, strict=True) if hz != 100.0 and level is not None) < -200


@pytest.mark.parametrize("edge", range(1, 25))
def test_a_sine_either_side_of_an_edge_changes_bands(sine, edge):
    edge_hz = band_edges_hz()[edge]
    for factor, band in ((0.99, edge - 1), (1.01, edge)):
        powers = band_powers(sine(edge_hz * factor, 20.0), sample_rate=RATE)
        assert np.argmax(powers) == band
        assert powers[band] > 0.45
    line = powers_between(sine(100.0), sample_rate=RATE, edges_hz=[50.0, 100.0, 200.0])
    np.testing.assert_allclose(line, [0.25, 0.25], rtol=1e-9)


def test_pink_noise_is_flat(rng):
    """Power as 1/f gives each band the same, ln(10)/10 of the density at 1 Hz."""
    count = 20 * RATE
    frequency = np.fft.rfftfreq(count, 1 / RATE)
    lines = np.exp(2j * np.pi * rng.random(len(frequency))) / np.sqrt(np.maximum(frequency, 1.0))
    lines[0] = 0.0
    pink = np.fft.irfft(lines, count) * count
    expected = 2.0 * np.log(10) / 10 * count / RATE
    np.testing.assert_allclose(band_powers(pink, sample_rate=RATE), expected, rtol=2e-3)


@pytest.mark.parametrize("count", [1, 2, 3, 1000, 4801])
def test_all_bands_together_are_the_mean_square(rng, count):
    samples = rng.standard_normal(count) + 0.3
    edges = np.concatenate(([0.0], band_edges_hz(), [RATE / 2]))
    powers = powers_between(samples, sample_rate=RATE, edges_hz=edges)
    assert np.all(powers >= 0)
    assert powers.sum() == pytest.approx(np.mean(samples**2), rel=1e-12)
    np.testing.assert_array_equal(powers[1:-1], band_powers(samples, sample_rate=RATE))


def test_bands_above_half_the_rate_hold_nothing(rng):
    levels = band_levels(rng.standard_normal(4000), sample_rate=4000)
    assert [hz for hz, level in zip(NOMINAL_HZ, levels, strict=True) if level is None] == [
        2500.0,
        3150.0,
        4000.0,
        5000.0,
    ]


def test_silence_and_nothing_have_no_level():
    assert band_levels(np.zeros(100), sample_rate=RATE) == (None,) * 25
    assert band_levels(np.zeros(0), sample_rate=RATE) == (None,) * 25
