"""What an idle voltage does when it is switched: a step of known size, exactly as of a note that is so much higher."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.circuit.idle import note_idle_v
from sublatch.circuit.load import load_circuit
from sublatch.circuit.octave_stages.gain_gated import GainGated
from sublatch.circuit.octave_stages.polarity_switched import PolaritySwitched
from sublatch.sampling.rates import halved
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_drive, octave_sound
from sublatch.signal.octave_stage.switched import generate
from sublatch.takes.take import take_from_samples

RATE, COUNT, CYCLES = 48000, 1 << 16, 40
INNER = slice(COUNT // 4, 3 * COUNT // 4)


def drive_s(cycles=CYCLES):
    """A drive of so many whole cycles; it starts high."""
    return (np.arange(2 * cycles - 1) + 1) * (COUNT / RATE) / (2 * cycles)


@pytest.mark.parametrize(("stage", "size"), [(GainGated(), 1.0), (PolaritySwitched(), 2.0), (GainGated(leak=0.1), 0.9)])
def test_silence_with_an_offset_is_a_square_wave_of_the_drive(stage, size):
    """Its fundamental is 2/π of its height from peak to peak (Fourier series of a square wave)."""
    made = halved(generate(np.zeros(2 * COUNT), drive_s(), sample_rate=2 * RATE, octave=stage, idle_v=3e-3))
    spectrum = np.fft.rfft(made[INNER] * np.hanning(COUNT // 2)) / (COUNT / 8)
    assert abs(spectrum[CYCLES // 2]) == pytest.approx(2 / np.pi * size * 3e-3, rel=1e-4)
    assert made[0] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("linear_range", [None, 0.05])
def test_a_note_on_an_offset_is_the_higher_note_less_where_it_rested(linear_range):
    """The same through the stage as a note with the offset in its samples, away from the ends."""
    stage = GainGated(linear_range=linear_range)
    note = 0.1 * np.sin(2 * np.pi * 3.2 * CYCLES * np.arange(2 * COUNT) / (2 * COUNT))
    apart = generate(note, drive_s(), sample_rate=2 * RATE, octave=stage, idle_v=7e-3)
    within = generate(note + 7e-3, drive_s(), sample_rate=2 * RATE, octave=stage)
    resting = 7e-3 if linear_range is None else linear_range * np.tanh(7e-3 / linear_range)
    middle = slice(COUNT // 2, 3 * COUNT // 2)
    assert np.max(np.abs(halved(within - resting - apart)[COUNT // 4 : 3 * COUNT // 4])) < 1e-8
    assert np.max(np.abs(apart[middle])) > 0.01


def test_a_circuit_of_real_parts_thumps_and_an_ideal_one_does_not():
    time_s = np.arange(RATE) / RATE
    take = take_from_samples(0.2 * np.sin(2 * np.pi * 60 * time_s) * (time_s < 0.5), RATE)
    drawn, circuit = (load_circuit("gated-open", changes={"devices.values": values}) for values in ("ideal", "worst"))
    drive = detected_drive(take, drawn)
    ideal, real = (octave_sound(take, one, drive, StageCache()) for one in (drawn, circuit))
    step = note_idle_v(circuit)
    assert abs(step) == pytest.approx(10e-3, rel=0.05)  # TL072 class: 10 mV
    difference = (real - ideal)[2000:20000]
    overshoot = 0.0895  # of a band-limited step, at its upper and at its lower level (Wilbraham and Gibbs)
    assert 0.99 * abs(step) < np.ptp(difference) < (1.001 + 2 * overshoot) * abs(step)
