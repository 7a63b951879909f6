"""Corners and peaks, of one network and of many boards at once, against SciPy's searches on the nodal equations."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from filter_networks import second_order
from sublatch.circuit.networks.batch import corners_and_peaks, solve_boards
from sublatch.circuit.networks.corners import network_response
from sublatch.circuit.networks.elements import GROUND, Capacitor, Resistor
from sublatch.circuit.networks.solver import Network, nodal_response


def decibels(network: Network, log_hz: float) -> float:
    """Return the gain in dB at a frequency, from the nodal equations there."""
    return float(20 * np.log10(abs(nodal_response(network, np.exp(log_hz)))))


def test_corner_and_peak_are_where_other_searches_find_them(rng: np.random.Generator) -> None:
    """Sallen-Key low-passes with peaks from none to 25 dB, one at a time and all at once."""
    quality = np.concatenate([[0.3, 0.71, 1.0], rng.uniform(0.8, 18.0, 12)])
    farad = 10 ** rng.uniform(-9, -7, len(quality))
    networks = [
        second_order(first_ohm=20e3, second_ohm=20e3, ground_farad=c / (2 * q), feedback_farad=c * 2 * q)
        for q, c in zip(quality, farad, strict=True)
    ]
    values = {
        "first_resistor": np.full(len(quality), 20e3),
        "second_resistor": np.full(len(quality), 20e3),
        "ground_capacitor": farad / (2 * quality),
        "feedback_capacitor": farad * 2 * quality,
    }
    corners_hz, peaks_db = corners_and_peaks(solve_boards(networks[0], values))
    for network, q, c, corner_hz, peak_db in zip(networks, quality, farad, corners_hz, peaks_db, strict=True):
        natural = np.log(1 / (2 * np.pi * 20e3 * c))
        corner = np.exp(brentq(lambda x, of=network: decibels(of, x) + 10 * np.log10(2), natural - 3, natural + 1))
        found = network_response(network)
        assert found.corner_hz == pytest.approx(corner, rel=1e-9)
        assert corner_hz == pytest.approx(corner, rel=1e-9)
        top = minimize_scalar(
            lambda x, of=network: -decibels(of, x), bounds=(natural - 3, natural + 0.2), method="bounded"
        )
        expected_db = -top.fun if q > 0.72 else 0.0
        assert found.peak_db == pytest.approx(expected_db, abs=1e-7)
        assert peak_db == pytest.approx(expected_db, abs=1e-7)
        if expected_db:
            assert found.peak_hz == pytest.approx(np.exp(top.x), rel=1e-4)
        else:
            assert found.peak_hz is None


def test_a_band_pass_has_a_corner_on_either_side() -> None:
    """A high-pass at 1 / (2π R C) and a low-pass a hundred times higher, which hardly load each other."""
    network = Network(
        (
            *(Capacitor("C1", ("in", "a"), 1e-7), Resistor("R1", ("a", GROUND), 1e4)),
            *(Resistor("R2", ("a", "out"), 1e6), Capacitor("C2", ("out", GROUND), 1e-11)),
        )
    )
    found = network_response(network)
    frequency_hz = np.geomspace(10.0, 20e3, 200001)
    gain = np.abs(nodal_response(network, frequency_hz))
    passed = frequency_hz[gain > gain.max() / np.sqrt(2)]
    assert found.dc_gain_db is None
    assert found.low_corner_hz == pytest.approx(passed[0], rel=1e-4)
    assert found.corner_hz == pytest.approx(passed[-1], rel=1e-4)
    assert found.reference_db == pytest.approx(20 * np.log10(gain.max()), abs=1e-4)
