"""The report on how detectors lock, note by note: its table, and what it says where there are no notes."""

from __future__ import annotations

from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import numpy as np
import pytest

from recordings import soundfont, whole_notes
from sublatch.takes.take import take_from_samples

_spec = spec_from_file_location("lock_report", Path(__file__).parents[2] / "scripts" / "lock_report.py")
assert _spec is not None
assert _spec.loader is not None
report = module_from_spec(_spec)
_spec.loader.exec_module(report)


def test_the_table_has_every_note_the_means_and_the_worst():
    shares = np.array([[0.5, 1.0], [0.25, 0.9], [1.0, 0.8]])
    lines = report.table(["one", "two"], ["E0", "E1", "G1"], shares, np.array([True, False, True]))
    assert lines[:-2] == [
        "| locked, % of the note | one | two |",
        "|---|---:|---:|",
        "| E0 * | 50.0 | 100.0 |",
        "| E1 | 25.0 | 90.0 |",
        "| G1 * | 100.0 | 80.0 |",
        "| **mean of all notes** | 58.3 | 90.0 |",
        "| **mean of hard notes *** | 75.0 | 90.0 |",
        "| **mean of the rest** | 25.0 | 90.0 |",
        "| **worst note** | 25.0 (E1) | 80.0 (G1) |",
    ]


def test_without_the_notes_it_says_what_to_install(monkeypatch, capsys):
    monkeypatch.setattr(soundfont, "why_missing", lambda: "not there (apt-get install fluid-soundfont-gm)")
    assert report.main() == 1
    heard = capsys.readouterr()
    assert heard.out == ""
    assert heard.err == "no report: not there (apt-get install fluid-soundfont-gm)\n"


def first_second(note):
    return take_from_samples(note.samples[: note.sample_rate], note.sample_rate, name=note.name)


@pytest.mark.recordings
@soundfont.requires_soundfont
def test_every_note_and_detector_is_in_the_report(monkeypatch, capsys):
    """Of each note its first second: what is asked is who is in it, not how well they lock."""
    monkeypatch.setattr(whole_notes, "as_take", first_second)
    assert report.main() == 0
    lines = capsys.readouterr().out.splitlines()
    assert "polarity-third-order" in lines[0]
    assert lines[0].endswith("| best plain peak latch, ideal parts | peak latch, ideal parts | logarithmic latch |")
    for note in soundfont.bass_notes():
        assert sum(line.startswith((f"| {note.name} |", f"| {note.name} * |")) for line in lines) == 1
