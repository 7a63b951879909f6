"""The output buffer at its limits, against the closed form of a hard-clipped sine, and its aliasing."""

import numpy as np
import pytest

from oracles import amplitude
from sublatch.signal.filtering.limits import limited

COUNT, MARGIN = 1 << 15, 4096


def clipped(cycles, drive, *, limits=(-1.0, 1.0), phase=0.3):
    n = np.arange(COUNT + 2 * MARGIN) - MARGIN
    out, share = limited(drive * np.sin(2 * np.pi * cycles * n / COUNT + phase), limits=limits)
    return out[MARGIN:-MARGIN], share


@pytest.mark.parametrize(("drive", "first"), [(2.0, 1.2179956), (1.2, 1.1044740)])
def test_the_fundamental_of_a_clipped_sine(drive, first):
    """b₁ = (2/π)(A α + cos α), α = asin(1/A)."""
    alpha = np.arcsin(1 / drive)
    assert 2 / np.pi * (drive * alpha + np.cos(alpha)) == pytest.approx(first, abs=1e-7)
    out, _ = clipped(273, drive)
    assert amplitude(out, 273) == pytest.approx(first, rel=1e-5)


def test_the_share_of_time_at_the_limits():
    """A sine of twice the limit spends 2/π · acos(1/2) of its time beyond it."""
    _, share = clipped(273, 2.0)
    assert share == pytest.approx(2 / np.pi * np.arccos(0.5), abs=1e-3)


def test_harmonics_of_a_clipped_sine():
    """By integrating the clipped wave numerically over 10⁶ points."""
    theta = np.arange(1_000_000) * 2 * np.pi / 1_000_000
    wave = np.clip(2 * np.sin(theta), -1, 0.6)
    out, _ = clipped(273, 2.0, limits=(-1.0, 0.6))
    for n in range(0, 40):
        expected = 2 * abs(np.mean(wave * np.exp(-1j * n * theta)))
        assert amplitude(out, n * 273) == pytest.approx(expected, abs=2e-5)


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
def test_clipping_does_not_alias(rate):
    """400 Hz driven 6 dB past the limits: all that is not a harmonic, against the total. Asked: −80 dB."""
    cycles = round(400 * COUNT / rate)
    out, _ = clipped(cycles, 2.0)
    power = np.abs(np.fft.rfft(out)) ** 2
    total = power.sum()
    power[::cycles] = 0.0
    assert 10 * np.log10(power.sum() / total) < -95


def test_equal_limits_make_odd_harmonics_and_unequal_ones_even():
    even, _ = clipped(273, 1.5, limits=(-1.0, 1.0))
    uneven, _ = clipped(273, 1.5, limits=(-1.2, 0.8))
    assert amplitude(even, 2 * 273) < 1e-6
    assert amplitude(uneven, 2 * 273) > 0.02


def test_inside_the_limits_nothing_changes(sine):
    quiet = sine(100.0, amplitude=0.6)
    out, share = limited(quiet, limits=(-1.0, 1.0))
    assert out is quiet
    assert share == 0.0
    near = sine(100.0, amplitude=0.99)
    out, share = limited(near, limits=(-1.0, 1.0))
    np.testing.assert_array_equal(out, near)
    assert share == 0.0


def test_a_signal_that_starts_and_ends_beyond_its_limit():
    out, share = limited(np.full(20000, 3.0), limits=(-1.0, 1.0))
    np.testing.assert_allclose(out[4000:-4000], 1.0, atol=1e-6)
    assert share == pytest.approx(1.0, abs=2e-3)


def test_nothing_in_nothing_out():
    out, share = limited(np.zeros(0), limits=(-1.0, 1.0))
    assert len(out) == 0
    assert share == 0.0


def test_a_limit_that_is_passed_only_between_samples():
    """Samples of 0.6 whose signs all help half way between two of them: there the signal is above 1."""
    n = np.arange(-200, 200) + 0.5
    signs = 0.6 * np.sign(np.sinc(n)) * np.where(np.abs(n) < 8, np.cos(np.pi * n / 16) ** 2, 0)
    spectrum = np.fft.rfft(signs)
    band_limited = np.fft.irfft(np.where(np.fft.rfftfreq(400) < 0.45, spectrum, 0))
    assert np.max(np.abs(band_limited)) < 0.6
    assert limited(band_limited, limits=(-1.0, 1.0))[1] > 0.0
