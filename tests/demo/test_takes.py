"""The invented takes sound as the score says, at a bass's levels, and stress a divider."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from sublatch.arrays import Signal
from sublatch.demo.bed import demo_bed
from sublatch.demo.score import LEAD_IN_S, SCORES, Note, Score, demo_notes
from sublatch.demo.takes import PICKUP_POSITION, demo_takes

RATE_HZ = 16000
FULL_SCALE_VOLTS = 2.0
NAMES = ["open-strings", "walking-line", "hard-accents", "slide", "dead-notes"]
PLUCK_POSITION = 0.13  # of a plain note


@pytest.fixture(scope="module")
def takes() -> dict[str, Signal]:
    return demo_takes(RATE_HZ)


def part(sound: Signal, start_s: float, stop_s: float) -> Signal:
    return sound[round(start_s * RATE_HZ) : round(stop_s * RATE_HZ)]


def line(sound: Signal, low_hz: float, high_hz: float) -> tuple[float, float]:
    """Return the frequency in hertz and the height of the strongest line between two frequencies."""
    padded = 1 << 18
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), padded))
    frequency_hz = np.fft.rfftfreq(padded, 1 / RATE_HZ)
    inside = np.flatnonzero((frequency_hz > low_hz) & (frequency_hz < high_hz))
    best = inside[np.argmax(spectrum[inside])]
    return float(frequency_hz[best]), float(spectrum[best])


def plain(notes: list[Note]) -> list[Note]:
    return [note for note in notes if note.touch != "x" and note.to_hz is None]


def test_the_same_rate_gives_the_same_samples(takes: dict[str, Signal]) -> None:
    again = demo_takes(RATE_HZ)
    assert list(takes) == list(again) == list(demo_notes()) == NAMES
    for name in NAMES:
        np.testing.assert_array_equal(takes[name], again[name])


def test_levels_are_those_of_a_bass(takes: dict[str, Signal]) -> None:
    """0.1 to 0.4 V while a note sings, about 1 V on a hard accent: from memory."""
    for name in ("open-strings", "walking-line", "slide"):
        assert 0.25 < np.max(np.abs(takes[name])) < 0.4
    assert 0.9 < np.max(np.abs(takes["hard-accents"])) < 1.2
    for name, sound in takes.items():
        floor = np.sqrt(np.mean(part(sound, 0, LEAD_IN_S - 0.02) ** 2))
        assert 20 * np.log10(floor / FULL_SCALE_VOLTS) == pytest.approx(-75, abs=1.5), name
        assert abs(np.mean(sound)) < 1e-3, name


def test_accents_stand_far_above_ghost_notes(takes: dict[str, Signal]) -> None:
    peaks: dict[str, list[float]] = {"!": [], ".": [], "x": [], "": []}
    for note in demo_notes()["hard-accents"]:
        sound = part(takes["hard-accents"], note.onset_s + 0.05, note.onset_s + 0.1)
        peaks[note.touch].append(float(np.max(np.abs(sound))))
    assert min(peaks["!"]) > 4 * max(peaks["."]) > 4 * 0.03
    assert min(peaks["!"]) > 10 * max(peaks["x"])


def test_open_strings_have_the_second_partial_above_the_first(takes: dict[str, Signal]) -> None:
    """It starts at 2 cos πp cos πq (Fletcher and Rossing, from memory) and loses at most 2 dB to its decay."""
    expected_db = 20 * np.log10(2 * np.cos(np.pi * PLUCK_POSITION) * np.cos(np.pi * PICKUP_POSITION))
    notes = demo_notes()["open-strings"]
    assert {note.string for note in notes} == set("BEADG")
    for note in notes:
        steady = part(takes["open-strings"], note.onset_s + 0.15, note.onset_s + 0.75)
        first, second = (line(steady, n * note.pitch_hz - 8, n * note.pitch_hz + 8)[1] for n in (1, 2))
        excess_db = 20 * np.log10(second / first)
        assert 0 < expected_db - 2 < excess_db < expected_db + 0.05, note.name


def test_every_plain_note_has_the_pitch_the_score_says(takes: dict[str, Signal]) -> None:
    for name, notes in demo_notes().items():
        for note in plain(notes):
            if note.end_s - note.onset_s > 0.3:
                steady = part(takes[name], note.onset_s + 0.1, note.end_s)
                found_hz = line(steady, note.pitch_hz * 0.75, note.pitch_hz * 1.4)[0]
                assert 1200 * np.log2(found_hz / note.pitch_hz) == pytest.approx(0, abs=15), (name, note)


def test_slides_end_where_the_score_says(takes: dict[str, Signal]) -> None:
    slides = [note for note in demo_notes()["slide"] if note.to_hz is not None]
    assert len(slides) >= 4
    for note in slides:
        assert note.to_hz is not None
        length_s = note.end_s - note.onset_s
        for pitch_hz, start, stop in ((note.pitch_hz, 0.02, 0.24), (note.to_hz, 0.52, 1.0)):
            steady = part(takes["slide"], note.onset_s + start * length_s, note.onset_s + stop * length_s)
            found_hz = line(steady, 0.8 * pitch_hz, 1.25 * pitch_hz)[0]
            assert 1200 * np.log2(found_hz / pitch_hz) == pytest.approx(0, abs=15), note


def test_a_note_begins_at_its_onset(takes: dict[str, Signal]) -> None:
    for name, notes in demo_notes().items():
        quiet = part(takes[name], notes[0].onset_s - 0.02, notes[0].onset_s)
        loud = part(takes[name], notes[0].onset_s, notes[0].onset_s + 0.02)
        assert np.max(np.abs(loud)) > 20 * np.max(np.abs(quiet)), name


def test_notes_follow_one_another_within_the_take(takes: dict[str, Signal]) -> None:
    for name, notes in demo_notes().items():
        assert len(takes[name]) == int(np.ceil(SCORES[name].seconds * RATE_HZ))
        assert all(note.onset_s + 0.05 < note.end_s for note in notes)
        assert all(one.end_s < two.onset_s for one, two in pairwise(notes))
        assert notes[-1].end_s < len(takes[name]) / RATE_HZ - 0.3


def test_open_strings_are_in_concert_pitch() -> None:
    """ISO 16:1975, A4 = 440 Hz, twelve equal steps; to 0.005 Hz."""
    hertz = {"B0": 30.8677, "E1": 41.2034, "A1": 55.0, "D2": 73.4162, "G2": 97.9989}
    found = {note.name: note.pitch_hz for notes in demo_notes().values() for note in notes if note.fret == 0}
    assert found == pytest.approx(hertz, abs=0.005)


def test_what_is_not_a_note_is_refused() -> None:
    with pytest.raises(ValueError, match="got 'H3'"):
        _ = Score(100, ("E0 H3",)).words


def test_the_bed_fits_the_walking_line(takes: dict[str, Signal]) -> None:
    bed = demo_bed(RATE_HZ)
    assert len(bed) == len(takes["walking-line"])
    assert np.max(np.abs(bed)) == pytest.approx(0.5)
    beat_s = SCORES["walking-line"].beat_s
    for beat in (0, 2, 4, 6):  # the bass drum
        before = part(bed, LEAD_IN_S + beat * beat_s - 0.05, LEAD_IN_S + beat * beat_s)
        after = part(bed, LEAD_IN_S + beat * beat_s, LEAD_IN_S + beat * beat_s + 0.05)
        assert np.max(np.abs(after)) > 2.5 * np.max(np.abs(before))
    np.testing.assert_array_equal(bed, demo_bed(RATE_HZ))
