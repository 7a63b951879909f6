"""Low-pass filters against handbook formulas, tables and worked examples.

Sources: Texas Instruments SLOD006 (*Op Amps for Everyone*), chapter 16, and SLOA024B for the unity-gain second order;
A. B. Williams and F. J. Taylor, *Electronic Filter Design Handbook*, active low-pass tables (from memory) for the third
order; resonance formulas of the second order by differentiation.
"""

import numpy as np
import pytest
from scipy import signal

from filter_networks import first_order, second_order, third_order
from sublatch.circuit.networks.corners import network_response
from sublatch.circuit.networks.solver import nodal_response, transfer


def equal_resistors(ratio, f0_hz=1000.0, resistor=10e3):
    """A second order with R1 = R2 and feedback over ground capacitor = ratio."""
    mean = 1 / (2 * np.pi * f0_hz * resistor)
    return second_order(
        first_ohm=resistor,
        second_ohm=resistor,
        ground_farad=mean / np.sqrt(ratio),
        feedback_farad=mean * np.sqrt(ratio),
    )


@pytest.mark.parametrize(
    ("relative", "gain_db", "degrees"),
    [
        (0.1, -0.0432, -5.711),
        (0.5, -0.9691, -26.565),
        (1, -3.0103, -45.0),
        (2, -6.9897, -63.435),
        (4, -12.3045, None),
        (10, -20.0432, -84.289),
    ],
)
def test_first_order(relative, gain_db, degrees):
    """−10 log (1 + (f/fc)²) and −arctan(f/fc)."""
    network = first_order(resistor_ohm=22e3, capacitor_farad=27e-9)
    corner = 1 / (2 * np.pi * 22e3 * 27e-9)
    assert corner == pytest.approx(267.94, abs=0.005)
    value = transfer(network).response(relative * corner)
    assert 20 * np.log10(abs(value)) == pytest.approx(gain_db, abs=1e-4)
    if degrees is not None:
        assert np.degrees(np.angle(value)) == pytest.approx(degrees, abs=1e-3)


@pytest.mark.parametrize(
    ("resistor", "capacitor", "corner_hz"),
    [(22e3, 27e-9, 267.94), (39e3, 15e-9, 272.06), (12e3, 47e-9, 282.19), (5.6e3, 100e-9, 284.21)],
)
def test_first_order_corner(resistor, capacitor, corner_hz):
    found = network_response(first_order(resistor_ohm=resistor, capacitor_farad=capacitor))
    assert found.corner_hz == pytest.approx(corner_hz, abs=0.006)
    assert found.peak_db == 0.0
    assert found.peak_hz is None


@pytest.mark.parametrize(
    ("peak_db", "q", "peak_over_f0", "at_f0_db", "ratio", "corner_over_f0"),
    [
        (1.0, 0.956520, 0.673432, -0.3861, 3.6597, 1.24561),
        (3.0, 1.304693, 0.840397, 2.3102, 6.8089, 1.38943),
        (3.5, 1.397140, 0.862469, 2.9048, 7.8080, 1.41074),
        (4.0, 1.493428, 0.880805, 3.4837, 8.9213, 1.42880),
        (6.0, 1.926921, 0.930236, 5.6973, 14.8521, 1.47911),
        (7.5, 2.315423, 0.952227, 7.2926, 21.4447, 1.50220),
    ],
)
def test_second_order_peak(peak_db, q, peak_over_f0, at_f0_db, ratio, corner_over_f0):
    """Q = ½ √(C2/C1); M = Q² / √(Q² − ¼); f_peak = f0 √(1 − 1/(2Q²)); |H(f0)| = Q."""
    assert 0.5 * np.sqrt(ratio) == pytest.approx(q, abs=1e-5)
    network = equal_resistors(4 * q * q)
    found = network_response(network)
    assert found.peak_db == pytest.approx(peak_db, abs=1e-4)
    assert found.peak_hz / 1000 == pytest.approx(peak_over_f0, abs=1e-5)
    assert found.corner_hz / 1000 == pytest.approx(corner_over_f0, abs=1e-5)
    assert 20 * np.log10(abs(nodal_response(network, 1000.0))) == pytest.approx(at_f0_db, abs=1e-4)


@pytest.mark.parametrize(("q", "peak_db"), [(1, 1.24939), (1.5, 4.03335), (2, 6.30089), (3, 9.66477), (5, 14.02305)])
def test_second_order_peak_of_q(q, peak_db):
    assert network_response(equal_resistors(4 * q * q)).peak_db == pytest.approx(peak_db, abs=1e-5)


@pytest.mark.parametrize(
    ("feedback", "ground", "peak_db"),
    [
        (68, 10, 2.995),
        (150, 22, 3.005),
        (12, 1.5, 3.590),
        (33, 3.9, 3.800),
        (47, 2.2, 7.484),
        (100, 4.7, 7.467),
        (120, 5.6, 7.497),
        (22, 1, 7.606),
    ],
)
def test_capacitor_pairs(feedback, ground, peak_db):
    network = second_order(first_ohm=10e3, second_ohm=10e3, ground_farad=ground * 1e-9, feedback_farad=feedback * 1e-9)
    assert network_response(network).peak_db == pytest.approx(peak_db, abs=0.0006)


def test_capacitors_the_wrong_way_round_make_a_dull_filter():
    """Swapped labels give Q = ½ √(C1/C2) < ½: real poles, no peak."""
    network = second_order(first_ohm=10e3, second_ohm=10e3, ground_farad=100e-9, feedback_farad=15e-9)
    assert np.all(transfer(network).poles.imag == 0)
    assert network_response(network).peak_db == 0.0


