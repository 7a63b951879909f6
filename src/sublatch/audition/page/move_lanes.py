"""Lanes of the listening page that show what is moved while a take plays, over its wave."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree

from sublatch.audition.page.labels import width_px
from sublatch.audition.page.lanes import NAME_GAP_PX, NAME_SIZE, NARROW_PX, Element, as_text, lane, per_cent
from sublatch.audition.page.wording import path_in_words, value_in_words
from sublatch.signal.moves import KNOBS, Move

ROW_HEIGHT, TEXT_DOWN, LINE_DOWN, END_DOWN = 20.0, 10.0, 14.5, 19.0
"""Of a row of words with their brackets, and how far down in it the words stand, and the line, and the line's ends."""
MOST_ROWS = 4
"""Rows of words; a move that finds no room in them has a bracket in the lowest, and its words in the bracket's tip."""


def moves_in_words(moves: Sequence[Move]) -> str:
    """Return moves in words: "tone 2 to 8 from 1 s to 3 s; peak: peaked at 3.5 s"."""
    return "; ".join(f"{move_label(move)} {_when(move)}" for move in moves)


def move_label(move: Move) -> str:
    """Return a move in words, without its times."""
    name = path_in_words(move.control)
    if move.control in KNOBS:
        return f"{name} {value_in_words(move.start)} to {value_in_words(move.end)}"
    if move.control == "engaged":
        return name if move.end else f"not {name}"
    return f"{name}: {move.end}"


def move_lane(moves: Sequence[Move], *, seconds: float) -> str:
    """Draw moves as brackets over the stretches of time that they take, a switch's as a tick.

    Parameters
    ----------
    moves
        In order of time; at least one.
    seconds
        Length of the take.

    Returns
    -------
    str
        An SVG element. No two labels overlap, not even where it is narrow.
    """
    rows = _rows(moves, seconds)
    highest = max(row or 0 for row in rows)
    drawing = lane((highest + 1) * ROW_HEIGHT, f"Moves: {moves_in_words(moves)}.")
    texts = ElementTree.SubElement(drawing, "g", {"style": f"fill: currentColor; font-size: {NAME_SIZE:g}px"})
    lines = ElementTree.SubElement(drawing, "g", {"style": "stroke: currentColor; stroke-width: 1"})
    for move, row in zip(moves, rows, strict=True):
        top = (highest - (row or 0)) * ROW_HEIGHT
        if row is not None:
            _label(texts, move, seconds, top + TEXT_DOWN)
        _bracket(ElementTree.SubElement(lines, "g"), move, seconds, top)
    return as_text(drawing)


def _label(texts: Element, move: Move, seconds: float, y: float) -> None:
    """Write a move's label over its start, or up to its end where the lane ends soon."""
    attributes = {"x": per_cent(move.start_s, seconds), "y": f"{y:g}"}
    if _ends_soon(move, seconds):
        attributes |= {"x": per_cent(_end_s(move), seconds), "text-anchor": "end"}
    ElementTree.SubElement(texts, "text", attributes).text = move_label(move)


def _bracket(lines: Element, move: Move, seconds: float, top: float) -> None:
    """Draw a move's bracket in its row, with its words for a tip."""
    ElementTree.SubElement(lines, "title").text = moves_in_words([move])
    start, end = per_cent(move.start_s, seconds), per_cent(_end_s(move), seconds)
    line_y, end_y = f"{top + LINE_DOWN:g}", f"{top + END_DOWN:g}"
    for x in dict.fromkeys((start, end)):
        ElementTree.SubElement(lines, "line", {"x1": x, "x2": x, "y1": line_y, "y2": end_y})
    if start != end:
        ElementTree.SubElement(lines, "line", {"x1": start, "x2": end, "y1": line_y, "y2": line_y})


def _rows(moves: Sequence[Move], seconds: float) -> list[int | None]:
    """Return the row of each move, 0 the lowest, so that no labels meet; None where there is no room."""
    ends = [-1.0] * MOST_ROWS
    rows: list[int | None] = []
    for move in moves:
        left, right = _extent(move, seconds)
        row = next((number for number, end in enumerate(ends) if end <= left), None)
        if row is not None:
            ends[row] = right
        rows.append(row)
    return rows


def _extent(move: Move, seconds: float) -> tuple[float, float]:
    """Return from where to where a move with its label goes in a narrow lane, in pixels, with a gap after it."""
    start, end = (NARROW_PX * time_s / seconds for time_s in (move.start_s, _end_s(move)))
    width = width_px(move_label(move), size=NAME_SIZE)
    if _ends_soon(move, seconds):
        return min(start, end - width), end + NAME_GAP_PX
    return start, max(end, start + width) + NAME_GAP_PX


def _ends_soon(move: Move, seconds: float) -> bool:
    """Return whether a label at a move's start would run out of a narrow lane."""
    return NARROW_PX * (1.0 - move.start_s / seconds) < width_px(move_label(move), size=NAME_SIZE)


def _end_s(move: Move) -> float:
    """Return when a move is over as it is shown: a switch is thrown at once."""
    return move.stop_s if move.control in KNOBS else move.start_s


def _when(move: Move) -> str:
    """Return a move's times in words."""
    if move.control in KNOBS:
        return f"from {move.start_s:g} s to {move.stop_s:g} s"
    return f"at {move.start_s:g} s"
