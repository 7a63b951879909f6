"""Long takes are worked on in blocks: what comes of them is what the whole would give."""

import numpy as np
import pytest

from sublatch.circuit.detectors.bends import FullWave, Swing
from sublatch.circuit.load import load_circuit
from sublatch.demo.takes import demo_takes
from sublatch.sampling import blocks as sampling_blocks
from sublatch.sampling.blocks import MARGIN, blocks, in_blocks
from sublatch.signal.chain import render
from sublatch.signal.filtering.limits import limited
from sublatch.signal.front.bends import bent
from sublatch.takes.take import take_from_samples

RATE = 48000


@pytest.fixture
def short_blocks(monkeypatch):
    """Work in blocks of a third of a second."""

    def shorten():
        monkeypatch.setattr(sampling_blocks, "BLOCK", 16000)

    return shorten


@pytest.fixture(scope="module")
def played():
    """Two seconds of an invented take with low and high notes, in volts."""
    return demo_takes(RATE)["hard-accents"][: 2 * RATE]


@pytest.mark.parametrize("count", [0, 1, 16000 + MARGIN, 16000 + MARGIN + 1, 32000, 100001])
def test_blocks_are_the_whole_and_have_their_margins(short_blocks, count):
    short_blocks()
    found = list(blocks(count))
    assert [n for one in found for n in range(count)[one.place]] == list(range(count))
    for place, stretch, within in found:
        assert range(count)[stretch][within] == range(count)[place]
        assert stretch.start == max(place.start - MARGIN, 0) or len(found) == 1
        assert stretch.stop == min(place.stop + MARGIN, count)
    assert len(found) == (count > 0 if count <= 16000 + MARGIN else -(-count // 16000))


def test_what_depends_on_its_neighbourhood_comes_out_as_of_the_whole(short_blocks, rng):
    samples, kernel = rng.standard_normal(70000), rng.standard_normal(2 * MARGIN + 1)

    def smoothed(stretch, _):
        return np.fft.irfft(np.fft.rfft(stretch, 1 << 17) * np.fft.rfft(kernel, 1 << 17))[
            MARGIN : MARGIN + len(stretch)
        ]

    whole = in_blocks(samples, smoothed)
    short_blocks()
    assert in_blocks(samples, smoothed) == pytest.approx(whole, abs=1e-9)
    places = in_blocks(samples, lambda stretch, first: np.arange(first, first + len(stretch), dtype=float))
    assert np.array_equal(places, np.arange(70000))


@pytest.mark.parametrize("law", [FullWave(1), Swing()])
def test_bends_do(short_blocks, played, law):
    whole = bent(3.0 * played, law=law, limits=(-1.0, 1.2), idle_v=0.01)
    short_blocks()
    assert bent(3.0 * played, law=law, limits=(-1.0, 1.2), idle_v=0.01) == pytest.approx(whole, abs=1e-9)


def test_limits_do_and_count_no_moment_twice(short_blocks, played):
    whole, share = limited(3.0 * played, limits=(-1.0, 1.2))
    short_blocks()
    found, its_share = limited(3.0 * played, limits=(-1.0, 1.2))
    assert found == pytest.approx(whole, abs=1e-9)
    assert its_share == pytest.approx(share, rel=1e-6)
    assert share > 0.02
    assert limited(np.full(60000, 2.0), limits=(-1.0, 1.0))[1] == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize("circuit", ["polarity-third-order", "gated-swept"])
def test_a_rendering_does(short_blocks, played, circuit):
    """A pair ahead of the switching has blocks of its own, which then lie elsewhere: what folds is 100 dB down."""
    take, circuit = take_from_samples(played, RATE), load_circuit(circuit)
    whole = render(take, circuit)
    short_blocks()
    found = render(take, circuit)
    assert found.drive_edges_s == pytest.approx(whole.drive_edges_s, abs=1e-9)
    error = np.max(np.abs(found.samples - whole.samples))
    pair = circuit.octave.linear_range is not None
    assert error < (1e-5 if pair else 1e-8) * np.max(np.abs(whole.samples))
    assert found.at_limit_share == pytest.approx(whole.at_limit_share, abs=1e-6)
