"""Devices: transconductance pair, flip-flop, supply limits, against data sheets and closed forms.

Sources: Texas Instruments LM13700 data sheet (ln(I5/I4) = Vin q/kT, so the output follows tanh); TI SCHS023E (CD4013B);
TL072 and LM358 data sheets (output swing); harmonic distortion of tanh by numerical integration, kT/q = 25.6926 mV.
"""

import numpy as np
import pytest

from oracles import amplitude
from sublatch.circuit.load import load_circuit
from sublatch.circuit.octave_stages.gain_gated import GainGated
from sublatch.circuit.octave_stages.polarity_switched import PolaritySwitched
from sublatch.sampling.rates import halved
from sublatch.signal.divider import drive_edges
from sublatch.signal.octave_stage.switched import generate

THERMAL_VOLT = 25.6926e-3
COUNT, MARGIN = 1 << 15, 4096


def through_pair(peak_volts, *, cycles=273, rate=48000):
    """A sine through the transconductance pair, the gate held open."""
    n = np.arange(2 * (COUNT + 2 * MARGIN)) - 2 * MARGIN
    sine = peak_volts * np.sin(np.pi * cycles * n / COUNT)
    stage = GainGated(linear_range=2 * THERMAL_VOLT)
    made = generate(sine, np.zeros(0), sample_rate=2 * rate, octave=stage)
    return halved(made)[MARGIN : MARGIN + COUNT]


@pytest.mark.parametrize(
    ("millivolts", "percent"),
    [(5.64, 0.1), (12.68, 0.5), (18.07, 1.0), (32.30, 3.0), (43.09, 5.0), (66.65, 10.0), (10, 0.313), (50, 6.415)],
)
def test_distortion_of_a_transconductance_pair(millivolts, percent):
    out = through_pair(millivolts * 1e-3)
    harmonics = [amplitude(out, n * 273) for n in range(1, 40)]
    thd = np.sqrt(np.sum(np.square(harmonics[1:]))) / harmonics[0]
    assert 100 * thd == pytest.approx(percent, rel=2e-3)
    assert max(harmonics[1::2]) < 1e-9


def test_gain_loss_of_a_transconductance_pair():
    """At 18.07 mV peak, 1 % distortion, the gain is 0.262 dB down."""
    assert 20 * np.log10(amplitude(through_pair(18.07e-3), 273) / 18.07e-3) == pytest.approx(-0.262, abs=5e-4)


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
def test_a_driven_pair_does_not_alias(rate):
    """400 Hz, 6 dB past the knee (the input at which tanh has an argument of 1). Asked: −80 dB."""
    cycles = round(400 * COUNT / rate)
    power = np.abs(np.fft.rfft(through_pair(4 * THERMAL_VOLT, cycles=cycles, rate=rate))) ** 2
    total = power.sum()
    power[::cycles] = 0.0
    assert 10 * np.log10(power.sum() / total) < -140


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
def test_a_driven_pair_that_is_gated_does_not_alias(rate):
    cycles = 2 * round(400 * COUNT / rate / 2)
    n = np.arange(2 * (COUNT + 2 * MARGIN)) - 2 * MARGIN
    sine = 4 * THERMAL_VOLT * np.sin(np.pi * cycles * n / COUNT)
    edges = (np.arange(-2 * (MARGIN * cycles // COUNT) - 2, 4 * cycles) + 0.2) * COUNT / cycles / rate + MARGIN / rate
    made = generate(sine, edges, sample_rate=2 * rate, octave=GainGated(linear_range=2 * THERMAL_VOLT))
    out = halved(made)[MARGIN : MARGIN + COUNT]
    power = np.abs(np.fft.rfft(out)) ** 2
    total = power.sum()
    power[:: cycles // 2] = 0.0
    assert 10 * np.log10(power.sum() / total) < -80


def test_a_flip_flop_toggles_on_rising_edges_only():
    """CD4013B, D tied to its inverted output: half the rate, half the time high."""
    edges = np.arange(20) * 0.5 + 0.1  # set, reset, set, … at 1 Hz
    drive = drive_edges(edges, stages=1)
    np.testing.assert_array_equal(drive, edges[0::2])
    assert np.all(np.diff(drive) == pytest.approx(1.0))


@pytest.mark.parametrize("stages", [1, 2])
def test_flip_flops_in_a_row_divide_again(rng, stages):
    """Each toggles when the one before rises; all start low. Simulated bit by bit."""
    edges = np.sort(rng.uniform(0, 10, 400))
    outputs, expected = [False] * stages, []
    for t in edges[::2]:
        for k in range(stages):
            outputs[k] = not outputs[k]
            if k == stages - 1:
                expected.append(t)
            if not outputs[k]:
                break
    np.testing.assert_array_equal(drive_edges(edges, stages=stages), expected)


def test_a_comparator_is_needed_ahead_of_the_flip_flop():
    """CD4013B at 9 V takes clock edges of 10 µs at most; a 41.2 Hz sine of 4.5 V takes 3.2 ms from 30 to 70 %."""
    low, high = np.arcsin((2.7 - 4.5) / 4.5), np.arcsin((6.3 - 4.5) / 4.5)
    assert (high - low) / (2 * np.pi * 41.2) == pytest.approx(3.2e-3, abs=5e-5)


@pytest.mark.parametrize(
    ("margins", "limits"),
    [
        # TL072 at ±15 V swings ±13.5 V typically: 1.5 V from each supply
        (("1.5V", "1.5V"), (-3.0, 3.0)),
        # LM358: 20 mV from ground, 1.5 V from the supply, biased at half of it
        (("20mV", "1.5V"), (-4.48, 3.0)),
    ],
)
def test_output_limits_on_nine_volts(margins, limits):
    circuit = load_circuit("gated-open", changes={"output.low_margin": margins[0], "output.high_margin": margins[1]})
    assert circuit.limits == pytest.approx(limits)


@pytest.mark.parametrize(("supply", "headroom"), [("9.6V", 3.3), ("9V", 3.0), ("7.5V", 2.25), ("6V", 1.5)])
def test_a_fading_battery_brings_the_limits_closer(supply, headroom):
    assert load_circuit("gated-open", changes={"supply": supply}).limits == pytest.approx((-headroom, headroom))


@pytest.mark.parametrize("seconds", [20e-6, 1e-3])
def test_a_slow_transition_rounds_the_harmonics(seconds):
    """A ramp of T seconds in place of each step weights the switching's harmonics by |sin(πfT)/(πfT)|."""
    rate, cycles = 48000, 200
    note_hz = cycles * rate / COUNT
    edges = np.arange(-30, cycles + 60) / note_hz + MARGIN / rate
    constant = np.ones(2 * (COUNT + 2 * MARGIN))
    stage = PolaritySwitched(transition=seconds)
    made = generate(constant, edges, sample_rate=2 * rate, octave=stage)
    out = halved(made)[MARGIN : MARGIN + COUNT]
    for n in (1, 3, 5, 21, 51):
        f = n * note_hz / 2
        expected = 4 / np.pi / n * abs(np.sinc(f * seconds))
        assert amplitude(out, n * cycles / 2) == pytest.approx(expected, rel=1e-4, abs=1e-6)


def test_feedthrough_adds_the_drive_itself():
    edges = np.arange(1, 40) * 0.01
    quiet = np.zeros(96000)
    out = generate(quiet, edges, sample_rate=96000, octave=GainGated(feedthrough=0.02))
    assert out[400] == pytest.approx(0.02)
    assert out[1440] == pytest.approx(-0.02)
