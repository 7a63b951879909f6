"""Tunings by name and string by string."""

from __future__ import annotations

import pytest

from sublatch.errors import UnitError
from sublatch.pitch.open_strings import TUNINGS, open_strings


def test_open_strings_of_a_bass_are_those_of_iso_16() -> None:
    """ISO 16:1975, A4 = 440 Hz, in equal temperament."""
    assert open_strings("bass-4") == pytest.approx({"E1": 41.2034, "A1": 55.0, "D2": 73.4162, "G2": 97.9989}, abs=0.005)
    assert open_strings("bass-5")["B0"] == pytest.approx(30.8677, abs=0.005)
    assert open_strings("bass-6")["C3"] == pytest.approx(130.8128, abs=0.005)
    assert open_strings("guitar-7")["B1"] == pytest.approx(61.7354, abs=0.005)


@pytest.mark.parametrize("name", TUNINGS)
def test_a_tuning_has_as_many_strings_as_its_name_says(name: str) -> None:
    strings = open_strings(name)
    assert len(strings) == int(name[-1])
    assert list(strings.values()) == sorted(strings.values())


def test_a_tuning_may_be_written_out() -> None:
    assert list(open_strings("D1 A1 D2 G2")) == ["D1", "A1", "D2", "G2"]
    assert open_strings("Eb1, Ab1, Db2, Gb2")["D#1"] == pytest.approx(38.8909, abs=0.005)
    assert list(open_strings(" Bass-4 ")) == list(open_strings("bass-4"))
    assert list(open_strings("E1")) == ["E1"]


@pytest.mark.parametrize(
    ("tuning", "message"),
    [
        ("bas-4", r"must be one of bass-4, bass-5.*got 'bas-4'; did you mean 'bass-4'\?"),
        ("E1 A1 D G2", r"got 'E1 A1 D G2': 'D' is no note with an octave number"),
        ("E1 A1 A1 G2", "got 'E1 A1 A1 G2': the same string twice"),
        ("D#1 Eb1", "the same string twice"),
        ("", "got '': no strings"),
    ],
)
def test_what_is_no_tuning_is_refused(tuning: str, message: str) -> None:
    with pytest.raises(UnitError, match=message):
        open_strings(tuning)
