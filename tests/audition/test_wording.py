"""Bands above a bed in words."""

from __future__ import annotations

import pytest

from sublatch.audition.page.wording import above_in_words, path_in_words
from sublatch.sampling.bands import NOMINAL_HZ


@pytest.mark.parametrize(
    ("bands", "words"),
    [
        ((), "nowhere above the bed"),
        ((800.0,), "above the bed at 800 Hz"),
        ((50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 800.0), "above the bed from 50 Hz to 160 Hz and at 800 Hz"),
        ((20.0, 31.5, 40.0, 5000.0), "above the bed at 20 Hz, from 31.5 Hz to 40 Hz and at 5000 Hz"),
        (NOMINAL_HZ, "above the bed from 20 Hz to 5000 Hz"),
        ((63.0, 50.0), "above the bed from 50 Hz to 63 Hz"),
    ],
)
def test_bands_side_by_side_are_one_range(bands, words):
    assert above_in_words(bands).replace("\N{NO-BREAK SPACE}", " ") == words


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("knobs.tone", "tone"),
        ("filter.ground_capacitor", "filter ground capacitor"),
        ("filter.parts.R1.value", "filter R1"),
        ("filter.parts.C1.value.peaked", "filter C1 peaked"),
        ("filter.parts.P1.end_resistor", "filter P1 end resistor"),
        ("mix.direct_filter.parts.P1.pot.value", "mix direct filter P1 pot"),
    ],
)
def test_a_setting_is_called_as_it_would_be_read_out(path, words):
    assert path_in_words(path) == words
