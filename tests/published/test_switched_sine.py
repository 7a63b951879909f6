"""Both octave stages against the Fourier series of a switched sine.

Closed forms: with θ = πft and s = ±1 switching at input phase φ, the polarity-switched sine has harmonics of f/2 of
amplitude |A_n| = (4/π) √(4 cos²φ + n² sin²φ) / |n² − 4| at odd n and nothing at f, 2f, … (by term-by-term
integration; the tabulated figures below were computed independently with a 2²¹-point FFT).
"""

import numpy as np
import pytest

from oracles import amplitude, db, switched_sine_amplitude, switched_sine_phasor
from sublatch.circuit.octave_stages.gain_gated import GainGated
from sublatch.circuit.octave_stages.polarity_switched import PolaritySwitched
from sublatch.sampling.rates import halved
from sublatch.signal.octave_stage.switched import generate

PHASES_DEG = [0.0, 22.5, 45.0, 90.0]
NOTES_HZ = [41.2, 97.9989, 312.0, 440.0, 1245.0]
TABLE = {  # phase: A1, A3, A5, A7
    0.0: (0.8488264, 0.5092958, 0.1212609, 0.0565884),
    22.5: (0.8008554, 0.5539533, 0.1612745, 0.0920762),
    45.0: (0.6710562, 0.6492273, 0.2308739, 0.1456534),
    90.0: (0.4244132, 0.7639437, 0.3031523, 0.1980595),
}
COUNT, MARGIN = 1 << 16, 4096


def switched(octave, frequency_hz, phase_deg, rate, *, harmonic=1, alpha=0.0):
    """Render a sine with ideal edges; return the output's whole cycles and how many cycles of the note they hold."""
    cycles = 2 * round(frequency_hz * COUNT / rate / 2)
    exact_hz = cycles * rate / COUNT
    time = (np.arange(2 * (COUNT + 2 * MARGIN)) - 2 * MARGIN) / (2 * rate)
    note = np.sin(2 * np.pi * exact_hz * harmonic * time + alpha)
    first = -2 * round(exact_hz * MARGIN / rate / 2) - 2
    edges = (phase_deg / 360 + np.arange(first, cycles - first)) / exact_hz + MARGIN / rate
    made = generate(note, edges, sample_rate=2 * rate, octave=octave)
    made = halved(made)
    return made[MARGIN : MARGIN + COUNT], cycles


@pytest.mark.parametrize("phase", PHASES_DEG)
def test_the_closed_form_gives_the_tabulated_amplitudes(phase):
    found = [switched_sine_amplitude(n, phase=np.radians(phase)) for n in (1, 3, 5, 7)]
    assert found == pytest.approx(TABLE[phase], abs=1e-7)
    assert [abs(switched_sine_phasor(n, phase=np.radians(phase))) for n in (1, 3, 5, 7)] == pytest.approx(
        TABLE[phase], abs=1e-7
    )


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
@pytest.mark.parametrize("phase", PHASES_DEG)
@pytest.mark.parametrize("note", NOTES_HZ)
def test_polarity_switched_sine(note, phase, rate):
    out, cycles = switched(PolaritySwitched(), note, phase, rate)
    for n in range(1, int(5000 * 2 * COUNT / rate / cycles) + 1, 2):
        expected = switched_sine_amplitude(n, phase=np.radians(phase))
        assert db(amplitude(out, n * cycles / 2) / expected) == pytest.approx(0.0, abs=0.001)
    for whole in (0, 1, 2, 3):
        assert abs(np.mean(out)) if whole == 0 else amplitude(out, whole * cycles) < 1e-7


@pytest.mark.parametrize("leak", [0.0, 0.01, 0.03, 0.1])
@pytest.mark.parametrize("phase", PHASES_DEG)
def test_gated_sine_with_leak(leak, phase):
    """General gains a, b: (a + b)/2 at f, |a − b|/2 · A_n at odd n f/2."""
    out, cycles = switched(GainGated(leak=leak), 97.9989, phase, 48000)
    assert db(amplitude(out, cycles) / ((1 + leak) / 2)) == pytest.approx(0.0, abs=0.001)
    for n in range(1, 100, 2):
        expected = (1 - leak) / 2 * switched_sine_amplitude(n, phase=np.radians(phase))
        assert db(amplitude(out, n * cycles / 2) / expected) == pytest.approx(0.0, abs=0.001)


