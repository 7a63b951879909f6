"""Notes of fast, leaping lines on two recorded sets, by seeds that nothing was tuned on.

Judged by `mir_eval.transcription` (Raffel et al., ISMIR 2014): onset within 50 ms, pitch within 50 cents, F-measure.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cache

import mir_eval  # type: ignore[import-untyped]
import numpy as np
import pytest

from recordings.lines import RATE_HZ, SETS, Line, Played, play, requires_lines
from sublatch.pitch.notes import Note, find_notes
from sublatch.takes.take import take_from_samples

pytestmark = [pytest.mark.long, pytest.mark.recordings, requires_lines]

BASS = ("fingered", "picked", "slapped")
GUITAR = ("clean guitar", "jazz guitar")
SEEDS = (1001, 1002)
LINES = {
    "eighths at 100": (Line(100, 2), BASS, 0.97),
    "eighths at 140": (Line(140, 2), BASS, 0.97),
    "octaves at 120": (Line(120, 2, 28, 43, octaves=True), BASS, 0.96),
    "octaves at 150": (Line(150, 2, 28, 43, octaves=True), BASS, 0.96),
    "sixteenths at 100": (Line(100, 4), BASS, 0.93),
    "sixteenths at 120": (Line(120, 4), BASS, 0.88),
    "sixteenths at 140": (Line(140, 4), BASS, 0.82),
    "low B, sixteenths at 130": (Line(130, 4, 23, 40), BASS, 0.85),
    "guitar, sixteenths at 100": (Line(100, 4, 40, 70), GUITAR, 0.85),
    "guitar, sixteenths at 130": (Line(130, 4, 40, 70), GUITAR, 0.85),
}


@dataclass(frozen=True)
class Counts:
    """Notes played, found, right, an octave off, and unsure."""

    played: int = 0
    found: int = 0
    right: int = 0
    octaves: int = 0
    unsure: int = 0

    def __add__(self, other: Counts) -> Counts:
        return Counts(*(a + b for a, b in zip(vars(self).values(), vars(other).values(), strict=True)))

    @property
    def f_measure(self) -> float:
        """Return the harmonic mean of precision and recall."""
        return 2 * self.right / (self.played + self.found)


@cache
def counts(name: str) -> Counts:
    """Return what was found of all lines of a kind."""
    line, styles, _ = LINES[name]
    total = Counts()
    for style in styles:
        for sound_set in SETS:
            for seed in SEEDS:
                samples, played = play(line, style=style, sound_set=sound_set, seed=seed)
                notes = find_notes(take_from_samples(samples, RATE_HZ), tuning="bass-5")
                total += judged(played, notes.notes) + Counts(unsure=len(notes.unsure))
    return total


def judged(played: list[Played], notes: tuple[Note, ...]) -> Counts:
    """Return how many of the notes are right, and how many an octave off."""
    true = np.array([(note.start_s, note.start_s + note.held_s) for note in played])
    found = np.array([(note.start_s, note.end_s) for note in notes])
    true_hz, found_hz = (np.array([note.pitch_hz for note in some]) for some in (played, notes))
    right = mir_eval.transcription.match_notes(true, true_hz, found, found_hz, offset_ratio=None)
    begun = mir_eval.transcription.match_note_onsets(true, found)
    off = Counter(round(12 * np.log2(found_hz[k] / true_hz[n])) for n, k in begun)
    return Counts(len(played), len(notes), len(right), off[12] + off[-12])


@pytest.mark.parametrize("name", LINES)
def test_notes_of_random_lines_are_found(name: str) -> None:
    assert counts(name).f_measure >= LINES[name][2], counts(name)


def test_few_are_an_octave_off_or_unsure() -> None:
    total = sum((counts(name) for name in LINES), Counts())
    assert total.octaves <= 0.015 * total.played, total
    assert total.unsure <= 0.05 * total.played, total


def test_the_judge_counts_what_is_wrong() -> None:
    played = [Played(0.5, 0.2, 33), Played(1.0, 0.2, 40), Played(1.5, 0.2, 45)]
    note = {"name": "", "open_string": False, "steady": True, "lowest_hz": 0.0, "highest_hz": 0.0}
    notes = tuple(
        Note(start_s, start_s + 0.2, pitch_hz, **note)  # type: ignore[arg-type]
        for start_s, pitch_hz in ((0.54, 55.0), (1.0, 41.203), (1.56, 110.0))
    )
    assert judged(played, notes) == Counts(played=3, found=3, right=1, octaves=1)
