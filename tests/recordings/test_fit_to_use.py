"""Recorded notes are fit to use, and the same notes with a fault are not.

After a second of silence, as the manual asks for, with hiss 80 dB under full scale.
"""

import numpy as np
import pytest
from scipy.signal import butter, sosfilt

from recordings.soundfont import bass_notes, requires_soundfont
from recordings.whole_notes import as_take
from sublatch.take_report import report
from sublatch.takes.take import take_from_samples
from sublatch.units.scales import cents

pytestmark = [pytest.mark.recordings, requires_soundfont]

POPPED = "Pop G5"
"""Alone, this popped C3 is as thin as a recording without lows; in a line it is not."""
LINE = "all of them"


def recorded(*notes, hum_rms=0.0):
    """Return the notes one after another, the first two seconds of each, and their rate."""
    rate = notes[0].sample_rate
    sound = np.concatenate([np.zeros(rate), *(0.6 * as_take(note).samples[: 2 * rate] for note in notes)])
    hum = hum_rms * np.sqrt(2) * np.sin(2 * np.pi * 50 * np.arange(len(sound)) / rate)
    return sound + hum + 1e-4 * np.random.default_rng(4).standard_normal(len(sound)), rate


def codes_of(found):
    return [remark.code for remark in found.remarks]


def codes(samples, rate):
    return codes_of(report(take_from_samples(samples, rate)))


def one_rate():
    """Return the notes of the rate that most have."""
    rates = [note.sample_rate for note in bass_notes()]
    return [note for note in bass_notes() if note.sample_rate == max(set(rates), key=rates.count)]


@pytest.fixture(scope="module")
def reports():
    """The report on each note by itself, with librosa's opinion, and on all of one rate in a line."""
    takes = {note.name: recorded(note) for note in bass_notes()} | {LINE: recorded(*one_rate())}
    return {name: report(take_from_samples(*take), second_opinion=True) for name, take in takes.items()}


def test_every_note_is_fit_to_use(reports):
    blamed = {name: codes_of(found) for name, found in reports.items() if name != LINE}
    assert len(blamed) == len(bass_notes())
    assert {name: found for name, found in blamed.items() if found} in ({}, {POPPED: ["no-lows"]})


def test_a_line_of_them_is_fit_to_use_and_high_passed_it_is_not(reports):
    assert codes_of(reports[LINE]) == []
    sound, rate = recorded(*one_rate())
    cut = sosfilt(butter(4, 250, "high", fs=rate, output="sos"), sound)
    assert codes(cut, rate) == ["no-lows"]


def test_hum_under_them_is_told_as_hum():
    assert codes(*recorded(*one_rate(), hum_rms=10 ** (-40 / 20))) == ["hum"]
    assert codes(*recorded(*one_rate(), hum_rms=10 ** (-72 / 20))) == ["slight-hum"]


def test_librosa_finds_the_same_lowest_and_highest_pitch(reports):
    """Within a semitone: two trackers that share nothing but the sample rate converter."""
    for name, found in reports.items():
        ours = (found.lowest_pitch_hz, found.highest_pitch_hz)
        theirs = (found.second_opinion.lowest_pitch_hz, found.second_opinion.highest_pitch_hz)
        assert max(abs(cents(*pair)) for pair in zip(ours, theirs, strict=True)) < 100, name
