"""The real notes are what their names say, judged by their sound."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from recordings.soundfont import (
    RealNote,
    bass_notes,
    left_out,
    pitch_of_key_hz,
    requires_soundfont,
    string_and_fret,
    why_missing,
)
from sublatch.arrays import Signal


@pytest.fixture
def notes() -> list[RealNote]:
    return bass_notes()


@pytest.mark.recordings
@requires_soundfont
def test_every_string_is_there_in_every_style(notes: list[RealNote]) -> None:
    counts = Counter((note.style, note.string) for note in notes)
    fewest = {"fingered": 2, "picked": 2, "slapped": 3}
    short = {(style, string) for style in fewest for string in "EADG" if counts[style, string] < fewest[style]}
    assert not short
    assert {note.string for note in notes if note.fret == 0} == {"E", "G"}


@pytest.mark.recordings
@requires_soundfont
def test_notes_are_whole_and_untouched(notes: list[RealNote]) -> None:
    for note in notes:
        assert note.sample_rate == 22050, note.name
        assert 2.5 < len(note.samples) / note.sample_rate < 7, note.name
        assert 0.9 < np.abs(note.samples).max() <= 1, note.name
        assert abs(note.samples.mean()) < 0.001, note.name
        assert not note.samples.flags.writeable, note.name


@pytest.mark.recordings
@requires_soundfont
def test_notes_sound_at_the_pitch_of_their_string_and_fret(notes: list[RealNote]) -> None:
    # A wrong fret is 100 cents off; strings go sharp under the attack and basses are tuned by ear: 25 cents.
    cents_off = {
        note.name: 1200 * np.log2(_sounding_hz(note.samples, note.sample_rate) / note.pitch_hz) for note in notes
    }
    assert {name: round(cents) for name, cents in cents_off.items() if abs(cents) > 25} == {}


@pytest.mark.recordings
@requires_soundfont
def test_the_one_note_left_out_is_misnamed(notes: list[RealNote]) -> None:
    # It sounds at 61.8 Hz, which is the second fret: the key is right and the name is not.
    assert left_out() == {"Slap Bass A1": "named as key 34 but played as key 35"}
    assert "Slap Bass A1" not in {note.name for note in notes}


@pytest.mark.parametrize("octaves", [-1, 0, 1])
def test_pitch_measurement_is_right_about_a_weak_fundamental(octaves: int) -> None:
    # Slapped D and G notes are like this: second harmonic 20 dB above the fundamental.
    pitch_hz = 77.78 * 2.0**octaves
    t = np.arange(22050) / 22050
    note = sum(level * np.cos(2 * np.pi * n * pitch_hz * t + n) for n, level in ((1, 0.1), (2, 1.0), (3, 0.5)))
    assert _sounding_hz(np.concatenate([np.zeros(11025), note]), 22050) == pytest.approx(pitch_hz, rel=1e-3)


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("Pop E0", ("E", 0)),
        ("Finger Bass EO", ("E", 0)),
        ("Picked Bass G5", ("G", 5)),
        ("Upright D12", ("D", 12)),
        ("Bass A#1", None),
        ("Bass F2", None),
        ("Bass E2(L)", None),
        ("E2", None),
    ],
)
def test_names_are_read_by_string_and_fret(name: str, place: tuple[str, int] | None) -> None:
    assert string_and_fret(name) == place


@pytest.mark.parametrize(("key", "pitch_hz"), [(28, 41.2034), (33, 55.0), (38, 73.4162), (43, 97.9989)])
def test_open_strings_have_their_pitch(key: int, pitch_hz: float) -> None:
    # ISO 16:1975, A4 = 440 Hz, rounded to a tenth of a millihertz.
    assert pitch_of_key_hz(key) == pytest.approx(pitch_hz, abs=6e-5)


def test_a_missing_sound_set_is_explained(tmp_path: Path) -> None:
    assert "fluid-soundfont-gm" in why_missing(tmp_path / "none.sf2")


def _sounding_hz(samples: Signal, rate: int) -> float:
    """Measure the pitch of a note from 0.5 to 1.5 s, by the first high peak of the normalised autocorrelation."""
    part = samples[rate // 2 : 3 * rate // 2]
    n, lags = len(part), np.arange(rate // 30)
    products = np.fft.irfft(np.abs(np.fft.rfft(part, 2 * n)) ** 2)[lags]
    energy = np.concatenate([[0.0], np.cumsum(part**2)])
    likeness = 2 * products / (energy[n - lags] + energy[n] - energy[lags])
    peaks = np.flatnonzero((likeness[1:-1] > likeness[:-2]) & (likeness[1:-1] >= likeness[2:])) + 1
    lag = peaks[likeness[peaks] > 0.9 * likeness[peaks].max()][0]
    before, top, after = likeness[lag - 1 : lag + 2]
    return float(rate / (lag + (before - after) / (2 * (before - 2 * top + after))))
