"""Potentiometer tapers: the closed form of the exponential law, and how the trade names it.

A log taper is named by its share of the track at half rotation: "10 % log" of 10 kΩ is 1 kΩ there. About
10 % is usual; 15 % and 20 % are sold too, from memory; a linear track has 50 % there and a reverse-log one
mirrors the log one. All this is common practice, no source. The law r(x) = (bˣ − 1)/(b − 1) with
b = (1/m − 1)² is the exponential through r(0) = 0, r(½) = m, r(1) = 1; its values below were worked out from
that closed form. Real tracks approach it with two or three straight pieces (common practice, no source).
"""

import math
from fractions import Fraction

import pytest

from sublatch.circuit.components.pots import wiper_fraction, wiper_resistances

# midpoint: b, r(¼), r(¾), level at half rotation in dB
LAW = {
    0.10: (81.0, 0.02500, 0.32500, -20.00),
    0.15: (32.1111, 0.04437, 0.40144, -16.48),
    0.20: (16.0, 0.06667, 0.46667, -13.98),
}


@pytest.mark.parametrize("midpoint", LAW)
def test_exponential_law(midpoint):
    base, quarter, three_quarters, half_db = LAW[midpoint]
    assert (1 / midpoint - 1) ** 2 == pytest.approx(base, abs=5e-5)
    assert wiper_fraction(2.5, taper="log", midpoint=midpoint) == pytest.approx(quarter, abs=5e-6)
    assert wiper_fraction(7.5, taper="log", midpoint=midpoint) == pytest.approx(three_quarters, abs=5e-6)
    half = wiper_fraction(5, taper="log", midpoint=midpoint)
    assert 20 * math.log10(half) == pytest.approx(half_db, abs=5e-3)
    assert half == pytest.approx(midpoint, rel=1e-12)


@pytest.mark.parametrize("midpoint", LAW)
def test_reverse_log_mirrors_it(midpoint):
    _, quarter, three_quarters, _ = LAW[midpoint]
    assert wiper_fraction(7.5, taper="reverse-log", midpoint=midpoint) == pytest.approx(1 - quarter, abs=5e-6)
    assert wiper_fraction(2.5, taper="reverse-log", midpoint=midpoint) == pytest.approx(1 - three_quarters, abs=5e-6)
    assert wiper_fraction(5, taper="reverse-log", midpoint=midpoint) == pytest.approx(1 - midpoint, rel=1e-12)


@pytest.mark.parametrize(("midpoint", "root"), [(Fraction(1, 10), 3), (Fraction(1, 5), 2)])
def test_exact_fractions_where_the_base_is_a_fourth_power(midpoint, root):
    # b = 81 = 3⁴ and b = 16 = 2⁴ make r(k/4) = (rootᵏ − 1)/(root⁴ − 1), a ratio of whole numbers
    for quarters in range(5):
        exact = Fraction(root**quarters - 1, root**4 - 1)
        share = wiper_fraction(2.5 * quarters, taper="log", midpoint=float(midpoint))
        assert share == pytest.approx(float(exact), rel=1e-13, abs=0)


def test_ten_percent_log_of_ten_kilohms_is_one_kilohm_at_half_rotation():
    lower_ohm, upper_ohm = wiper_resistances(10e3, 5, taper="log", midpoint=0.1)
    assert lower_ohm == pytest.approx(1e3, rel=1e-12)
    assert upper_ohm == pytest.approx(9e3, rel=1e-12)


def test_linear_track_has_half_at_half_rotation():
    assert wiper_resistances(10e3, 5, taper="linear") == (5e3, 5e3)
