"""Networks of one's own, with slips of the hand or without: each gives finite results or is refused in plain words."""

from __future__ import annotations

import json

import numpy as np
import pytest

from own_networks import BAND_PASS, HIGH_PASS, WORKING, resistor, with_slips
from sublatch.board.sheet.write import build_sheet
from sublatch.circuit.load import load_circuit
from sublatch.circuit.model import Circuit
from sublatch.circuit.response import response
from sublatch.errors import CircuitError
from sublatch.json_data import plain_values
from sublatch.parts.knobs.report import knobs
from sublatch.parts.tolerance import Wanted, spread
from sublatch.signal.chain import render
from sublatch.takes.take import Take, take_from_samples

RATE = 8000
SEEDS = 80
NINETEEN = 19
"""Each nineteenth one that works goes through what takes long, too."""


@pytest.fixture
def take(sine) -> Take:
    return take_from_samples(sine(61.0, 0.25, rate=RATE, amplitude=0.3), RATE, full_scale_volts=1.0)


def circuit_with(parts, path="filter", **more) -> Circuit:
    return load_circuit("gated-open", changes={path: {"kind": "network", "parts": parts}} | more)


def assert_finite(circuit: Circuit, take: Take) -> None:
    """Assert that response and sound are numbers."""
    found = response(circuit)
    json.dumps(plain_values(found), allow_nan=False)
    assert np.all(np.isfinite(found.gain_db))
    assert np.all(np.isfinite(render(take, circuit).samples))


def test_a_slip_of_the_hand_gives_finite_results_or_is_refused(take):
    taken, refused = 0, 0
    for seed in range(SEEDS):
        try:
            circuit = circuit_with(with_slips(np.random.default_rng(seed)))
        except CircuitError:
            refused += 1
            continue
        assert_finite(circuit, take)
        taken += 1
        if taken % NINETEEN == 0:
            json.dumps(plain_values(knobs(circuit)), allow_nan=False)
            wide = spread(circuit, boards=100, wanted=(Wanted(circuit.tone, circuit.peak, None, 0.0),))
            assert np.all(np.isfinite([wide.low_db, wide.high_db]))
            assert "</html>" in build_sheet(circuit)
    assert taken > SEEDS // 4
    assert refused > SEEDS // 4


@pytest.mark.parametrize("name", sorted(WORKING.keys() - {"swept"}))
def test_what_works_in_the_output_works_in_the_detector_but_with_a_knob(name, take):
    changes = {"detector.kind": "overtone", "detector.band.filter": {"kind": "network", "parts": WORKING[name]}}
    assert_finite(circuit_with(WORKING[name], "detector.filter", **changes), take)


def test_a_high_pass_has_no_gain_at_zero_and_its_corner_counts_from_the_highest():
    """C into R: 1 / (2π R C), 3.01 dB below what it passes at 20 kHz."""
    found = response(circuit_with(HIGH_PASS))
    assert (found.dc_gain_db, found.corner_hz, found.peak_db, found.peak_hz) == (None, None, 0.0, None)
    corner = 1 / (2 * np.pi * 10e3 * 10e-9)
    assert found.reference_db == pytest.approx(-10 * np.log10(1 + (corner / 20e3) ** 2), abs=1e-6)
    below = np.sqrt(10 ** (-found.reference_db / 10) * 2 - 1)
    assert found.low_corner_hz == pytest.approx(corner / below, rel=1e-6)


def test_a_band_pass_has_two_corners_around_its_middle():
    """Multiple feedback: f0 = 1 / (2π C √(R1 R2)), gain R2 / (2 R1), width 1 / (π C R2) (SLOD006, chapter 16)."""
    found = response(circuit_with(BAND_PASS))
    assert found.dc_gain_db is None
    assert found.reference_db == pytest.approx(20 * np.log10(68 / 66), abs=1e-4)
    assert found.low_corner_hz is not None
    assert found.corner_hz is not None
    assert found.low_corner_hz * found.corner_hz == pytest.approx(
        (1 / (2 * np.pi * 10e-9)) ** 2 / (33e3 * 68e3), rel=1e-4
    )
    assert found.corner_hz - found.low_corner_hz == pytest.approx(1 / (np.pi * 10e-9 * 68e3), rel=1e-4)


def test_a_filter_far_down_still_has_its_gain_at_zero():
    """60 dB of loss is no lack of gain at 0 Hz."""
    found = response(circuit_with([resistor("R1", "1M", "in", "out"), resistor("R2", "1k", "out", "ground")]))
    assert found.dc_gain_db == pytest.approx(20 * np.log10(1e3 / 1.001e6))
