"""Moves over a take's wave: where the brackets are, what they are called, and that labels keep apart."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from sublatch.audition.page.labels import width_px
from sublatch.audition.page.lanes import NAME_SIZE, NARROW_PX
from sublatch.audition.page.move_lanes import MOST_ROWS, move_label, move_lane, moves_in_words
from sublatch.signal.moves import Move

SVG = "{http://www.w3.org/2000/svg}"
MOVES = (
    Move("knobs.tone", 2.0, 8.0, 1.0, 3.0),
    Move("switches.peak", "flat", "peaked", 3.5),
    Move("engaged", True, False, 9.9),
)


def share(text):
    return float(text.removesuffix("%")) / 100


def drawn(moves, seconds):
    """Return a lane, and of each bracket its words and its lines from where to where."""
    root = ElementTree.fromstring(move_lane(moves, seconds=seconds))
    found = []
    for title in root.iter(f"{SVG}title"):
        (bracket,) = [group for group in root.iter(f"{SVG}g") if title in group]
        lines = bracket.findall(f"{SVG}line")
        places = [share(line.get(end)) * seconds for line in lines for end in ("x1", "x2")]
        found.append((title.text, min(places), max(places)))
    return root, found


def extents(root):
    """Return each label's top, left and right in a narrow lane."""
    for text in root.iter(f"{SVG}text"):
        start, width = share(text.get("x")) * NARROW_PX, width_px(text.text, size=NAME_SIZE)
        left = start - width if text.get("text-anchor") == "end" else start
        yield float(text.get("y")), left, left + width


def test_brackets_are_where_the_moves_are():
    root, found = drawn(MOVES, 10.0)
    assert [label for label, *_ in found] == [
        "tone 2 to 8 from 1 s to 3 s",
        "peak: peaked at 3.5 s",
        "not engaged at 9.9 s",
    ]
    assert [time for _, *times in found for time in times] == pytest.approx([1.0, 3.0, 3.5, 3.5, 9.9, 9.9])
    assert root.get("role") == "img"
    assert root.get("aria-label") == f"Moves: {moves_in_words(MOVES)}."


@pytest.mark.parametrize(
    ("move", "label"),
    [
        (Move("knobs.volume", 0.5, 10.0, 0.0, 1.0), "volume 0.5 to 10"),
        (Move("switches.drive", "normal", "inverted", 0.0), "drive: inverted"),
        (Move("engaged", False, True, 0.0), "engaged"),
    ],
)
def test_a_move_is_told_in_words(move, label):
    assert move_label(move) == label


@pytest.mark.parametrize("seconds", [10.0, 12.0, 60.0])
def test_labels_neither_meet_nor_leave_a_narrow_lane(seconds):
    root, _ = drawn(MOVES, seconds)
    placed = list(extents(root))
    assert len(placed) == 3
    for number, (top, left, right) in enumerate(placed):
        assert left >= 0.0
        assert right <= NARROW_PX + 1e-6
        assert all(other != top or left >= end or right <= start for other, start, end in placed[:number])


def test_what_has_no_room_has_a_bracket_with_a_tip():
    many = [Move("knobs.tone", n % 2 * 5.0, (n + 1) % 2 * 5.0, 1.0 + n, 1.5 + n) for n in range(30)]
    root, found = drawn(many, 100.0)
    assert len(found) == 30
    assert 0 < len(list(extents(root))) < 30
    assert len({top for top, *_ in extents(root)}) == MOST_ROWS
