"""The rendered path against its differential equations (scipy's solve_ivp, events for comparator and diodes)."""

import numpy as np
import pytest

from circuit_equations import Values, solve
from sublatch.circuit.detectors.peak_latch import PeakLatch
from sublatch.circuit.load import load_circuit
from sublatch.signal.chain import detected_edges, render
from sublatch.takes.take import take_from_samples

RATE = 48000
SECONDS = 0.8


def two_notes(t):
    """An E and, from 0.4 s on, the A above it, each with overtones, rising and dying smoothly; volts."""
    total = 0.0
    for start, pitch in ((0.02, 41.2034), (0.4, 55.0)):
        since = t - start
        if since > 0:
            envelope = since**4 / (since**4 + 0.012**4) * np.exp(-2.5 * since)
            for harmonic, share in ((1, 0.5), (2, 0.45), (3, 0.2), (5, 0.08)):
                total += 0.4 * envelope * share * np.sin(2 * np.pi * harmonic * pitch * since)
    return total


def by_hand(circuit):
    """The circuit's values as plain numbers."""
    filter_, mix, output, detector = circuit.filter, circuit.mix, circuit.output, circuit.detector
    latch = isinstance(detector, PeakLatch)
    lower, upper = output.pot.resistances(circuit.knobs.volume)
    mixes = mix.kind != "none"
    direct_lower, direct_upper = mix.direct_pot.resistances(circuit.knobs.direct) if mixes else (0.0, 0.0)
    low_pass = mix.direct_filter if mixes and mix.direct_filter.kind == "swept-first-order" else None
    inverts = output.kind == "inverting"
    gang, start = filter_.pot.resistances(circuit.tone)[1], filter_.start_resistor
    resistor = filter_.end_resistor + (gang if start is None else gang * start / (gang + start))
    return Values(
        input_c=circuit.input.coupling,
        input_r=circuit.input.resistance,
        detector_r=detector.filter.first_resistor,
        detector_c=(
            detector.filter.first_ground_capacitor,
            detector.filter.feedback_capacitor,
            detector.filter.second_ground_capacitor,
        ),
        fraction=detector.fraction if latch else 0.0,
        hold_s=detector.hold_resistor * detector.hold_capacitor if latch else 1.0,
        floor=detector.floor if latch else detector.hysteresis,
        gains=circuit.octave.gains,
        filter_r=resistor,
        filter_ground_c=getattr(filter_.ground_capacitor, circuit.peak),
        filter_feedback_c=getattr(filter_.feedback_capacitor, circuit.peak),
        mix_r=(mix.octave_resistor, mix.direct_resistor) if mixes else (0.0, 0.0),
        direct_upper=direct_upper,
        direct_lower=direct_lower,
        coupling_c=output.coupling,
        volume_upper=upper + (output.trim_resistor or 0.0),
        volume_lower=lower,
        load=output.input_resistor if inverts else output.load,
        gain=(
            -output.feedback_resistor / output.input_resistor
            if inverts
            else 1 + output.feedback_resistor / output.ground_resistor
        ),
        mixing=mix.kind,
        mix_feedback=getattr(mix, "feedback_resistor", 0.0),
        direct_r=low_pass.end_resistor + low_pass.pot.resistances(circuit.direct_tone)[1] if low_pass else 0.0,
        direct_c=low_pass.capacitor if low_pass else 0.0,
        limits=(output.low_margin - circuit.supply / 2, circuit.supply / 2 - output.high_margin),
    )


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
    changes = {"detector.filter.kind": "third-order", **CASES[case]}
    circuit = load_circuit("gated-swept", changes=changes)
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
