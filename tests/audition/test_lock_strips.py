"""The strip that shows where a candidate loses lock: marks where the dropouts are, told apart without colour."""

from __future__ import annotations

import itertools
import re
from xml.etree import ElementTree

import numpy as np
import pytest

from sublatch.audition.listen.candidate_lock import TakeNote
from sublatch.audition.page.lanes import note_lane, time_axis, wave_lane
from sublatch.audition.page.lock_strips import KINDS, counts_in_words, dropouts_in_words, lock_strip, mark
from sublatch.tracking.lock import Dropout

SVG = "{http://www.w3.org/2000/svg}"
NOTES = (TakeNote(0.5, 4.0, 41.2, "E1", True), TakeNote(4.0, 7.5, 61.74, "B1", False))
PLANTED = (
    Dropout(0.5, 0.62, "stray"),
    Dropout(2.0, 3.25, "skip"),
    Dropout(5.0, 5.01, "stall"),
    Dropout(7, 7.5, "skip"),
)
HOSTILE = ["</svg><script>alert(1)</script>", '" onload="alert(1)', "&amp; <b>", "a\0b\n", "🎸 低音", "x" * 500]


def groups(svg):
    """Return the marks (start, end) of each kind in per cent, in the order of the strip."""
    found = {}
    for group in ElementTree.fromstring(svg).iter(f"{SVG}g"):
        boxes = [[float(box.attrib[key].removesuffix("%")) for key in ("x", "width")] for box in group]
        found[group.attrib["class"]] = [(x, x + width) for x, width in boxes]
    return found


def label(svg):
    return ElementTree.fromstring(svg).attrib["aria-label"]


@pytest.mark.parametrize("seconds", [8.0, 17.2, 0.7501 * 60])
def test_dropouts_are_marked_where_they_are(seconds):
    found = groups(lock_strip(NOTES, PLANTED, seconds=seconds))
    for kind in KINDS:
        wanted = [(d.start_s, d.end_s) for d in PLANTED if d.kind == kind]
        marked = np.array(found[kind]) / 100.0 * seconds
        assert marked == pytest.approx(np.array(wanted), abs=2e-5 * seconds)
    assert np.array(found["line"]) / 100 * seconds == pytest.approx(
        np.array([(n.start_s, n.end_s) for n in NOTES]), abs=2e-5 * seconds
    )


def test_each_mark_says_what_it_is():
    tips = [element.text for element in ElementTree.fromstring(lock_strip(NOTES, PLANTED, seconds=8.0)).iter()]
    assert {tip for tip in tips if tip} == {
        "stray 0.50–0.62 s in E1",
        "skip 2.00–3.25 s in E1",
        "stall 5.00–5.01 s in B1",
        "skip 7.00–7.50 s in B1",
    }


def test_kinds_differ_in_place_and_outline_with_all_colour_gone():
    strip = ElementTree.fromstring(lock_strip(NOTES, PLANTED, seconds=8.0))
    looks = {}
    for group in strip.iter(f"{SVG}g"):
        box = group.find(f"{SVG}rect")
        style = re.sub(r"var\([^)]*\)", "colour", group.attrib["style"])
        looks[group.attrib["class"]] = (float(box.attrib["y"]), float(box.attrib["height"]), style)
    assert set(looks) == {"line", *KINDS}
    for one, other in itertools.combinations(KINDS, 2):
        assert looks[one][:2] != looks[other][:2], "place and height"
        assert looks[one][2] != looks[other][2], "filling and outline"
    middle = looks["line"][0] + looks["line"][1] / 2
    height = float(strip.attrib["height"])
    assert sum(looks["skip"][:2]) < middle < looks["stall"][0] < sum(looks["stall"][:2]) < height
    assert looks["stray"][0] < looks["line"][0] < sum(looks["line"][:2]) < sum(looks["stray"][:2]) < height


