"""Corners and peaks, of one network and of many boards at once, against SciPy's searches on the nodal equations."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from filter_networks import second_order
from sublatch.circuit.networks.corners import corners_and_peaks, network_response
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Resistor
from sublatch.circuit.networks.solver import Network, nodal_response, solve_boards, transfer


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
    many = corners_and_peaks(solve_boards(networks[0], values))
    for network, q, c, corner_hz, peak_db in zip(networks, quality, farad, many.corner_hz, many.peak_db, strict=True):
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


def test_many_band_passes_have_the_corners_of_each_alone(rng: np.random.Generator) -> None:
    """A second-order high-pass with both zeros at 0 Hz, where rounding alone would put none, and a low-pass."""
    parts = (
        *(Capacitor("C1", ("in", "a"), 1e-8), Capacitor("C2", ("a", "b"), 1e-8)),
        *(Resistor("R1", ("a", "d"), 1e5), Resistor("R2", ("b", GROUND), 1e5)),
        *(OpAmp("U1", "b", "d", "d"), Resistor("R3", ("d", "out"), 1e3), Capacitor("C3", ("out", GROUND), 2e-8)),
    )
    nominal = {part.name: getattr(part, "ohm", None) or part.farad for part in parts if not isinstance(part, OpAmp)}
    values = {name: value * rng.uniform(0.7, 1.4, 12) for name, value in nominal.items()}
    boards = solve_boards(Network(parts), values)
    many = corners_and_peaks(boards)
    assert np.all(boards.zeros[:, 0] == 0.0)
    assert np.all(np.abs(boards.zeros) < 1e-3)
    for place in range(12):
        made = [
            OpAmp("U1", "b", "d", "d")
            if isinstance(part, OpAmp)
            else type(part)(part.name, part.nodes, float(values[part.name][place]))
            for part in parts
        ]
        alone = network_response(Network(tuple(made)))
        assert alone.dc_gain_db is None
        assert many.low_corner_hz[place] == pytest.approx(alone.low_corner_hz, rel=1e-3)  # the highest gain, on a grid
        assert many.corner_hz[place] == pytest.approx(alone.corner_hz, rel=1e-3)
        assert (many.peak_db[place], np.isnan(many.peak_hz[place])) == (0.0, True)
        gain = np.abs(transfer(Network(tuple(made))).response([1.0, 100.0, 5000.0]))
        np.testing.assert_allclose(boards.power(np.array([1.0, 100.0, 5000.0]))[place], gain**2, rtol=1e-12)


def test_a_root_that_is_infinite_on_some_boards_alone_counts_nothing_there() -> None:
    """R C from 1.6 ns to 2.4 ns around the 2 ns that count as nothing, beside a low-pass at 1 kHz."""
    parts = (
        *(Resistor("R1", ("in", "a"), 20.0), Capacitor("C1", ("a", GROUND), 1e-10)),
        *(OpAmp("U1", "a", "b", "b"), Resistor("R2", ("b", "out"), 1e4), Capacitor("C2", ("out", GROUND), 15.9e-9)),
    )
    values = {"R1": np.array([16.0, 24.0]), "C1": np.full(2, 1e-10), "R2": np.full(2, 1e4), "C2": np.full(2, 15.9e-9)}
    boards = solve_boards(Network(parts), values)
    assert np.sum(np.abs(boards.poles) < 1e9, axis=1).tolist() == [1, 2]
    frequency_hz = np.geomspace(10.0, 1e6, 9)
    expected = 1.0 / (1.0 + (2 * np.pi * frequency_hz * 1e4 * 15.9e-9) ** 2)
    np.testing.assert_allclose(boards.power(frequency_hz), [expected, expected], rtol=1e-3)
    np.testing.assert_allclose(corners_and_peaks(boards).corner_hz, 1 / (2 * np.pi * 1e4 * 15.9e-9), rtol=1e-9)


@pytest.mark.parametrize("second_ohm", [25e3, 100e3, 1e6])
def test_a_shelf_that_never_falls_so_far_has_no_corner(second_ohm: float) -> None:
    """R2 / (R1 + R2) of the gain at high frequencies, 2.9 dB down at most."""
    parts = (
        *(Resistor("R1", ("in", "out"), 10e3), Resistor("R2", ("out", "a"), second_ohm)),
        Capacitor("C1", ("a", GROUND), 1e-8),
    )
    found = network_response(Network(parts), frequency_hz=[1e6])
    assert (found.corner_hz, found.peak_hz) == (None, None)
    assert found.dc_gain_db == pytest.approx(0.0, abs=1e-9)
    assert found.gain_db == pytest.approx([20 * np.log10(second_ohm / (10e3 + second_ohm))], abs=1e-3)


@pytest.mark.parametrize("beyond", [0.5, 3.0, 9.7])
def test_a_shelf_has_its_corner_far_above_its_zero(beyond: float) -> None:
    """With a pole p and a zero z, |G|² = (1 + (f/z)²) / (1 + (f/p)²): a half at f = p √(½ / (½ − (p/z)²)).

    The share p/z = R2 / (R1 + R2) that puts the corner at so many times z is √((b²/2) / (½ + b²)).
    """
    share = np.sqrt(0.5 * beyond**2 / (0.5 + beyond**2))
    high_ohm, farad = 10e3 * (1 / share - 1), 10e-9
    network = Network(
        (
            *(Resistor("R1", ("in", "out"), high_ohm), Resistor("R2", ("out", "a"), 10e3)),
            Capacitor("C", ("a", GROUND), farad),
        )
    )
    pole_hz = 1 / (2 * np.pi * (high_ohm + 10e3) * farad)
    expected_hz = pole_hz * np.sqrt(0.5 / (0.5 - share**2))
    assert expected_hz == pytest.approx(beyond / (2 * np.pi * 10e3 * farad), rel=1e-9)
    assert network_response(network).corner_hz == pytest.approx(expected_hz, rel=1e-6)
    values = {"R1": np.array([high_ohm]), "R2": np.array([10e3]), "C": np.array([farad])}
    corner_hz = corners_and_peaks(solve_boards(network, values)).corner_hz
    assert corner_hz == pytest.approx([expected_hz], rel=1e-6)
