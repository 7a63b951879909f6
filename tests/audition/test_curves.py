"""Curves for the page: where a line runs, whose it is, and what stands for it in words."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from sublatch.audition.curves import BOTTOM, LEFT, RIGHT, TOP, response_curves, spectrum_curves

RATE = 48000
HERTZ = np.geomspace(20.0, 20e3, 31)


def curves(svg):
    """Return each curve's points (n, 2) by whose it is."""
    root = ElementTree.fromstring(svg)
    found = {}
    for path in root.iter("{http://www.w3.org/2000/svg}path"):
        if path.get("class") == "curve":
            numbers = re.findall(r"[-\d.]+", path.get("d"))
            found[path.get("data-of")] = np.array(numbers, float).reshape(-1, 2)
    return root, found


def test_a_response_runs_where_it_should():
    _, found = curves(response_curves(["flat", "falling"], frequency_hz=HERTZ, gains_db=[0 * HERTZ, -np.log10(HERTZ)]))
    flat = found["1"]
    assert (flat[0, 0], flat[-1, 0]) == (LEFT, RIGHT)
    assert np.ptp(flat[:, 1]) == 0.0
    assert TOP < flat[0, 1] < BOTTOM
    assert np.all(np.diff(found["2"][:, 1]) >= 0)
    assert np.allclose(
        np.diff(flat[:, 0]), (RIGHT - LEFT) / 30, atol=0.11
    )  # octaves are as wide, to a tenth of a pixel


def test_the_same_curve_is_drawn_once_for_all_that_have_it():
    gains = [0 * HERTZ, -HERTZ / 1e3, 0 * HERTZ]
    assert set(curves(response_curves(["a", "b", "c"], frequency_hz=HERTZ, gains_db=gains))[1]) == {"1 3", "2"}


def test_a_curve_ends_where_it_leaves_the_picture():
    falling = -100.0 * np.log10(HERTZ / 20.0)
    _, found = curves(response_curves(["a"], frequency_hz=HERTZ, gains_db=[falling]))
    assert found["1"][-1, 1] == BOTTOM
    assert np.count_nonzero(found["1"][:, 1] == BOTTOM) == 1
    assert found["1"][-1, 0] < RIGHT


def test_a_spectrum_stands_highest_where_the_sound_is():
    """A full-scale sine has a level of 0 dBFS in its band (AES17)."""
    time_s = np.arange(RATE) / RATE
    sines = [np.sin(2 * np.pi * hz * time_s) for hz in (100.0, 1000.0)]
    root, found = curves(spectrum_curves(["bypassed", "b <&>"], sines, sample_rate=RATE))
    for number, hz in enumerate((100.0, 1000.0)):
        top = found[str(number)][np.argmin(found[str(number)][:, 1])]
        place = LEFT + np.log(hz / 20.0) / np.log(5000.0 / 20.0) * (RIGHT - LEFT)
        assert top[0] == pytest.approx(place, abs=0.2)
    label = root.get("aria-label")
    assert "bypassed: strongest at 100 Hz, 0 dBFS" in label
    assert "b <&>: strongest at 1000 Hz, 0 dBFS" in label


@pytest.mark.parametrize("samples", [np.zeros(100), np.zeros(1)])
def test_silence_has_no_curve(samples):
    root, found = curves(spectrum_curves(["bypassed"], [samples], sample_rate=8000))
    assert found == {}
    assert "bypassed: silent" in root.get("aria-label")


def test_words_stand_for_the_responses():
    root, _ = curves(response_curves(["a"], frequency_hz=HERTZ, gains_db=[np.full(31, -3.0)]))
    assert root.get("role") == "img"
    assert "a: −3 dB at 100 Hz, −3 dB at 1000 Hz, −3 dB at 10000 Hz" in root.get("aria-label")
