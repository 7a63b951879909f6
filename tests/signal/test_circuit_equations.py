"""The rendered path of ideal parts against its differential equations (scipy's solve_ivp).

Comparator and diodes are events. Equations of parts that are off are in `test_detector_equations`.
"""

import numpy as np
import pytest

from circuit_equations import solve
from equation_cases import by_hand, two_notes
from sublatch.circuit.load import load_circuit
from sublatch.signal.chain import detected_edges, render
from sublatch.takes.take import take_from_samples

RATE = 48000
SECONDS = 0.8


CASES = {
    "peak latch, swept": {"knobs.tone": 4.0},
    "swept with start resistors": {"knobs.tone": 1.0, "filter.start_resistor": "68k"},
    "peaked, direct, inverter mismatch": {
        "octave.kind": "polarity-switched",
        "octave.mismatch": "3%",
        "switches.peak": "peaked",
        "knobs.tone": 3.0,
        "knobs.direct": 6.0,
    },
    "fixed hysteresis, leak": {
        "detector.kind": "zero-crossing",
        "detector.hysteresis": "8mV",
        "octave.leak": "3%",
    },
    "virtual earth, inverting buffer, direct signal with a low-pass of its own": {
        "mix.kind": "virtual-earth",
        "mix.feedback_resistor": "33k",
        "mix.direct_resistor": "47k",
        "mix.direct_filter.kind": "swept-first-order",
        "output.kind": "inverting",
        "knobs.direct": 8.0,
        "knobs.direct_tone": 2.0,
    },
    "no mixing stage, inverting buffer": {"mix.kind": "none", "output.trim_resistor": "none"},
    "overloaded output": {"knobs.volume": 10.0, "supply": "4V"},
}


@pytest.mark.parametrize("case", CASES)
def test_the_path_obeys_its_differential_equations(case):
    latch = {"detector.kind": "peak-latch", "detector.filter.kind": "third-order", "devices.values": "ideal"}
    circuit = load_circuit("gated-swept", changes=latch | CASES[case])
    times = np.arange(round(SECONDS * RATE)) / RATE
    take = take_from_samples(np.array([two_notes(t) for t in times]), RATE)
    expected, edges = solve(by_hand(circuit), two_notes, times)
    rendered = render(take, circuit)
    found = detected_edges(take, circuit)
    assert len(edges) > 50
    np.testing.assert_allclose(found, edges, atol=2e-6)
    residual = np.sqrt(np.mean((rendered.samples - expected) ** 2) / np.mean(expected**2))
    assert 20 * np.log10(residual) < -70
    if case == "overloaded output":
        assert rendered.at_limit_share > 0.05
        at_limit = np.mean((expected >= by_hand(circuit).limits[1]) | (expected <= by_hand(circuit).limits[0]))
        assert rendered.at_limit_share == pytest.approx(at_limit, abs=2e-3)
