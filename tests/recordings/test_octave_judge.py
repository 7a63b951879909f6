"""The judge of octaves on waves that are turned over at known times."""

from __future__ import annotations

import numpy as np
import pytest

from recordings.octave_judge import CYCLES, coarse, frames, octave_down, smoothed
from sublatch.tracking.lock import lock

RATE = 48000


def wave(pitch_hz, seconds, changes):
    """A wave with four partials, turned over at each of the times."""
    t = np.arange(round(seconds * RATE)) / RATE
    partials = sum(np.sin(2 * np.pi * n * pitch_hz * t) / n for n in range(1, 5))
    return partials * (-1.0) ** np.searchsorted(changes, t)


def heard(pitch_hz, seconds, changes):
    """Whether the wave is an octave down, frame by frame."""
    sound, rate = coarse(wave(pitch_hz, seconds, changes), RATE)
    return octave_down(sound, rate, start_s=0.0, end_s=seconds, pitch_hz=pitch_hz)


@pytest.mark.parametrize("pitch_hz", [30.8677, 41.2034, 98.0, 311.127])
@pytest.mark.parametrize("share", [0.0, 0.3, 0.7, 1.0])
def test_it_hears_for_how_long_a_wave_is_turned_over_once_a_period(pitch_hz, share):
    """To within half a window; measured, it hears the octave end three periods early, while the window is half full."""
    length = 80
    changes = (np.arange(round(share * length)) + 0.2) / pitch_hz
    middles, _ = frames(0.0, length / pitch_hz, pitch_hz)
    flags = heard(pitch_hz, length / pitch_hz, changes)
    assert len(flags) == len(middles)
    assert np.mean(flags) == pytest.approx(np.mean(middles < share * length), abs=CYCLES / 2 / length)


def test_a_wave_turned_over_twice_a_period_is_not_an_octave_down():
    assert not np.any(heard(55.0, 1.0, np.arange(1, 110) / 110.0))


def test_turned_over_three_times_a_period_it_is_but_counts_as_no_lock():
    """The octave with more edges; of the recorded notes, two low E by fixed thresholds do this for half their time."""
    changes = np.sort(np.concatenate([(np.arange(55) + part) / 55.0 for part in (0.1, 0.45, 0.8)]))
    assert np.all(heard(55.0, 1.0, changes))
    assert lock(changes, start_s=0.0, end_s=1.0, pitch_hz=55.0).locked_share == 0.0


def test_smoothing_keeps_what_stands_still_and_halves_a_step():
    note = {"start_s": 0.0, "end_s": 1.0, "pitch_hz": 40.0}
    places = (np.arange(400) + 0.5) / 10
    middles, _ = frames(**note)
    assert smoothed(np.ones(400), places, **note) == pytest.approx(np.ones(len(middles)))
    step = smoothed(places > 20.0, places, **note)
    assert step[middles == 20.0] == pytest.approx(0.5)
    assert np.all(step[middles <= 16.0] == 0.0)
    assert np.all(step[middles >= 24.0] > 1.0 - 1e-9)


def test_frames_lie_inside_the_note_however_short_it_is():
    for length in (3.0, 8.0, 8.4, 12.0, 100.0):
        middles, window = frames(1.0, 1.0 + length / 40.0, 40.0)
        assert middles[0] >= window / 2 - 1e-9
        assert length - 0.5 < middles[-1] + window / 2 <= length + 1e-9
