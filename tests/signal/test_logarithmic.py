"""The logarithmic amplifier ahead of a latch."""

import numpy as np
import pytest

from sublatch.circuit.boards import BoardDraws
from sublatch.circuit.model import Circuit
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_edges
from sublatch.signal.front_volts import front
from sublatch.takes.take import take_from_samples

LATCH = {"kind": "logarithmic-latch"}
UNIT_V = 3 * 1.752 * 25.85e-3
"""Three diodes of a 1N4148 type in series (published models of it, from memory)."""
SCALE_V = 2 * 10e6 * 2.52e-9


@pytest.mark.parametrize("rate", [8000, 16000, 44100])
@pytest.mark.parametrize("values", ["ideal", "worst"])
def test_what_the_comparators_see_is_the_diodes_own_law_at_any_rate(rate, values):
    """Of a sine v, v + 2 R Is sinh(v / (N n VT)) is one again (Shockley), however high its overtones would lie."""
    circuit = Circuit(title="Test", octave={"kind": "gain-gated"}, detector=LATCH, devices={"values": values})
    t = np.arange(3 * rate) / rate
    volts = front(take_from_samples(0.3 * np.sin(2 * np.pi * 100.0 * t), rate), circuit, StageCache())[1]
    second = volts[-rate:]
    unbent = second + SCALE_V * np.sinh(second / UNIT_V)
    sizes = np.abs(np.fft.rfft(unbent)) / (rate / 2)
    sizes[0] /= 2
    assert sizes[100] > 10.0
    others = np.delete(sizes, [100] if values == "ideal" else [0, 100])  # real parts rest off zero
    assert others.max() < 1e-4 * sizes[100]


def test_edges_are_the_same_at_a_third_of_the_rate():
    """Notes of many partials, on boards; 2 microseconds are a thirtieth of a sample."""
    circuit = Circuit(title="Test", octave={"kind": "gain-gated"}, detector=LATCH)
    t = np.arange(2 * 48000) / 48000
    partials = sum(np.sin(2 * np.pi * 55.0 * n * t + n * n) / n for n in range(1, 30))
    samples = 0.3 * np.exp(-2 * t) * np.minimum(1.0, t / 0.02) * partials
    for number in BoardDraws(4).numbers:
        board = BoardDraws(4).board(circuit, number)
        expected, edges = (detected_edges(take_from_samples(samples[::step], 48000 // step), board) for step in (1, 3))
        assert len(edges) == len(expected) > 100
        assert edges == pytest.approx(expected, abs=20e-6)
        assert np.median(np.abs(edges - expected)) < 2e-6