@pytest.mark.parametrize(("leak", "relative_db"), [(0.0, -1.4236), (0.01, -1.5973), (0.03, -1.9449), (0.1, -3.1666)])
def test_leak_moves_the_octave_against_the_note(leak, relative_db):
    out, cycles = switched(GainGated(leak=leak), 55.0, 0.0, 48000)
    assert db(amplitude(out, cycles / 2) / amplitude(out, cycles)) == pytest.approx(relative_db, abs=0.001)


@pytest.mark.parametrize(
    ("mismatch", "relative_db"), [(0.01, -44.553), (0.02, -38.489), (0.05, -30.398), (0.1, -24.151)]
)
def test_mismatch_lets_the_note_through(mismatch, relative_db):
    out, cycles = switched(PolaritySwitched(mismatch=mismatch), 55.0, 0.0, 48000)
    assert db(amplitude(out, cycles) / amplitude(out, cycles / 2)) == pytest.approx(relative_db, abs=0.002)
    for n in range(1, 150, 2):
        expected = (1 - mismatch / 2) * switched_sine_amplitude(n, phase=0.0)
        assert db(amplitude(out, n * cycles / 2) / expected) == pytest.approx(0.0, abs=0.001)


@pytest.mark.parametrize(
    ("harmonic", "expected"),
    [(2, (0.3395305, 0.7275655, -0.5658842, -0.1543321)), (3, (0.2182696, 0.2829421, 0.6944943, -0.5876490))],
)
def test_overtones_are_switched_as_the_note_is(harmonic, expected):
    """8p / (π(4p² − n²)), signed, with the edges on the note's own zero crossings."""
    out, cycles = switched(PolaritySwitched(), 73.4162, 0.0, 48000, harmonic=harmonic)
    first = round(73.4162 * MARGIN / 48000 / 2) * 2 + 2  # even: the wave starts high as s does
    assert first % 2 == 0
    for n, value in zip((1, 3, 5, 7), expected, strict=True):
        assert amplitude(out, n * cycles / 2) == pytest.approx(abs(value), abs=1e-6)
        assert abs(switched_sine_phasor(n, phase=0.0, harmonic=harmonic)) == pytest.approx(abs(value), abs=1e-6)
    phasors = [np.mean(out * np.exp(-1j * np.pi * n * cycles * np.arange(COUNT) / COUNT)) for n in (1, 3, 5, 7)]
    signs = [np.sign((phasor / phasors[0]).real) for phasor in phasors]
    assert signs == [np.sign(value / expected[0]) for value in expected]


def test_power_is_kept():
    """Parseval: a polarity-switched sine has the sine's power; f/2 holds 72.051 % of it, 3f/2 25.938 %."""
    out, cycles = switched(PolaritySwitched(), 41.2, 0.0, 48000)
    assert np.mean(out**2) == pytest.approx(0.5, rel=1e-6)
    assert amplitude(out, cycles / 2) ** 2 == pytest.approx(0.72051, abs=1e-5)
    assert amplitude(out, 3 * cycles / 2) ** 2 == pytest.approx(0.25938, abs=1e-5)


@pytest.mark.parametrize("phase", PHASES_DEG)
def test_a_gate_is_half_the_note_and_half_the_switched_note(phase):
    gated, _ = switched(GainGated(), 97.9989, phase, 48000)
    turned, cycles = switched(PolaritySwitched(), 97.9989, phase, 48000)
    note = np.sin(2 * np.pi * cycles * np.arange(COUNT) / COUNT)
    np.testing.assert_allclose(gated, (note + turned) / 2, atol=1e-9)


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
@pytest.mark.parametrize("phase", PHASES_DEG)
@pytest.mark.parametrize("note", NOTES_HZ)
@pytest.mark.parametrize("octave", [PolaritySwitched(), GainGated()], ids=["polarity", "gated"])
def test_nothing_aliases(octave, note, phase, rate):
    """All that is not a harmonic of f/2, against the total: below −100 dB (measured: −159 dB at worst)."""
    out, cycles = switched(octave, note, phase, rate)
    power = np.abs(np.fft.rfft(out)) ** 2
    total = power.sum()
    power[:: cycles // 2] = 0.0
    assert 10 * np.log10(power.sum() / total) < -150
