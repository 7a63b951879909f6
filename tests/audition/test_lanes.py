"""Lanes under one time axis: everything lies where its time is, and names have room at every width."""

from __future__ import annotations

import itertools
import re
from xml.etree import ElementTree

import numpy as np
import pytest

from sublatch.audition.listen.candidate_lock import TakeNote
from sublatch.audition.page.lanes import NARROW_CLASS, NARROW_PX, WIDE_PX, note_lane, time_axis, wave_lane

SVG = "{http://www.w3.org/2000/svg}"
FEW = [
    TakeNote(0.5, 2.0, 41.2, "E1", True),
    TakeNote(3.0, 5.0, 61.7, "B1", False),
    TakeNote(9.7, 10.0, 98.0, "G2", True),
]
ADVANCE = 0.62
"""Width of a letter or digit in the common sans-serif fonts as a share of the size, on average (from memory)."""


def place(text):
    return float(text.removesuffix("%"))


def outline(svg):
    """Return the points (n, 2) of a wave's outline."""
    (path,) = ElementTree.fromstring(svg).iter(f"{SVG}path")
    return np.array(re.findall(r"-?[\d.]+", path.attrib["d"]), dtype=float).reshape(-1, 2)


@pytest.mark.parametrize(("seconds", "steps"), [(4.0, 480), (60.0, 480), (120.0, 960), (600.0, 4800), (3600.0, 4800)])
def test_a_long_wave_has_more_steps_within_limits(seconds, steps):
    assert len(outline(wave_lane(np.ones(10_000), name="take", seconds=seconds))) == 2 * steps


def names(svg):
    return list(ElementTree.fromstring(svg).iter(f"{SVG}text"))


def line(count, seconds):
    """Return notes as fast as they come, with long names."""
    step = seconds / count
    return [TakeNote(n * step, (n + 0.9) * step, 92.5, "F#2", n % 4 == 0) for n in range(count)]


@pytest.mark.parametrize("where", [0.1, 0.5, 0.93])
def test_a_click_stands_where_it_is_and_up_where_it_is_positive(where):
    samples = np.zeros(100_000)
    samples[round(where * 100_000)] = 0.5
    points = outline(wave_lane(samples, name="take"))
    view = [float(word) for word in ElementTree.fromstring(wave_lane(samples, name="take")).attrib["viewBox"].split()]
    top = points[np.argmin(points[:, 1])]
    assert top[0] / view[2] == pytest.approx(where, abs=1.5 / 480)
    assert top[1] < 0.02 * view[3]
    assert points[:, 1].max() == view[3] / 2


@pytest.mark.parametrize("samples", [np.zeros(5000), np.zeros(1), np.array([0.3]), np.array([-0.2, 0.3, 0.1])])
def test_silence_and_single_samples_can_be_drawn(samples):
    points = outline(wave_lane(samples, name="take"))
    assert len(points) == 2 * min(len(samples), 480)
    assert np.all((points >= 0.0) & (points <= [480.0, 200.0]))


def test_a_wave_has_its_name_as_text():
    svg = wave_lane(np.ones(10), name='<b>"x"\0')
    assert ElementTree.fromstring(svg).attrib["aria-label"] == 'Wave of <b>"x"\ufffd, the take itself.'


def test_notes_lie_where_they_sound_and_open_strings_stand_out():
    svg = note_lane(FEW, seconds=10.0)
    bars = list(ElementTree.fromstring(svg).iter(f"{SVG}rect"))
    assert [place(bar.attrib["x"]) for bar in bars] == pytest.approx([5.0, 30.0, 97.0])
    assert [place(bar.attrib["width"]) for bar in bars] == pytest.approx([15.0, 20.0, 3.0])
    assert [bar.get("fill-opacity") for bar in bars] == [None, "0", None]
    assert [(text.text, text.get("font-weight")) for text in names(svg)] == [
        ("E1", "bold"),
        ("B1", None),
        ("G2", "bold"),
    ]
    assert bars[0][0].text == "E1, open string, 41.2 Hz, 0.50–2.00 s"
    assert bars[1][0].text == "B1, 61.7 Hz, 3.00–5.00 s"
    assert ElementTree.fromstring(svg).attrib["aria-label"] == (
        "Notes: E1 open at 0.5 s, B1 at 3.0 s, G2 open at 9.7 s."
    )


def extent(text, width_px):
    """Return from where to where a name goes in a lane of a width."""
    length = ADVANCE * 11.0 * len(text.text) * (1.08 if text.get("font-weight") else 1.0)
    x = place(text.attrib["x"]) / 100.0 * width_px
    return (x - length, x) if text.get("text-anchor") == "end" else (x, x + length)


@pytest.mark.parametrize(("count", "seconds"), [(3, 1.0), (32, 16.0), (60, 60.0), (200, 20.0)])
def test_names_never_overlap_nor_leave_the_lane_on_paper_or_telephone(count, seconds):
    shown = names(note_lane(line(count, seconds), seconds=seconds))
    narrow = [text for text in shown if text.get("class") != NARROW_CLASS]
    assert 0 < len(narrow) <= len(shown) <= count
    for texts, width_px in ((shown, WIDE_PX), (narrow, NARROW_PX)):
        rows = {text.attrib["y"]: [] for text in texts}
        for text in texts:
            rows[text.attrib["y"]].append(extent(text, width_px))
        for row in rows.values():
            assert all(one[1] <= other[0] for one, other in itertools.pairwise(row))
            assert row[0][0] >= 0.0
            assert row[-1][1] <= width_px


def test_a_minute_of_sixty_notes_has_all_its_names_on_paper():
    assert len(names(note_lane(line(60, 60.0), seconds=60.0))) == 60


def test_a_note_without_room_for_its_name_has_its_bar():
    svg = note_lane(line(300, 10.0), seconds=10.0)
    assert len(names(svg)) < 300
    assert len(list(ElementTree.fromstring(svg).iter(f"{SVG}rect"))) == 300


@pytest.mark.parametrize("seconds", [1 / 8000, 0.004, 0.6, 1.0, 10.8, 17.2, 60.0, 3600.0])
def test_seconds_are_written_where_they_are(seconds):
    texts = names(time_axis(seconds))
    values = [float(text.text.removesuffix(" s")) for text in texts]
    assert [place(text.attrib["x"]) for text in texts] == pytest.approx([100 * v / seconds for v in values], abs=1e-3)
    assert values[0] == 0.0
    assert 4 <= len(values) <= 10
    assert values[-1] <= seconds < values[-1] + values[1]


def test_lanes_fill_the_page_keep_their_height_and_take_its_ink():
    for svg in (wave_lane(np.ones(100), name="x"), note_lane(FEW, seconds=10.0), time_axis(10.0)):
        root = ElementTree.fromstring(svg)
        assert root.attrib["width"] == "100%"
        assert float(root.attrib["height"]) > 0.0
        assert set(re.findall(r"(?:fill|stroke): ([^;\"]+)", svg)) == {"currentColor"}