@pytest.mark.parametrize(("resistor", "f0_hz"), [(4.7e3, 874.33), (10e3, 410.94), (50e3, 82.19), (54.7e3, 75.13)])
def test_second_order_frequency(resistor, f0_hz):
    network = second_order(first_ohm=resistor, second_ohm=resistor, ground_farad=15e-9, feedback_farad=100e-9)
    assert np.abs(transfer(network).poles) / (2 * np.pi) == pytest.approx([f0_hz, f0_hz], abs=0.006)


@pytest.mark.parametrize(
    ("mismatch", "q_factor", "f0_factor"), [(0.03, 0.99989, 0.98533), (0.1, 0.99887, 0.95346), (0.2, 0.99586, 0.91287)]
)
def test_gang_mismatch(mismatch, q_factor, f0_factor):
    """R2 = R (1 + ε): Q scales by 2 √(1 + ε)/(2 + ε), f0 by 1/√(1 + ε)."""
    poles = transfer(
        second_order(first_ohm=10e3, second_ohm=10e3 * (1 + mismatch), ground_farad=15e-9, feedback_farad=100e-9)
    ).poles
    true = transfer(second_order(first_ohm=10e3, second_ohm=10e3, ground_farad=15e-9, feedback_farad=100e-9)).poles
    assert abs(poles[0]) / abs(true[0]) == pytest.approx(f0_factor, abs=1e-5)
    q = abs(poles[0]) / (-2 * poles[0].real)
    assert q / (abs(true[0]) / (-2 * true[0].real)) == pytest.approx(q_factor, abs=1e-5)


def test_worked_example_of_the_handbook():
    """SLOD006, example 16-2: 3 kHz Chebyshev, 22 nF and 150 nF. Exact resistors, and those printed."""
    exact = network_response(
        second_order(first_ohm=1234.89, second_ohm=1333.29, ground_farad=22e-9, feedback_farad=150e-9)
    )
    assert exact.peak_db == pytest.approx(3.0, abs=0.002)
    assert exact.corner_hz == pytest.approx(3000, rel=0.001)
    printed = transfer(second_order(first_ohm=1260, second_ohm=1300, ground_farad=22e-9, feedback_farad=150e-9))
    f0 = abs(printed.poles[0]) / (2 * np.pi)
    q = abs(printed.poles[0]) / (-2 * printed.poles[0].real)
    assert f0 == pytest.approx(2159.2, rel=0.005)
    assert (f0, q) == (pytest.approx(2164.74, abs=0.01), pytest.approx(1.30542, abs=1e-5))
    found = network_response(second_order(first_ohm=1260, second_ohm=1300, ground_farad=22e-9, feedback_farad=150e-9))
    assert found.peak_db == pytest.approx(3.0, abs=0.02)


@pytest.mark.parametrize(
    ("first", "feedback", "second", "poles"),
    [
        (1.392647, 3.546818, 0.202451, "butter"),
        (0.9914, 1.4284, 0.2548, "bessel"),
    ],
)
def test_third_order_capacitors(first, feedback, second, poles):
    """Normalised capacitors for equal resistors, half power at 1 rad/s."""
    network = third_order(
        first_ohm=10e3,
        second_ohm=10e3,
        third_ohm=10e3,
        first_ground_farad=first / (2 * np.pi * 270 * 10e3),
        feedback_farad=feedback / (2 * np.pi * 270 * 10e3),
        second_ground_farad=second / (2 * np.pi * 270 * 10e3),
    )
    found = np.sort_complex(transfer(network).poles / (2 * np.pi * 270))
    expected = signal.butter(3, 1, analog=True, output="zpk")[1]
    if poles == "bessel":
        expected = signal.bessel(3, 1, analog=True, norm="mag", output="zpk")[1]
    np.testing.assert_allclose(found, np.sort_complex(expected), atol=2e-4)


def test_third_order_in_nanofarads():
    """10 kΩ, 270 Hz Butterworth: 82.09, 209.07 and 11.934 nF; 60.00 dB down a decade above."""
    network = third_order(
        first_ohm=10e3,
        second_ohm=10e3,
        third_ohm=10e3,
        first_ground_farad=82.09e-9,
        feedback_farad=209.07e-9,
        second_ground_farad=11.934e-9,
    )
    assert 20 * np.log10(np.abs(transfer(network).response([270, 2700]))) == pytest.approx([-3.0103, -60.0], abs=1e-3)


def test_third_order_rounded_values():
    """The usual rounded 1.392, 3.546, 0.2024 give −3.006 dB at 1 rad/s."""
    network = third_order(
        first_ohm=1,
        second_ohm=1,
        third_ohm=1,
        first_ground_farad=1.392,
        feedback_farad=3.546,
        second_ground_farad=0.2024,
    )
    assert 20 * np.log10(abs(nodal_response(network, 1 / (2 * np.pi)))) == pytest.approx(-3.006, abs=5e-4)


@pytest.mark.parametrize(("a", "b", "q"), [(1.4142, 1.0, 0.70711), (1.3617, 0.6180, 0.577), (1.0650, 1.9305, 1.3047)])
def test_coefficient_tables(a, b, q):
    """SLOD006, tables 16-6 and 16-7 and the 3 dB Chebyshev: 1 + a s + b s², with R1 = R2 and ω = 1."""
    ground, feedback = a / 2, 2 * b / a
    poles = transfer(second_order(first_ohm=1, second_ohm=1, ground_farad=ground, feedback_farad=feedback)).poles
    assert abs(poles[0]) / (-2 * poles[0].real) == pytest.approx(q, abs=4e-4)
    half = network_response(second_order(first_ohm=1, second_ohm=1, ground_farad=ground, feedback_farad=feedback))
    assert half.corner_hz * 2 * np.pi == pytest.approx(1.0, abs=2e-4)
