"""ISO 16:1975, standard tuning frequency: A4 is 440 Hz.

The strings below follow from it in twelve equal steps an octave (f = 440·2^((m − 69)/12), common practice,
no source); an independent library gives the same. Tolerance: 0.005 Hz.
"""

import librosa
import pytest

from sublatch import units

STRINGS_HZ = {
    # bass: five strings, the sixth, and two lowered tunings
    "B0": 30.8677,
    "E1": 41.2034,
    "A1": 55.0000,
    "D2": 73.4162,
    "G2": 97.9989,
    "C3": 130.8128,
    "D1": 36.7081,
    "C1": 32.7032,
    # guitar: seven strings (A2 to E4)
    "B1": 61.7354,
    "E2": 82.4069,
    "A2": 110.0000,
    "D3": 146.8324,
    "G3": 195.9977,
    "B3": 246.9417,
    "E4": 329.6276,
}
OCTAVE_DOWN_HZ = {"B0": 15.4339, "E1": 20.6017, "A1": 27.5000, "D2": 36.7081, "G2": 48.9994, "C3": 65.4064}


def test_concert_pitch():
    assert units.note_to_hz("A4") == units.CONCERT_A_HZ == 440.0


@pytest.mark.parametrize("name", STRINGS_HZ)
def test_open_strings(name):
    assert units.note_to_hz(name) == pytest.approx(STRINGS_HZ[name], abs=0.005)
    assert units.hz_to_note(STRINGS_HZ[name]) == name
    assert units.note_to_hz(name) == pytest.approx(librosa.note_to_hz(name), rel=1e-12)


@pytest.mark.parametrize("name", OCTAVE_DOWN_HZ)
def test_an_octave_down(name):
    lower = f"{name[0]}{int(name[1]) - 1}"
    assert units.note_to_hz(lower) == pytest.approx(OCTAVE_DOWN_HZ[name], abs=0.005)
    assert units.cents(units.note_to_hz(lower), units.note_to_hz(name)) == pytest.approx(1200.0, abs=1e-9)


def test_periods():
    assert 1e3 / units.note_to_hz("E1") == pytest.approx(24.2698, abs=5e-5)
    assert 1e3 / units.note_to_hz("B0") == pytest.approx(32.3963, abs=5e-5)


def test_cents():
    e1_hz = units.note_to_hz("E1")
    assert units.cents(e1_hz, e1_hz + 1.0) == pytest.approx(41.5, abs=0.05)
    assert units.cents(1.0, 1.0293022) == pytest.approx(50.0, abs=1e-4)


LETTERS = ["C", "C#", "Db", "D", "D#", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B", "Cb"]


@pytest.mark.parametrize("letter", LETTERS)
def test_every_note_agrees_with_the_library(letter):
    for octave in range(-1, 10):
        hz = float(librosa.note_to_hz(f"{letter}{octave}"))
        assert units.note_to_hz(f"{letter}{octave}") == pytest.approx(hz, rel=1e-12)
        if hz >= 8.0:  # below C-1 the library rounds the octave towards zero
            assert units.hz_to_note(hz) == librosa.hz_to_note(hz, unicode=False)


def test_names_below_the_lowest_octave_of_the_library():
    assert units.hz_to_note(units.note_to_hz("Cb-1")) == "B-2"
    assert units.note_to_hz("B-2") == pytest.approx(units.note_to_hz("B-1") / 2.0, rel=1e-12)
