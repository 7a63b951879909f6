"""The reference pitch where there is little or nothing to find, and how it is handed out."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.demo.partials import String
from sublatch.demo.score import demo_notes
from sublatch.demo.strings import Glide, pluck, slide
from sublatch.demo.takes import demo_takes
from sublatch.pitch.reference.excerpts import HOP_S
from sublatch.pitch.reference.track import reference_pitch
from sublatch.takes.take import take_from_samples

RATE_HZ = 16000


def track_of(samples, rate=RATE_HZ, **settings):
    return reference_pitch(take_from_samples(np.asarray(samples, dtype=float), rate, **settings))


@pytest.mark.parametrize("seed", range(3))
def test_white_noise_has_no_pitch(seed):
    track = track_of(0.1 * np.random.default_rng(seed).standard_normal(10 * RATE_HZ))
    assert np.all(np.isnan(track.pitch_hz))
    assert np.max(track.clarity) < 0.25


@pytest.mark.parametrize("samples", [np.zeros(RATE_HZ), np.full(RATE_HZ, 0.3), [0.3], np.zeros(1), np.zeros(7)])
def test_nothing_has_no_pitch(samples):
    track = track_of(samples)
    assert np.all(np.isnan(track.pitch_hz))
    assert len(track.time_s) == len(track.level_db) == int(len(samples) / RATE_HZ / HOP_S) + 1


@pytest.mark.parametrize("pitch_hz", [23.0, 27.0, 1050.0, 1400.0])
def test_a_pitch_out_of_range_is_not_taken_for_one_within(pitch_hz):
    time_s = np.arange(RATE_HZ) / RATE_HZ
    track = track_of(sum(np.sin(2 * np.pi * n * pitch_hz * time_s) / n for n in (1, 2, 3, 4)))
    assert np.all(np.isnan(track.pitch_hz))
    assert np.median(track.clarity) > 0.9


@pytest.mark.parametrize("pitch_hz", [28.5, 82.4069, 246.9417, 329.6276, 659.2551, 987.0])
def test_the_whole_range_is_found_on_guitars_too(pitch_hz):
    track = track_of(pluck(pitch_hz, seconds=1.0, sample_rate=RATE_HZ, string=String(inharmonicity=5e-5)))
    inside = (track.time_s > 0.05) & (track.time_s < 0.8)
    assert np.max(np.abs(1200 * np.log2(track.pitch_hz[inside] / pitch_hz))) < 15


@pytest.mark.parametrize("rate", [8000, 44100, 96000])
def test_rate_and_level_do_not_matter(rate):
    note = pluck(41.2034, seconds=1.0, sample_rate=rate, level_volts=0.01, seed=1)
    track = track_of(note, rate, full_scale_volts=2.0)
    inside = (track.time_s > 0.05) & (track.time_s < 0.8)
    assert np.max(np.abs(1200 * np.log2(track.pitch_hz[inside] / 41.2034))) < 10


def test_level_is_relative_to_full_scale():
    """A sine whose peak is at full scale has an RMS of −3.01 dB."""
    time_s = np.arange(RATE_HZ) / RATE_HZ
    track = track_of(2.0 * np.sin(2 * np.pi * 100 * time_s), full_scale_volts=2.0)
    assert track.level_db[10:-10] == pytest.approx(-3.0103, abs=0.05)


def test_every_plain_moment_of_the_invented_takes_is_right():
    for name, samples in demo_takes(RATE_HZ).items():
        track = track_of(samples, full_scale_volts=2.0)
        for note in demo_notes()[name]:
            if note.touch == "x" or note.to_hz is not None:
                continue
            inside = (track.time_s > note.onset_s + 0.05) & (track.time_s < note.end_s - 0.04)
            off = np.abs(1200 * np.log2(track.pitch_hz[inside] / note.pitch_hz))
            assert np.mean(off < 50) > 0.85, (name, note)
            assert np.median(off) < 10, (name, note)


@pytest.mark.parametrize(("from_hz", "to_hz"), [(41.2034, 46.2493), (41.2034, 55.0), (73.4162, 61.7354)])
def test_a_hammered_note_is_followed_without_a_pluck(from_hz, to_hz):
    sound = slide(Glide(from_hz, to_hz, start_s=0.8, end_s=0.81), seconds=2.0, sample_rate=RATE_HZ)
    track = track_of(sound)
    for low_s, high_s, pitch_hz in ((0.05, 0.7, from_hz), (1.0, 1.8, to_hz)):
        inside = (track.time_s > low_s) & (track.time_s < high_s)
        assert np.max(np.abs(1200 * np.log2(track.pitch_hz[inside] / pitch_hz))) < 15


def test_a_take_is_tracked_once_and_its_track_is_safe():
    note = pluck(55.0, seconds=0.5, sample_rate=RATE_HZ)
    track = track_of(note)
    assert track_of(note) is track
    with pytest.raises(ValueError, match="read-only"):
        track.pitch_hz[0] = 1.0


def test_the_same_take_gives_the_same_track_after_others():
    note = pluck(55.0, seconds=0.5, sample_rate=RATE_HZ)
    before = track_of(note)
    for seed in range(6):
        track_of(pluck(55.0, seconds=0.5, sample_rate=RATE_HZ, seed=seed + 1))
    after = track_of(note)
    assert after is not before
    np.testing.assert_array_equal(after.pitch_hz, before.pitch_hz)
