"""Notes against what was played in the invented takes, and what must not be taken for a note."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest

from sublatch.demo.partials import String
from sublatch.demo.score import demo_notes
from sublatch.demo.strings import Glide, dead_note, pluck, slide
from sublatch.demo.takes import demo_takes
from sublatch.errors import UnitError
from sublatch.pitch.notes import find_notes
from sublatch.takes.remarks import Remark
from sublatch.takes.take import take_from_samples
from sublatch.units.scales import note_to_hz

RATE_HZ = 16000


def notes_of(samples, rate=RATE_HZ, **settings):
    return find_notes(take_from_samples(np.asarray(samples, dtype=float), rate), **settings)


@pytest.fixture(scope="module")
def found():
    takes = demo_takes(48000).items()
    return {
        name: find_notes(take_from_samples(v, 48000, full_scale_volts=2.0), tuning="bass-5").notes for name, v in takes
    }


def pairs(found, name):
    """Each note that was played and is no dead one, with what was found within 50 ms of its start."""
    for note in demo_notes()[name]:
        if note.touch != "x":
            yield note, next((one for one in found[name] if abs(one.start_s - note.onset_s) < 0.05), None)


def test_onsets_of_the_invented_takes_are_found(found):
    """Recall and precision at 50 ms, the window of `mir_eval.onset`."""
    matched = [one is not None for name in found for _, one in pairs(found, name)]
    assert np.mean(matched) >= 0.95
    assert sum(matched) / sum(len(notes) for notes in found.values()) >= 0.95


@pytest.mark.parametrize("name", ["open-strings", "walking-line", "hard-accents", "dead-notes"])
def test_notes_of_the_invented_takes_are_named_right(found, name):
    for note, one in pairs(found, name):
        if one is not None:
            assert (one.name, one.steady) == (note.name, True), note
            assert one.open_string == (note.fret in (0, 5)), note
            assert one.start_s == pytest.approx(note.onset_s, abs=0.03)


@pytest.mark.parametrize("name", ["open-strings", "walking-line", "slide"])
def test_notes_end_soon_after_the_finger_stops_them(found, name):
    for note, one in pairs(found, name):
        assert note.end_s - 0.03 < one.end_s < note.end_s + 0.1, note


def test_dead_notes_are_not_counted(found):
    for name, notes in found.items():
        for one in notes:
            played = [note for note in demo_notes()[name] if abs(note.onset_s - one.start_s) < 0.05]
            assert any(note.touch != "x" for note in played), (name, one)


def test_slides_are_one_note_that_moves(found):
    assert len(found["slide"]) == 5
    for note, one in pairs(found, "slide"):
        assert not one.steady
        assert not one.open_string
        assert one.remark.startswith(f"the pitch moves, {note.name} to "), note


def test_a_soft_note_right_after_a_hard_one_is_a_note_of_its_own(found):
    """Those of the invented takes: a hard note stopped for a soft one on the same string, all of them found."""
    notes = demo_notes()["hard-accents"]
    after = [b for a, b in pairwise(notes) if (a.touch, b.touch, a.pitch_hz) == ("!", ".", b.pitch_hz)]
    assert len(after) == 2
    for note in after:
        assert any(abs(one.start_s - note.onset_s) < 0.03 and one.name == note.name for one in found["hard-accents"])


def stopped_for_a_softer_one(pitch_hz, *, under_db, held_s, soft_s, seed):
    """A hard note from 0.2 s, stopped 14 ms before a softer one of the same pitch; and how far it falls, in decibels.

    The fall is that from the hard note alone, 60 ms before its stop, to the soft one alone, 30 to 90 ms after its
    beginning.
    """
    played = {"sample_rate": RATE_HZ}
    hard = pluck(
        pitch_hz,
        seconds=held_s + 0.15,
        held_s=held_s,
        level_volts=0.9,
        seed=seed,
        **played,
        string=String(decay_s=2.4, glide_cents=18),
    )
    level_volts = 0.9 * 10 ** (-under_db / 20)
    soft = pluck(
        pitch_hz,
        seconds=soft_s + 0.15,
        held_s=soft_s,
        level_volts=level_volts,
        seed=seed,
        **played,
        string=String(brightness_hz=800),
    )
    sound = np.zeros(round((held_s + soft_s + 0.8) * RATE_HZ))
    for note, start_s in ((hard, 0.2), (soft, 0.214 + held_s)):
        sound[round(start_s * RATE_HZ) :][: len(note)] += note
    parts = (hard, held_s - 0.06, held_s), (soft, 0.03, 0.09)
    before, after = (np.std(note[round(a * RATE_HZ) : round(b * RATE_HZ)]) for note, a, b in parts)
    return coupled(sound), 20 * np.log10(before / after)


def coupled(sound):
    """A sound behind a coupling capacitor, a high-pass of 3 Hz, with noise 80 dB under full scale."""
    spectrum = np.fft.rfft(sound)
    hz = np.fft.rfftfreq(len(sound), 1 / RATE_HZ)
    noise = 1e-4 * np.random.default_rng(0).standard_normal(len(sound))
    return np.fft.irfft(spectrum * hz / (hz - 3j), len(sound)) + noise


@pytest.mark.parametrize("name", ["B0", "E1", "A1", "D2", "G2", "C3", "G3"])
def test_soft_notes_right_after_hard_ones_are_found(name):
    """Where they lie 6 dB or more under what was stopped for them; nearer, nothing but the phase tells them apart."""
    tried = 0
    for seed, (under_db, held_s, soft_s) in enumerate(product((12, 15, 18, 21), (0.2, 0.3, 0.6), (0.14, 0.4))):
        settings = {"under_db": under_db, "held_s": held_s, "soft_s": soft_s, "seed": seed}
        sound, fall_db = stopped_for_a_softer_one(note_to_hz(name), **settings)
        if not 6 < fall_db < 22:
            continue
        tried += 1
        notes = notes_of(sound, tuning="bass-5").notes
        assert [note.name for note in notes] == [name, name], settings
        assert notes[0].start_s == pytest.approx(0.2, abs=0.03), settings
        assert notes[1].start_s == pytest.approx(0.214 + held_s, abs=0.05), settings
    assert tried >= 12


@pytest.mark.parametrize("damping_db_per_s", [30, 60, 100, 200, 600])
@pytest.mark.parametrize("name", ["B0", "E1", "D2", "G3"])
def test_a_note_that_is_damped_is_not_two(name, damping_db_per_s):
    time_s = np.arange(round(1.5 * RATE_HZ)) / RATE_HZ
    for held_s, noise in product((0.3, 0.7), (1e-4, 1e-3)):
        note = pluck(note_to_hz(name), seconds=1.5, held_s=1.5, sample_rate=RATE_HZ, level_volts=0.9)
        note = note * 10 ** (-damping_db_per_s * np.maximum(time_s - held_s, 0) / 20)
        sound = coupled(np.concatenate([np.zeros(RATE_HZ // 5), note]))
        sound = sound + noise * np.random.default_rng(1).standard_normal(len(sound))
        assert len(notes_of(sound, tuning="bass-5").notes) == 1, (held_s, noise)


@pytest.mark.parametrize("seed", range(4))
def test_no_notes_in_white_noise(seed):
    noise = notes_of(0.1 * np.random.default_rng(seed).standard_normal(5 * RATE_HZ))
    assert noise.notes == ()
    assert noise.remarks[0].text.startswith("no notes: ")


@pytest.mark.parametrize("mains_hz", [50, 60])
@pytest.mark.parametrize("partials", [(1,), (1, 2, 3, 5, 7), (2, 4, 6)])
@pytest.mark.parametrize("noise", [0.0, 1e-3])
def test_hum_is_called_hum(mains_hz, partials, noise, rng):
    time_s = np.arange(3 * RATE_HZ) / RATE_HZ
    hum = 0.01 * sum(np.sin(2 * np.pi * mains_hz * n * time_s) / n for n in partials)
    result = notes_of(hum + noise * rng.standard_normal(len(time_s)))
    assert result.notes == ()
    assert any(f"hum at {mains_hz * partials[0]} Hz" in remark.text for remark in result.remarks)


@pytest.mark.parametrize("mains_hz", [50, 60])
def test_hum_under_a_note_is_left_out(mains_hz):
    time_s = np.arange(3 * RATE_HZ) / RATE_HZ
    sound = 0.002 * np.sin(2 * np.pi * mains_hz * time_s)
    sound[RATE_HZ // 2 :][: 2 * RATE_HZ] += pluck(55.0, seconds=2.0, sample_rate=RATE_HZ)
    assert [note.name for note in notes_of(sound).notes] == ["A1"]


def test_a_steady_note_near_the_mains_is_no_hum():
    assert [note.name for note in notes_of(pluck(48.9994, seconds=2.0, sample_rate=RATE_HZ)).notes] == ["G1"]
    assert [note.name for note in notes_of(pluck(61.7354, seconds=2.0, sample_rate=RATE_HZ)).notes] == ["B1"]


@pytest.mark.parametrize(
    ("samples", "remark"),
    [
        (np.zeros(RATE_HZ), "no notes: the take is silent"),
        ([0.3], "no notes: 0.0625 ms is too short for one"),
        (pluck(82.4, seconds=0.05, sample_rate=RATE_HZ), "no notes: 50 ms is too short for one"),
        (np.full(RATE_HZ, 0.1), "no notes: nothing has a clear beginning and a clear pitch"),
    ],
)
def test_where_nothing_can_be_found_it_says_why(samples, remark):
    assert notes_of(samples) == type(notes_of(samples))((), (Remark("no-notes", remark),))


CHORDS = ["E1 B1", "E1 G#1", "A1 C#2", "D2 F#2", "E1 A1", "D2 A2", "B1 F#2", "E2 G#2 B2", "E2 B2 E3 G#3 B3 E4"]


@pytest.mark.parametrize("chord", CHORDS)
def test_chords_are_not_notes(chord):
    voices = [
        pluck(note_to_hz(name), seconds=1.5, sample_rate=RATE_HZ, seed=place, string=String(inharmonicity=1.5e-4))
        for place, name in enumerate(chord.split())
    ]
    result = notes_of(sum(voices))
    assert result.notes == ()
    assert len(result.remarks) >= 2


@pytest.mark.parametrize("pitch_hz", [24.0, 1200.0])
def test_a_pitch_out_of_range_is_said(pitch_hz):
    time_s = np.arange(RATE_HZ) / RATE_HZ
    result = notes_of(0.1 * sum(np.sin(2 * np.pi * pitch_hz * n * time_s) / n for n in (1, 2, 3)))
    assert result.notes == ()
    assert "below 28 Hz or above 1000 Hz" in result.remarks[1].text


@pytest.mark.parametrize("pitch_hz", [41.2, 73.4])
def test_a_dead_note_is_no_note(pitch_hz):
    sound = np.concatenate([np.zeros(RATE_HZ // 4), dead_note(pitch_hz, sample_rate=RATE_HZ), np.zeros(RATE_HZ // 4)])
    result = notes_of(sound + 1e-5 * np.random.default_rng(0).standard_normal(len(sound)))
    assert result.notes == ()
    assert len(result.remarks) == 2


def test_a_note_below_the_lowest_string_is_remarked_upon():
    low = pluck(note_to_hz("B0"), seconds=1.0, sample_rate=RATE_HZ)
    assert notes_of(low).notes[0].remark == "lower than the lowest open string"
    assert notes_of(low, tuning="bass-5").notes[0].remark == ""


def test_open_strings_follow_the_tuning():
    low = pluck(note_to_hz("D1"), seconds=1.0, sample_rate=RATE_HZ)
    assert not notes_of(low).notes[0].open_string
    assert notes_of(low, tuning="D1 A1 D2 G2").notes[0].open_string
    with pytest.raises(UnitError, match="did you mean 'bass-4'"):
        notes_of(low, tuning="bass4")


def test_a_note_that_slides_an_octave_is_one_note():
    sound = slide(
        Glide(41.2, 82.4, start_s=0.5, end_s=1.0), seconds=2.0, sample_rate=RATE_HZ, string=String(pickup_position=0.12)
    )
    result = notes_of(sound)
    assert [note.remark for note in result.notes] == ["the pitch moves, E1 to E2"]
