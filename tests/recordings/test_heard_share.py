"""How long lock says that a drive holds on to a note is how long the rendered sound is an octave down, note by note.

Recorded notes, alone and in random lines, by three detectors at several levels, so that lock varies from 0 to 1; the
octave comes unfiltered and without the direct signal. Sound and lock are told over the same time, the whole note, and
lock is taken as it is reported. The judge, `octave_judge`, shares no code with the package; how near it comes itself is
measured in `test_octave_judge.py` on recorded notes turned over at known times.

Where the two disagree: slapped notes have little fundamental, and a drive that changes three times a period sounds an
octave down but has no lock.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from recordings.lines import RATE_HZ, SETS, Line, play, requires_lines
from recordings.octave_judge import coarse, octave_down
from recordings.soundfont import bass_notes, requires_soundfont
from recordings.whole_notes import whole_note
from sublatch.circuit.load import load_circuit
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_edges, render
from sublatch.takes.take import take_from_samples
from sublatch.tracking.lock import lock

pytestmark = [pytest.mark.long, pytest.mark.recordings, requires_soundfont, requires_lines]

DETECTORS = ("peak-latch", "overtone", "zero-crossing")
NOTE_VOLTS, LINE_VOLTS = (0.5, 0.1, 0.03), (0.2,)
LINES = {
    "fingered": (Line(90, 1), Line(100, 2)),
    "picked": (Line(90, 1), Line(100, 2)),
    "slapped": (Line(90, 1), Line(100, 2)),
    "clean guitar": (Line(90, 1, 40, 70), Line(100, 2, 40, 70)),
    "jazz guitar": (Line(90, 1, 40, 70), Line(100, 2, 40, 70)),
}
SEED = 5003


@dataclass(frozen=True)
class Heard:
    """One note by one detector: what it is, and of its time the share that sounds an octave down and has lock."""

    source: str
    detector: str
    heard: float
    reported: float


def judged(source, samples, rate, notes, volts):
    """Give each note of a take by each detector at each level."""
    for peak in volts:
        take = take_from_samples(samples / np.abs(samples).max() * peak, rate)
        cache = StageCache()
        for detector in DETECTORS:
            settings = {"filter.kind": "none", "knobs.direct": 0, "knobs.volume": 2.5, "detector.kind": detector}
            circuit = load_circuit("polarity-third-order", changes=settings)
            rendered = render(take, circuit, cache=cache)
            assert rendered.at_limit_share == 0.0
            sound, drive = coarse(rendered.samples, rate), detected_edges(take, circuit, cache=cache)[::2]
            for note in notes:
                yield of_note(source, detector, sound, drive, note)


def of_note(source, detector, sound, drive, note):
    """Return how one note sounds and what lock says of it."""
    start_s, end_s, pitch_hz = note
    where = {"start_s": start_s, "end_s": end_s, "pitch_hz": pitch_hz}
    return Heard(
        source,
        detector,
        heard=float(np.mean(octave_down(*sound, **where))),
        reported=lock(drive, **where).locked_share,
    )


def notes_of(played):
    """Return from where to where each note of a line sounds, and its pitch."""
    last = played[-1]
    ends = [min(one.start_s + one.held_s, after.start_s) for one, after in pairwise(played)]
    ends.append(last.start_s + last.held_s)
    return [(one.start_s, end_s, one.pitch_hz) for one, end_s in zip(played, ends, strict=True)]


@cache
def all_heard():
    """Return every note by every detector: 35 alone at three levels, 640 of lines at one."""
    found = []
    for real in bass_notes():
        whole = whole_note(real)
        note = (whole.start_s, whole.end_s, whole.pitch_hz)
        found += judged("alone", real.samples, real.sample_rate, [note], NOTE_VOLTS)
    for style, lines in LINES.items():
        for sound_set in SETS:
            for line in lines:
                samples, played = play(line, style=style, sound_set=sound_set, seed=SEED)
                found += judged(style, samples, RATE_HZ, notes_of(played), LINE_VOLTS)
    return found


def figures(found):
    """Return the correlation of the two shares over notes, and their median absolute difference."""
    heard, locked = (np.array([getattr(one, name) for one in found]) for name in ("heard", "reported"))
    return float(np.corrcoef(heard, locked)[0, 1]), float(np.median(np.abs(heard - locked)))


def test_the_share_with_lock_is_the_share_that_sounds_an_octave_down():
    """Measured: r = 0.990 and 0.8 points; of the lines alone 0.989 and 1.0 points, by the seed 9301 0.990 and 1.0.

    Least alike by r are the fingered notes, 0.949, nearly all of which are held throughout; by the difference the
    picked, 2.4 points.
    """
    found = all_heard()
    assert len(found) == 2235
    assert np.all(np.histogram([one.reported for one in found], bins=4, range=(0.0, 1.0))[0] > 50)
    correlation, difference = figures(found)
    assert correlation >= 0.97
    assert difference <= 0.02


@pytest.mark.parametrize("detector", DETECTORS)
def test_so_it_is_with_each_detector(detector):
    """Measured: r = 0.983, 0.998 and 0.988; 1.4, 0.4 and 0.6 points."""
    correlation, difference = figures([one for one in all_heard() if one.detector == detector])
    assert correlation >= 0.97
    assert difference <= 0.02


def test_the_sound_of_one_detector_is_not_told_by_the_lock_of_another():
    """Measured: r = 0.60; notes differ in how hard they are to hold on to whatever the detector."""
    found = all_heard()
    heard = [one.heard for one in found if one.detector == "peak-latch"]
    locked = [one.reported for one in found if one.detector == "zero-crossing"]
    assert np.corrcoef(heard, locked)[0, 1] < 0.8


def test_the_judge_hears_notes_that_no_circuit_has_touched_at_their_own_pitch():
    """Measured: nowhere an octave down."""
    found = []
    for real in bass_notes():
        note = whole_note(real)
        sound, rate = coarse(note.take.samples, real.sample_rate)
        found.append(octave_down(sound, rate, start_s=note.start_s, end_s=note.end_s, pitch_hz=note.pitch_hz))
    assert np.mean(np.concatenate(found)) < 0.02
