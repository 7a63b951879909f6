"""The band-limited square wave, apart from any signal it switches."""

import numpy as np
import pytest

from sublatch.sampling.switching import square_wave


def test_far_from_an_edge_the_wave_is_plus_or_minus_one():
    wave = square_wave(np.array([500.25, 900.75]), 1400)
    np.testing.assert_allclose(wave[:460], 1.0, atol=1e-9)
    np.testing.assert_allclose(wave[540:860], -1.0, atol=1e-9)
    np.testing.assert_allclose(wave[940:], 1.0, atol=1e-9)


def test_no_edges_leave_the_start_value():
    np.testing.assert_array_equal(square_wave(np.zeros(0), 5, start=-1.0), -np.ones(5))


def test_an_edge_is_antisymmetric_about_its_own_instant():
    wave = square_wave(np.array([200.5]), 402)
    np.testing.assert_allclose(wave[:201], -wave[:200:-1], atol=1e-12)


@pytest.mark.parametrize("shift", [0.0, 0.1, 0.37, 0.5, 0.999])
def test_an_edge_moves_with_its_time(shift):
    """The mean of a step wave tells where its edge was."""
    wave = square_wave(np.array([500.0 + shift]), 1000)
    # the sum of +1 before and −1 after, for an edge at t: samples 0 … t are +1
    assert np.sum(wave) == pytest.approx(2 * (500 + shift) + 1 - 1000, abs=1e-6)


def test_its_harmonics_are_those_of_a_square_wave():
    """4/(πk) at odd k and nothing else, up to 0.42 of the rate (above it the harmonics fade and fold): Fourier."""
    count, cycles = 1 << 15, 37
    edges = (np.arange(-200, 2 * cycles + 200) + 0.123) * count / (2 * cycles) + 2000
    wave = square_wave(edges, count + 4000)[2000:-2000]
    spectrum = np.abs(np.fft.rfft(wave)) / count * 2
    harmonics = np.arange(1, int(0.42 * count / cycles), 2)
    np.testing.assert_allclose(spectrum[harmonics * cycles], 4 / np.pi / harmonics, rtol=2e-6)
    spectrum[cycles :: 2 * cycles] = 0.0
    assert 10 * np.log10(np.sum(spectrum[: int(0.42 * count)] ** 2)) < -120


@pytest.mark.parametrize("transition", [0.4, 7.3, 96.0])
def test_a_ramp_weights_the_harmonics_as_a_moving_average_does(transition):
    """A straight ramp of T samples is the step averaged over T: |sin(πfT)/(πfT)|."""
    count, cycles = 1 << 15, 61
    edges = (np.arange(-400, 2 * cycles + 400) + 0.4) * count / (2 * cycles) + 4000
    wave = square_wave(edges, count + 8000, transition=transition)[4000:-4000]
    spectrum = np.fft.rfft(wave)
    plain = np.fft.rfft(square_wave(edges, count + 8000)[4000:-4000])
    harmonics = np.arange(1, 100, 2) * cycles
    f = harmonics / count
    expected = np.sinc(f * transition) * np.exp(-1j * np.pi * f * transition)
    np.testing.assert_allclose(spectrum[harmonics] / plain[harmonics], expected, atol=2e-5)


def test_edges_outside_count_for_the_start():
    inside = square_wave(np.array([-500.0, -200.5, 300.0]), 600)
    np.testing.assert_allclose(inside, square_wave(np.array([300.0]), 600), atol=1e-9)


def test_an_edge_near_the_border_keeps_its_tail():
    whole = square_wave(np.array([100.3]), 200)
    np.testing.assert_allclose(square_wave(np.array([0.3]), 100), whole[100:], atol=1e-12)


def test_edges_closer_than_a_transition_add_up():
    wave = square_wave(np.array([300.0, 303.0]), 600)
    assert np.sum(1.0 - wave) == pytest.approx(2 * 3.0, abs=1e-6)


def test_it_holds_the_area_between_its_edges():
    assert np.sum(1.0 - square_wave(np.array([100.2, 140.9]), 300)) == pytest.approx(2 * 40.7, abs=2e-6)


def test_many_edges_cost_little_memory():
    edges = np.arange(60_000) * 40.0 + 0.3
    assert len(square_wave(edges, 2_400_000)) == 2_400_000
