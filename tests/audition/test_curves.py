"""Curves for the page: where a line runs, whose it is, and what stands for it in words."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from sublatch.audition.listen.balance import standing
from sublatch.audition.page.curves import BOTTOM, LEFT, RIGHT, TOP, response_curves, spectrum_curves, standing_curves
from sublatch.sampling.bands import NOMINAL_HZ

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


def labels(root):
    """Return where from left to right each text in the middle of its place stands."""
    texts = root.iter("{http://www.w3.org/2000/svg}text")
    return {text.text: float(text.get("x")) for text in texts if text.get("text-anchor") == "middle"}


def test_every_frequency_of_the_axis_stands_where_it_lies():
    """In steps of pitch from 20 Hz, to 20 kHz for a response and to 5 kHz, the highest band's middle, for a sound."""
    response, _ = curves(response_curves(["a"], frequency_hz=HERTZ, gains_db=[0 * HERTZ]))
    spectrum, _ = curves(spectrum_curves(["a"], [np.sin(np.arange(RATE))], sample_rate=RATE))
    hertz = {"20": 20, "50": 50, "100": 100, "200": 200, "500": 500, "1k": 1000, "2k": 2000, "5k": 5000}
    for root, further in ((response, {"10k": 10e3, "20k": 20e3}), (spectrum, {})):
        wanted = hertz | further
        octaves = {text: np.log2(hz / 20.0) for text, hz in wanted.items()}
        width = (RIGHT - LEFT) / max(octaves.values())
        assert labels(root) == {
            text: pytest.approx(LEFT + width * octave, abs=0.06) for text, octave in octaves.items()
        }


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


def test_a_bed_is_an_area_under_the_candidates_curves():
    count = len(NOMINAL_HZ)
    bed = [-40.0] * (count - 1) + [None]
    loud, soft = [-30.0] * count, [-50.0] * 10 + [-35.0] + [None] * (count - 11)
    svg = standing_curves(["loud", "soft <"], [standing(bass, bed) for bass in (loud, soft)])
    root, found = curves(svg)
    assert set(found) == {"0", "1"}
    assert len(found["1"]) == 11
    (area,) = [path for path in root.iter("{http://www.w3.org/2000/svg}path") if path.get("class") == "bed"]
    points = np.array(re.findall(r"[-\d.]+", area.get("d")), float).reshape(-1, 2)
    assert points[0].tolist() == [LEFT, BOTTOM]
    assert points[-1].tolist() == [RIGHT, BOTTOM]
    top = points[1:-2, 1]
    assert np.ptp(top) == 0.0
    assert points[-2, 1] == BOTTOM  # nothing is in the last band
    assert found["0"][0, 1] < top[0] < found["1"][0, 1]
    assert found["0"][0, 1] + found["1"][0, 1] == pytest.approx(2 * top[0], abs=0.2)  # 10 dB above, 10 dB below
    assert list(root).index(area) < min(
        n for n, part in enumerate(root) if part.get("class") == "curve"
    )  # what comes later lies on top
    label = root.get("aria-label").replace("\N{NO-BREAK SPACE}", " ")
    assert "loud: above the bed from 20 Hz to 5000 Hz; soft <: above the bed at 200 Hz." in label


def test_a_bed_alone_can_be_drawn():
    silent = standing([None] * len(NOMINAL_HZ), [-40.0] * len(NOMINAL_HZ))
    root, found = curves(standing_curves(["silent"], [silent]))
    assert found == {}
    assert "silent: nowhere above the bed." in root.get("aria-label")
