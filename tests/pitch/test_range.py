"""The pitch range of a take's notes, against the notes that were played and against librosa's YIN."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sublatch.demo.strings import pluck
from sublatch.pitch.range import pitch_range
from sublatch.pitch.second_opinion import yin_range
from sublatch.takes.quiet_moments import quietest_moments
from sublatch.takes.take import read_take, take_from_samples
from sublatch.units.scales import cents

RATE = 24000
SEMITONE = 100.0
SAMPLES = sorted((Path(__file__).parents[2] / "samples" / "takes").glob("*.flac"))


def line(*pitches_hz, hum=(0.0, 0.0)):
    """Return two seconds of rest and notes of a second, with hum of these amplitudes at 50 and 150 Hz, and hiss."""
    notes = [pluck(hz, seconds=1.0, sample_rate=RATE) for hz in pitches_hz]
    sound = np.concatenate([np.zeros(2 * RATE), *(0.3 * note / np.max(np.abs(note)) for note in notes)])
    time_s = np.arange(len(sound)) / RATE
    hum = sum(size * np.sin(2 * np.pi * hz * time_s) for size, hz in zip(hum, (50.0, 150.0), strict=True))
    return take_from_samples(sound + hum + 1e-5 * np.random.default_rng(2).standard_normal(len(sound)), RATE)


def off_cents(found, played_hz):
    return max(abs(cents(hz, reference)) for hz, reference in zip(found, played_hz, strict=True))


@pytest.mark.parametrize("played_hz", [(30.87, 98.0), (41.2, 41.2), (55.0, 196.0), (82.41, 659.3)])
def test_lowest_and_highest_note_are_found_whatever_their_order(played_hz):
    low_hz, high_hz = played_hz
    middle_hz = np.sqrt(low_hz * high_hz)
    for order in ((low_hz, middle_hz, high_hz), (high_hz, middle_hz, low_hz)):
        assert off_cents(pitch_range(line(*order)), played_hz) < 15


@pytest.mark.parametrize("hum", [(4e-3, 2e-3), (1e-3, 4e-3), (2e-3, 0.0)])
def test_hum_is_no_note(hum):
    """The fundamental is known to be hum by its pitch; hum that is mostly its third harmonic, by its level."""
    take = line(55.0, 98.0, hum=hum)
    rest = quietest_moments(take.samples, take.sample_rate)
    assert rest.mains_hz == 50
    assert off_cents(pitch_range(take, hum_rms=rest.hum_rms), (55.0, 98.0)) < 15


def test_a_note_on_mains_frequency_counts_where_it_is_louder_than_the_hum():
    take = line(49.0, 98.0, hum=(1e-3, 4e-3))
    assert off_cents(pitch_range(take, hum_rms=3e-3), (49.0, 98.0)) < 15
    assert pitch_range(take, hum_rms=0.2) is None


def test_hiss_has_no_range():
    assert pitch_range(take_from_samples(0.1 * np.random.default_rng(3).standard_normal(3 * RATE), RATE)) is None


@pytest.mark.parametrize("file", SAMPLES, ids=lambda file: file.stem)
def test_librosa_says_the_same_of_the_samples(file):
    take = read_take(file)
    assert off_cents(pitch_range(take), yin_range(take.samples, take.sample_rate)) < SEMITONE


def test_there_are_samples():
    assert len(SAMPLES) >= 5
