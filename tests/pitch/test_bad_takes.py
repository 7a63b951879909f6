"""Takes that are no take of plain notes: each said in words, and none counted as lock or as dropout."""

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.demo.partials import String
from sublatch.demo.strings import Glide, dead_note, pluck, slide
from sublatch.json_data import plain_values
from sublatch.pitch.notes import find_notes
from sublatch.takes.take import take_from_samples
from sublatch.tracking.track import track
from sublatch.units.scales import note_to_hz

RATE_HZ = 16000
TIME_S = np.arange(2 * RATE_HZ) / RATE_HZ


def tone(pitch_hz, level_volts=0.1):
    return level_volts * sum(np.sin(2 * np.pi * n * pitch_hz * TIME_S) / n for n in (1, 2, 3))


def noise(level_volts):
    return level_volts * np.random.default_rng(3).standard_normal(len(TIME_S))


def plucked(names):
    voices = [
        pluck(note_to_hz(name), seconds=2.0, sample_rate=RATE_HZ, seed=seed, string=String(inharmonicity=1.5e-4))
        for seed, name in enumerate(names.split())
    ]
    return sum(voices)


def dead():
    thump = dead_note(55.0, sample_rate=RATE_HZ)[:RATE_HZ]
    return np.concatenate([np.zeros(RATE_HZ // 2), thump, np.zeros(2 * RATE_HZ - RATE_HZ // 2 - len(thump))])


BAD = {
    "two notes a third apart": (plucked("E1 G#1"), "several notes at once"),
    "two notes a fifth apart": (plucked("D2 A2"), "two notes at once, a fifth apart"),
    "a chord": (plucked("E2 B2 E3 G#3 B3 E4"), "notes at once"),
    "silence": (np.zeros(2 * RATE_HZ), "the take is silent"),
    "nearly silence": (noise(1e-7), "the take is silent"),
    "noise": (noise(0.1), "noise"),
    "hum": (tone(50.0, 0.01), "hum at 50 Hz"),
    "hum of an octave up": (tone(120.0, 0.01), "hum at 120 Hz"),
    "a pitch too low": (tone(24.0), "a pitch below 28 Hz"),
    "a pitch too high": (tone(1200.0), "above 1000 Hz"),
    "a take too short": (plucked("E2")[: RATE_HZ // 20], "too short"),
    "a dead note": (dead() + noise(1e-5), "dead notes"),
    "an offset": (np.full(len(TIME_S), 0.1), "nothing has a clear beginning"),
}


UNHEARD = {"a take too short", "silence", "nearly silence", "an offset"}
"""Of which there is nothing to say beside a note."""


@pytest.mark.parametrize("what", BAD)
def test_it_is_said_in_words_and_counted_as_nothing(what):
    samples, words = BAD[what]
    found = track(take_from_samples(samples, RATE_HZ), load_circuit("gated-open"))
    assert found.notes == ()
    assert found.locked_share is None
    assert plain_values(found)["notes"] == []
    assert found.remarks[0].text.startswith("no notes: ")
    assert any(words in remark.text for remark in found.remarks), found.remarks


@pytest.mark.parametrize("what", [name for name in BAD if name not in UNHEARD])
def test_beside_a_note_it_is_said_and_only_the_note_counts(what):
    samples, words = BAD[what]
    played = pluck(note_to_hz("A1"), seconds=1.0, sample_rate=RATE_HZ, level_volts=0.3)
    rest = np.zeros(RATE_HZ // 2)
    fade = np.minimum(1, np.minimum(TIME_S, TIME_S[::-1]) / 0.01)
    take = take_from_samples(np.concatenate([rest, played, rest, samples * fade, rest]), RATE_HZ)
    found = track(take, load_circuit("gated-open"))
    assert [item.note.name for item in found.notes] == ["A1"], found.remarks
    assert found.notes[0].note.start_s == pytest.approx(0.5, abs=0.03)
    assert any(words in remark.text for remark in found.remarks), found.remarks


def test_a_slide_and_a_note_under_the_lowest_string_are_counted_and_that_is_said():
    moving = slide(
        Glide(41.2034, 61.7354, start_s=0.5, end_s=1.0),
        seconds=2.0,
        sample_rate=RATE_HZ,
        string=String(pickup_position=0.12),
    )
    low = pluck(note_to_hz("B0"), seconds=1.5, sample_rate=RATE_HZ)
    found = find_notes(take_from_samples(np.concatenate([moving, np.zeros(RATE_HZ // 2), low]), RATE_HZ))
    assert [note.steady for note in found.notes] == [False, True]
    assert found.remarks == ()
    first, second = found.counted_remarks
    assert first.text.startswith("counted: the pitch moves, E1 to B1, at 0.0")
    assert second.text.startswith("counted: lower than the lowest open string: B0, at 2.")
    assert find_notes(take_from_samples(plucked("E1"), RATE_HZ)).counted_remarks == ()
