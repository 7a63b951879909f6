"""What a tone recorded through a box tells, held against boxes whose parts are known."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.circuit.response import response
from sublatch.errors import AudioDataError
from sublatch.parts.mybox.tone_recording import read_tone
from sublatch.signal.chain import render
from sublatch.takes.take import take_from_samples

RATE = 24000
TIME_S = np.arange(3 * RATE) / RATE


def recorded(circuit, tone_hz=110.0, *, noise=0.0, seed=1):
    """Return a box's output with a tone, as a recorder has it: at another level, with noise."""
    take = take_from_samples(0.2 * np.sin(2 * np.pi * tone_hz * TIME_S), RATE, name="tone")
    out = 0.37 * render(take, circuit).samples
    out = out + noise * np.sqrt(np.mean(out**2)) * np.random.default_rng(seed).standard_normal(len(out))
    return take_from_samples(out, RATE, name="recording")


@pytest.mark.parametrize("octave", ["gain-gated", "polarity-switched"])
@pytest.mark.parametrize("kind", ["none", "first-order", "second-order", "third-order"])
@pytest.mark.parametrize("tone_hz", [82.7, 110.0])
def test_octave_filter_and_corner_come_out(octave, kind, tone_hz):
    circuit = load_circuit("gated-first-order", changes={"octave.kind": octave, "filter.kind": kind})
    found = read_tone(recorded(circuit, tone_hz, noise=1e-3), tone_hz=tone_hz if tone_hz == 110.0 else 82.0)
    assert (found.octave_kind, found.filter_kind) == (octave, kind)
    assert found.tone_hz == pytest.approx(tone_hz, rel=1e-4)
    if kind != "none":
        assert found.corner_hz == pytest.approx(response(circuit).corner_hz, rel=0.01)


def test_a_peak_comes_out():
    changes = {"filter.kind": "second-order", "filter.feedback_capacitor": "47n"}
    circuit = load_circuit("gated-open", changes=changes)
    found = read_tone(recorded(circuit), tone_hz=110.0)
    assert found.peak_db == pytest.approx(response(circuit).peak_db, abs=0.1)
    assert found.corner_hz == pytest.approx(response(circuit).corner_hz, rel=0.01)


def test_lines_written_down_by_hand_are_read():
    """A sine turned over at its own zeros, made sample by sample: |sin| with alternating sign, through R and C."""
    fine = np.arange(3 * RATE * 8) / (RATE * 8)
    tone = np.sin(2 * np.pi * 110.0 * fine) * np.sign(np.sin(np.pi * 110.0 * fine + 1e-9))
    share, out, y = 1.0 - np.exp(-2 * np.pi * 275.0 / (RATE * 8)), np.empty(len(tone)), 0.0
    for n, value in enumerate(tone):
        y += share * (value - y)
        out[n] = y
    found = read_tone(take_from_samples(out[::8].copy(), RATE, name="by hand"), 110.0)
    assert (found.octave_kind, found.filter_kind) == ("polarity-switched", "first-order")
    assert found.corner_hz == pytest.approx(275.0, rel=0.01)


@pytest.mark.parametrize(
    ("samples", "message"),
    [
        (0.2 * np.sin(2 * np.pi * 110.0 * TIME_S), "fewer than four lines of 110 Hz an octave down"),
        (0.2 * np.sin(2 * np.pi * 110.0 * TIME_S[: RATE // 2]), "a tone of 1.7 s or more is needed, got 0.50 s"),
        (np.random.default_rng(2).standard_normal(len(TIME_S)) * 0.1, "from those of 110 Hz an octave down on average"),
    ],
)
def test_what_is_no_such_recording_is_refused(samples, message):
    with pytest.raises(AudioDataError, match=message):
        read_tone(take_from_samples(samples, RATE, name="other"), 110.0)