def test_the_shortest_dropout_can_be_seen():
    """Its outline is there at any width: 1.5 px on both sides of 1 ms in a minute."""
    strip = lock_strip(NOTES, [Dropout(5.0, 5.001, "stall")], seconds=60.0)
    (group,) = [g for g in ElementTree.fromstring(strip).iter(f"{SVG}g") if g.attrib["class"] == "stall"]
    assert float(re.search(r"stroke-width: ([\d.]+)", group.attrib["style"])[1]) >= 1.0
    assert "stroke: var(" in group.attrib["style"]


def test_the_key_shows_the_marks_of_the_strips():
    strip = ElementTree.fromstring(lock_strip(NOTES, PLANTED, seconds=8.0))
    for kind in KINDS:
        (wanted,) = [g for g in strip.iter(f"{SVG}g") if g.attrib["class"] == kind]
        (shown,) = [g for g in ElementTree.fromstring(mark(kind)).iter(f"{SVG}g") if g.attrib["class"] == kind]
        assert shown.attrib["style"] == wanted.attrib["style"]
        assert [shown[0].attrib[key] for key in ("y", "height")] == [wanted[0].attrib[key] for key in ("y", "height")]


@pytest.mark.parametrize(
    ("dropouts", "words"),
    [
        ([], "does not lose lock."),
        (PLANTED[1:2], "loses lock once: skip 2.00–3.25 s in E1."),
        (PLANTED[1:3], "loses lock 2 times: skip 2.00–3.25 s in E1, stall 5.00–5.01 s in B1."),
        (
            [Dropout(1 + n / 10, 1.02 + n / 10, "stall") for n in range(20)] + [Dropout(7.0, 7.5, "skip")],
            "loses lock 21 times: 1 skip, 20 stalls; 0.90 s in all; first stall 1.00–1.02 s in E1; "
            "longest skip 7.00–7.50 s in B1.",
        ),
    ],
)
def test_dropouts_are_told_in_words(dropouts, words):
    assert dropouts_in_words(dropouts, NOTES) == words
    assert label(lock_strip(NOTES, dropouts, seconds=8.0, names=["as built", "tone 5"])) == (
        f"as built; tone 5: {words}"
    )
    assert label(lock_strip(NOTES, dropouts, seconds=8.0)) == words


def test_a_take_without_notes_has_nothing_to_lock_to():
    assert dropouts_in_words([], []) == "no notes to lock to."
    assert groups(lock_strip([], [], seconds=8.0)) == {"line": []}


def test_dropouts_are_counted_in_words():
    assert counts_in_words([]) == "no dropouts"
    assert counts_in_words(PLANTED) == "2 skips, 1 stall, 1 stray"


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_is_only_text(name):
    calm, bad = (lock_strip(NOTES, PLANTED, seconds=8.0, names=[one]) for one in ("calm", name))
    one, other = ElementTree.fromstring(calm), ElementTree.fromstring(bad)
    assert [element.tag for element in one.iter()] == [element.tag for element in other.iter()]
    assert set(one.attrib) == set(other.attrib)
    assert bad.split(" aria-label=")[0] == calm.split(" aria-label=")[0]
    assert not re.search(r"[\0\n\x1b]", bad)
    assert len(label(bad)) < 250


def test_a_long_take_with_many_notes_and_candidates_stays_light(rng):
    """A minute of 60 notes through ten candidates that each lose every note twice: well under 300 kB."""
    notes = [TakeNote(float(n), n + 0.9, 97.123456, "F#2", n % 3 == 0) for n in range(60)]
    lanes = [wave_lane(rng.normal(size=48000), name="take"), note_lane(notes, seconds=60.0), time_axis(60.0)]
    kinds = itertools.cycle(KINDS)
    for place in range(10):
        starts = [(n + offset + 0.01 * place) for n in range(60) for offset in (0.1234567, 0.6543219)]
        dropouts = [Dropout(start, start + 0.0234567, next(kinds)) for start in starts]
        lanes.append(lock_strip(notes, dropouts, seconds=60.0, names=[f"candidate {place}"]))
    assert sum(len(svg.encode()) for svg in lanes) < 230_000
