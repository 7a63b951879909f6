"""The octave stage with a transconductance pair, against tanh and switching at 128 times the rate or more."""

import numpy as np
import pytest

from sublatch.circuit.octave_stages.gain_gated import GainGated
from sublatch.circuit.octave_stages.polarity_switched import PolaritySwitched
from sublatch.sampling.rates import doubled, halved
from sublatch.sampling.switching import square_wave
from sublatch.signal.octave_stage import transconductance
from sublatch.signal.octave_stage.switched import generate

RATES = [44100, 48000]
COUNT = 8192
LOW_HZ, HIGH_HZ = 20.0, 20000.0
PAIR_VOLT = 26e-3


def faded(samples, peak):
    """A signal of that peak that begins and ends in silence, so that its spectrum is that of its own period."""
    n = np.arange(len(samples))
    shape = np.sin(np.pi / 2 * np.clip(np.minimum(n, n[::-1]) / (len(n) / 16), 0, 1)) ** 4
    return peak * shape * samples / np.abs(samples).max()


def bass(rate, peak):
    """Nineteen partials of a low E's octave."""
    time = np.arange(COUNT) / rate
    return faded(sum(np.sin(2 * np.pi * 82.4 * k * time + k * k) / k for k in range(1, 20)), peak)


def burst(rate, peak):
    """Noise from 2 to 20 kHz."""
    rng = np.random.default_rng(3)
    frequency = np.fft.rfftfreq(COUNT, 1 / rate)
    lines = rng.standard_normal(len(frequency)) + 1j * rng.standard_normal(len(frequency))
    return faded(np.fft.irfft(np.where((frequency > 2000) & (frequency < HIGH_HZ), lines, 0), COUNT), peak)


def drive(rate, count=COUNT):
    """Edges that keep no pace with the note."""
    return np.arange(0.0031, count / rate, 0.01213)


def audible(spectrum, rate):
    """A spectrum's part from 20 Hz to 20 kHz, as samples."""
    frequency = np.fft.rfftfreq(COUNT, 1 / rate)
    return np.fft.irfft(np.where((frequency >= LOW_HZ) & (frequency <= HIGH_HZ), spectrum, 0), COUNT)


