"""IEC 61260-1 (base-ten mid-band frequencies and band edges) and ISO 266 (nominal ones), to the digits printed.

Exact frequencies: 1000 · 10^(k/10) Hz; edges ×/÷ 10^(1/20) = 1.122018.
"""

import numpy as np
import pytest

from sublatch.sampling.bands import NOMINAL_HZ, band_centres_hz, band_edges_hz

EXACT_HZ = {
    20.0: 19.9526,
    25.0: 25.1189,
    31.5: 31.6228,
    40.0: 39.8107,
    50.0: 50.1187,
    63.0: 63.0957,
    80.0: 79.4328,
    100.0: 100.0000,
    125.0: 125.8925,
    160.0: 158.4893,
    200.0: 199.5262,
    250.0: 251.1886,
    1000.0: 1000.0,
}


@pytest.mark.parametrize("nominal_hz", EXACT_HZ)
def test_mid_band_frequencies(nominal_hz):
    band = NOMINAL_HZ.index(nominal_hz)
    assert band_centres_hz()[band] == pytest.approx(EXACT_HZ[nominal_hz], abs=5e-5)


def test_three_bands_are_an_octave_of_ten_to_the_three_tenths():
    centres = band_centres_hz()
    np.testing.assert_allclose(centres[3:] / centres[:-3], 10**0.3, rtol=1e-12)


def test_edges():
    centres, edges = band_centres_hz(), band_edges_hz()
    np.testing.assert_allclose(edges[1:] / centres, 1.122018, rtol=5e-7)
    np.testing.assert_allclose(centres / edges[:-1], 1.122018, rtol=5e-7)
    assert len(NOMINAL_HZ) == len(centres) == 25


def test_nominal_frequencies_are_the_exact_ones_rounded():
    """Within 1.2 %, and the ten of a decade come again in the next."""
    np.testing.assert_allclose(NOMINAL_HZ, band_centres_hz(), rtol=0.012)
    for hz in NOMINAL_HZ[:5]:
        assert {10 * hz, 100 * hz} <= set(NOMINAL_HZ)
