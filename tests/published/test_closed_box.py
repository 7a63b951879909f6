"""A driver in a closed box as a second-order high-pass.

R. H. Small, "Closed-box loudspeaker systems, part I: analysis", J. Audio Eng. Soc. 20(10), 1972 (from memory): its
resonance and Q give half-power frequency and peak. Butterworth low-pass: |H|² = 1/(1 + (f/fc)⁶). The generic
loudspeaker's response is the product of both and of a resonant rise.
"""

import numpy as np
import pytest
from scipy.integrate import quad

from oracles import db
from sublatch.audition.listen.loudspeaker import voicing_transfer

BOX_HZ, BOX_Q, RISE_HZ, RISE_Q, RISE_DB, CONE_HZ = 48.0, 0.8, 140.0, 0.8, 2.5, 3500.0


def box(f):
    x = f / BOX_HZ
    return x**4 / ((1 - x * x) ** 2 + (x / BOX_Q) ** 2)


def rise(f):
    x, g = f / RISE_HZ, 10 ** (RISE_DB / 20)
    return ((1 - x * x) ** 2 + (g * x / RISE_Q) ** 2) / ((1 - x * x) ** 2 + (x / RISE_Q) ** 2)


def cone(f):
    return 1 / (1 + (f / CONE_HZ) ** 6)


def whole(f):
    """Power gain of the three sections, before the reference makes it 0 dB."""
    return box(f) * rise(f) * cone(f)


def reference():
    """Mean of the power from 60 Hz to 1 kHz, each octave weighing the same."""
    return quad(lambda log_f: whole(np.exp(log_f)), np.log(60), np.log(1000))[0] / np.log(1000 / 60)


def test_the_box_alone():
    """f3/fc = √(c + √(c² + 1)), c = 1/(2Q²) − 1; peak Q²/√(Q² − ¼): here 41.1 Hz and 0.22 dB."""
    c = 1 / (2 * BOX_Q**2) - 1
    half_hz = BOX_HZ * np.sqrt(c + np.sqrt(c * c + 1))
    assert box(half_hz) == pytest.approx(0.5, rel=1e-12)
    peak = np.sqrt(max(box(np.geomspace(20, 400, 20001))))
    assert peak == pytest.approx(BOX_Q**2 / np.sqrt(BOX_Q**2 - 0.25), rel=1e-6)


def test_the_loudspeaker_is_the_product_of_its_sections():
    frequency = np.geomspace(5.0, 20e3, 400)
    power = np.abs(voicing_transfer().response(frequency)) ** 2
    np.testing.assert_allclose(power, whole(frequency) / reference(), rtol=2e-6)


def test_it_is_0_db_on_the_mean_of_its_reference_range():
    mean = quad(lambda log_f: abs(voicing_transfer().response(np.exp(log_f))) ** 2, np.log(60), np.log(1000))[0]
    assert 10 * np.log10(mean / np.log(1000 / 60)) == pytest.approx(0.0, abs=1e-5)


def test_its_slopes():
    """12 dB an octave below the box's resonance, 18 dB above the cone's corner."""
    gain = voicing_transfer().response
    assert db(abs(gain(4.0) / gain(2.0))) == pytest.approx(12.04, abs=0.05)
    assert db(abs(gain(60e3) / gain(30e3))) == pytest.approx(-18.06, abs=0.01)


def test_it_is_stable_and_nothing_passes_at_0_hz():
    transfer = voicing_transfer()
    assert np.all(transfer.poles.real < 0)
    assert transfer.response(0.0) == 0.0
