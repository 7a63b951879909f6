"""Choice of parts against handbook tables, through the functions and circuit files that a user has.

Sources: Texas Instruments SLOD006 (*Op Amps for Everyone*), example 16-2; Butterworth, Bessel and Chebyshev poles by
scipy; A. B. Williams and F. J. Taylor, *Electronic Filter Design Handbook*, active low-pass tables (from memory) for
the capacitors of the third order; resonance and corner formulas of first and second order by differentiation.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from filter_networks import third_order
from sublatch.circuit.filters.third_order import THIRD_ORDER_CAPACITORS
from sublatch.circuit.load import load_circuit
from sublatch.circuit.networks.solver import transfer
from sublatch.circuit.response import response
from sublatch.parts.choose.curves import q_of_peak, second_order_corner
from sublatch.parts.choose.fixed_search import fixed_sets
from sublatch.parts.choose.job import choose, choose_fixed
from sublatch.parts.choose.request import ChooseFixedRequest, ChooseRequest


@pytest.mark.parametrize(
    ("peak_db", "q", "ratio", "corner_over_f0"),
    [
        (0.0, 0.707107, 2.0, 1.0),
        (1.0, 0.956520, 3.6597, 1.24561),
        (3.0, 1.304693, 6.8089, 1.38943),
        (3.5, 1.397140, 7.8080, 1.41074),
        (4.0, 1.493428, 8.9213, 1.42880),
        (6.0, 1.926921, 14.8521, 1.47911),
        (7.5, 2.315423, 21.4447, 1.50220),
    ],
)
def test_q_and_corner_of_a_peak(peak_db, q, ratio, corner_over_f0):
    """Q² = (P + √(P² − P))/2, P = 10^(dB/10); feedback over ground capacitor 4 Q² with equal resistors."""
    assert q_of_peak(peak_db) == pytest.approx(q, abs=1e-6)
    assert 4 * q_of_peak(peak_db) ** 2 == pytest.approx(ratio, abs=1e-4)
    assert second_order_corner(q) == pytest.approx(corner_over_f0, abs=1e-5)


def test_e12_capacitors_cannot_hit_every_peak():
    """22/1 gives 7.606 dB, where 7.5 dB was asked for."""
    best = choose(ChooseRequest(low_hz=100.0, high_hz=5000.0, peak_db=7.5)).best
    assert best.settings[2].peak_db == pytest.approx(7.606, abs=0.0006)


def test_the_worked_example_of_the_handbook_as_a_circuit_file():
    """22 nF, 150 nF, and the printed 1.26 kΩ and 1.30 kΩ: f0 2164.74 Hz (2159.2 wanted), 3.0040 dB (3 dB wanted)."""
    parts = {
        "first_resistor": "1k26",
        "second_resistor": "1k3",
        "ground_capacitor": "22n",
        "feedback_capacitor": "150n",
    }
    circuit = load_circuit("gated-open", changes={"filter": {"kind": "second-order", **parts}})
    found = response(circuit)
    assert found.peak_db == pytest.approx(3.0, abs=0.02)
    assert found.peak_db == pytest.approx(3.0040, abs=1e-4)
    assert found.corner_hz == pytest.approx(3000.0, rel=0.005)
    assert found.corner_hz / second_order_corner(1.30542) == pytest.approx(2164.74, abs=0.02)


@pytest.mark.parametrize("shape", ["butterworth", "bessel", "chebyshev"])
def test_third_order_ratios_are_those_of_the_poles(shape):
    """Half power at 1 rad/s; the table has four places and more."""
    names = ("first_ground_farad", "feedback_farad", "second_ground_farad")
    values = dict(zip(names, THIRD_ORDER_CAPACITORS[shape], strict=True))
    poles = np.sort_complex(transfer(third_order(first_ohm=1, second_ohm=1, third_ohm=1, **values)).poles)
    if shape == "butterworth":
        expected = signal.butter(3, 1, analog=True, output="zpk")[1]
    elif shape == "bessel":
        expected = signal.bessel(3, 1, analog=True, norm="mag", output="zpk")[1]
    else:
        expected = signal.cheby1(3, 0.5, 1, analog=True, output="zpk")[1]
        half = np.cosh(np.arccosh(np.sqrt((10**0.30103 - 1) / (10**0.05 - 1))) / 3)  # corner over ripple edge
        expected = expected / half
    np.testing.assert_allclose(poles, np.sort_complex(expected), rtol=0, atol=4e-4)


def test_third_order_parts_are_the_textbooks_to_the_nearest_value():
    """10 kΩ, 270 Hz: 82.09, 209.07 and 11.934 nF, of which E24 has 82, 200 or 220, and 12."""
    ideal = np.array(THIRD_ORDER_CAPACITORS["butterworth"]) / (2 * np.pi * 270 * 10e3)
    assert ideal * 1e9 == pytest.approx([82.09, 209.07, 11.934], abs=0.005)
    series = {"capacitors": "E24", "resistors": "E24"}
    sets = fixed_sets(270.0, kind="third-order", shape="butterworth", most_miss=2.0, **series)
    nearest = next(one for one in sets if one.ohm == 10e3)
    assert nearest.farad == pytest.approx(ideal, rel=0.1)
    assert [one for one in sets if (one.ohm, one.farad) == (10e3, (82e-9, 200e-9, 12e-9))]


@pytest.mark.parametrize(
    ("corner_hz", "pairs"),
    [
        (267.94, {(22e3, 27e-9), (27e3, 22e-9), (33e3, 18e-9), (18e3, 33e-9), (2.2e3, 270e-9)}),
        (272.06, {(39e3, 15e-9), (15e3, 39e-9), (150e3, 3.9e-9), (3.9e3, 150e-9)}),
        (282.19, {(12e3, 47e-9), (47e3, 12e-9)}),
    ],
)
def test_first_order_pairs(corner_hz, pairs):
    """1/(2π R C), the pairs of E12 that have one corner."""
    found = choose_fixed(
        ChooseFixedRequest(corner_hz=corner_hz, kind="first-order", resistors="E12", alternatives=len(pairs) + 3)
    )
    sets = (found.best, *found.alternatives)
    assert {(one.parts["resistor"], one.parts["capacitor"]) for one in sets} >= pairs
    for one in sets[: len(pairs)]:
        assert one.settings[0].corner_hz == pytest.approx(corner_hz, abs=0.01)