def reference(note, edges, *, rate, stage, times):
    """The stage by its formula at so many times the rate, the whole signal at once; spectrum of what is audible.

    The note is read between its samples by its Fourier sum. The drive is the mean of ±1 over each fine sample.
    """
    fine = np.fft.irfft(np.fft.rfft(note), COUNT * times) * times
    bent = stage.linear_range * np.tanh(fine / stage.linear_range)
    cells = edges * rate * times + 0.5
    whole = cells.astype(int)
    wave = np.ones(COUNT * times)
    for k, (place, cell) in enumerate(zip(cells, whole, strict=True)):
        before = (-1.0) ** k
        wave[cell] = before * (2 * (place - cell) - 1)
        wave[cell + 1 :] = -before
    high, low = stage.gains
    return np.fft.rfft(bent * (high + low + (high - low) * wave) / 2)[: COUNT // 2 + 1] / times


def error_db(note, edges, *, rate, stage, times=128):
    """What the stage adds to the reference, below the reference's RMS."""
    made = halved(generate(doubled(note), edges, sample_rate=2 * rate, octave=stage))
    true = reference(note, edges, rate=rate, stage=stage, times=times)
    error = audible(np.fft.rfft(made) - true, rate)
    return 20 * np.log10(np.std(error) / np.std(audible(true, rate)))


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("kind", [PolaritySwitched, GainGated])
@pytest.mark.parametrize("peak", [0.4, 0.9])
@pytest.mark.parametrize("played", [bass, burst])
def test_a_bent_and_switched_note_does_not_alias(rate, kind, peak, played):
    """Asked: 90 dB below the signal's RMS from 20 Hz to 20 kHz. Found: 105 dB or more."""
    stage = kind(linear_range=PAIR_VOLT)
    assert error_db(played(rate, peak), drive(rate), rate=rate, stage=stage) < -100


@pytest.mark.parametrize("rate", RATES)
def test_edges_where_the_note_crosses_zero(rate):
    """Both factors jump at once."""
    note = faded(np.sin(2 * np.pi * 110 * np.arange(COUNT) / rate), 0.9)
    edges = np.arange(1, 110 * COUNT / rate) / 110
    stage = PolaritySwitched(linear_range=PAIR_VOLT)
    assert error_db(note, edges, rate=rate, stage=stage) < -100


@pytest.mark.parametrize("seconds", [20e-6, 1e-3])
def test_slow_switching_of_a_bent_note(seconds):
    """A ramp is the mean of steps that come a little later each."""
    rate, stage = 48000, PolaritySwitched(linear_range=PAIR_VOLT, transition=seconds)
    note, edges, parts = bass(rate, 0.9), drive(rate), 40
    made = halved(generate(doubled(note), edges, sample_rate=2 * rate, octave=stage))
    delays = (np.arange(parts) + 0.5) * seconds / parts
    steps = PolaritySwitched(linear_range=PAIR_VOLT)
    later = [halved(generate(doubled(note), edges + one, sample_rate=2 * rate, octave=steps)) for one in delays]
    true = audible(np.fft.rfft(np.mean(later, axis=0)), rate)
    assert np.std(audible(np.fft.rfft(made), rate) - true) < 2e-4 * np.std(true)


@pytest.mark.parametrize("millivolts", [10, 3, 1])
def test_a_note_too_steep_for_the_highest_rate(millivolts):
    """0.9 V of noise up to 20 kHz into a pair of so small a range needs more than 8 million samples a second."""
    stage = PolaritySwitched(linear_range=millivolts * 1e-3)
    assert error_db(burst(48000, 0.9), drive(48000), rate=48000, stage=stage, times=1024) < -90


@pytest.mark.parametrize("rate", RATES)
def test_a_small_note_passes_unchanged(rate):
    """Where x is a thousandth, tanh x is x within a millionth. What is left is the passband, asked within 0.001 dB."""
    note = burst(rate, 1e-3)
    made = halved(generate(doubled(note), np.zeros(0), sample_rate=2 * rate, octave=GainGated(linear_range=1.0)))
    found, given = np.fft.rfft(made), np.fft.rfft(note)
    strong = np.abs(given) > 0.01 * np.abs(given).max()
    assert np.max(np.abs(20 * np.log10(np.abs(found[strong] / given[strong])))) < 1e-4


def test_without_a_linear_range_the_stage_is_the_product_itself(rng):
    """To the last bit: note times gain, plus the drive that leaks."""
    note, edges = rng.standard_normal(20000), drive(96000, 20000)
    wave = square_wave(edges * 96000, 20000)
    made = generate(note, edges, sample_rate=96000, octave=GainGated(leak=0.1, feedthrough=0.02))
    np.testing.assert_array_equal(made, note * (0.5 * 1.1 + 0.5 * 0.9 * wave) + 0.02 * wave)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("linear_range", [None, PAIR_VOLT])
def test_feedthrough_does_not_alias(rate, linear_range):
    """The drive alone is a square wave: 4/(πk) at its odd harmonics up to 20 kHz, and nothing else."""
    cycles, margin = 101, 4096
    hertz = cycles * rate / COUNT
    edges = np.arange(-150, 450) / (2 * hertz) + margin / rate
    silence = np.zeros(2 * (COUNT + 2 * margin))
    stage = GainGated(linear_range=linear_range, feedthrough=1.0)
    made = halved(generate(silence, edges, sample_rate=2 * rate, octave=stage))[margin : margin + COUNT]
    found = 2 * np.abs(np.fft.rfft(made)) / COUNT
    true = np.zeros(COUNT // 2 + 1)
    harmonics = np.arange(1, COUNT // (2 * cycles), 2)
    true[harmonics * cycles] = 4 / np.pi / harmonics
    heard = np.fft.rfftfreq(COUNT, 1 / rate) <= HIGH_HZ
    assert np.sqrt(np.sum((found - true)[heard] ** 2)) < 10 ** (-100 / 20)


@pytest.mark.parametrize(("peak", "most"), [(1e-3, 2), (0.05, 4), (0.9, 16)])
def test_only_a_steep_note_costs_a_high_rate(peak, most):
    """Multiples of twice the take's rate that the blocks of a note are worked on at."""
    multiples = []

    def watched(bent, first, finer):
        assert len(bent) == finer * transconductance.BLOCK
        multiples.append(finer)
        return bent

    fine = doubled(bass(48000, peak))
    transconductance.bent_and_switched(fine, watched, sample_rate=96000, linear_range=PAIR_VOLT)
    assert len(multiples) == np.ceil(len(fine) / (transconductance.BLOCK - 2 * transconductance.MARGIN))
    assert max(multiples) <= most


def test_an_endlessly_steep_note_costs_no_more_than_the_highest_rate():
    multiples = []
    transconductance.bent_and_switched(
        burst(48000, 100.0),
        lambda bent, first, finer: multiples.append(finer) or bent,
        sample_rate=96000,
        linear_range=1e-9,
    )
    assert max(multiples) * 96000 <= transconductance.HIGHEST_RATE
