"""A strip for each candidate under the wave: where it loses lock, and how.

The three kinds of dropout are told apart by their place and their outline, so that neither colour nor a wide screen is
needed: a skip stands above the line, full; a stall hangs below it, hollow; a stray goes through it, dashed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args
from xml.etree import ElementTree

from sublatch.audition.listen.candidate_lock import TakeNote
from sublatch.audition.page.labels import COLOURS, shown
from sublatch.audition.page.lanes import Element, as_text, lane, per_cent, seconds_in_words
from sublatch.tracking.lock import Dropout, Kind

KINDS: tuple[Kind, ...] = get_args(Kind)
STRIP_HEIGHT, LINE_HEIGHT = 26.0, 3.0
MARKS = {
    "skip": (2.0, 8.0, 2, "fill-opacity: 1"),
    "stall": (16.0, 8.0, 1, "fill-opacity: 0"),
    "stray": (2.0, 22.0, 4, "fill-opacity: 0.3; stroke-dasharray: 3 1.5"),
}
"""Of each kind: where its marks begin from the top and how high they are, in pixels, the number of their colour, and
how they are filled and outlined."""
MARK_LINE = 1.5
"""Width of the outline in pixels, which is there however short a dropout is."""
LISTED_DROPOUTS = 6
"""Dropouts that are listed one by one; more are counted."""


def lock_strip(
    notes: Sequence[TakeNote], dropouts: Sequence[Dropout], *, seconds: float, names: Sequence[str] = ()
) -> str:
    """Draw where a candidate loses lock over a whole take.

    Parameters
    ----------
    notes
        The take's notes, which the line is drawn for.
    dropouts
        Where lock is lost.
    seconds
        Length of the take, which is the width of the strip.
    names
        Those of the candidates that it holds for, for the text that stands for the strip.

    Returns
    -------
    str
        An SVG element as wide as the page lets it be, time in per cent from its left edge.
    """
    owners = "; ".join(shown(name) for name in names)
    drawing = lane(STRIP_HEIGHT, f"{owners}: {dropouts_in_words(dropouts, notes)}".removeprefix(": "))
    line = ElementTree.SubElement(drawing, "g", {"class": "line", "style": "fill: currentColor; opacity: 0.45"})
    top = f"{(STRIP_HEIGHT - LINE_HEIGHT) / 2:g}"
    for note in notes:
        _box(line, note.start_s, note.end_s, seconds, top, LINE_HEIGHT)
    for kind in KINDS:
        of_kind = [dropout for dropout in dropouts if dropout.kind == kind]
        group = _marks(drawing, kind) if of_kind else drawing
        for dropout in of_kind:
            box = _box(group, dropout.start_s, dropout.end_s, seconds, f"{MARKS[kind][0]:g}", MARKS[kind][1])
            ElementTree.SubElement(box, "title").text = _dropout_in_words(dropout, notes)
    return as_text(drawing)


def mark(kind: Kind) -> str:
    """Draw one mark as the strips have it, for the key beside them.

    Parameters
    ----------
    kind
        The kind of dropout.

    Returns
    -------
    str
        An SVG element.
    """
    drawing = lane(STRIP_HEIGHT, None)
    drawing.set("width", "30")
    line = {"x": "0", "y": f"{(STRIP_HEIGHT - LINE_HEIGHT) / 2:g}", "width": "30", "height": f"{LINE_HEIGHT:g}"}
    ElementTree.SubElement(drawing, "rect", {**line, "style": "fill: currentColor; opacity: 0.45"})
    top, height, _, _ = MARKS[kind]
    box = {"x": "10", "y": f"{top:g}", "width": "10", "height": f"{height:g}"}
    ElementTree.SubElement(_marks(drawing, kind), "rect", box)
    return as_text(drawing)


def dropouts_in_words(dropouts: Sequence[Dropout], notes: Sequence[TakeNote]) -> str:
    """Return dropouts in words: one by one where there are few, their number, sum, first and longest where not."""
    if not dropouts:
        return "does not lose lock." if notes else "no notes to lock to."
    times = "once" if len(dropouts) == 1 else f"{len(dropouts)} times"
    if len(dropouts) <= LISTED_DROPOUTS:
        return f"loses lock {times}: {', '.join(_dropout_in_words(dropout, notes) for dropout in dropouts)}."
    total_s = sum(dropout.end_s - dropout.start_s for dropout in dropouts)
    longest = max(dropouts, key=lambda dropout: dropout.end_s - dropout.start_s)
    first_words, longest_words = (_dropout_in_words(dropout, notes) for dropout in (dropouts[0], longest))
    return (
        f"loses lock {times}: {counts_in_words(dropouts)}; {total_s:.2f} s in all; "
        f"first {first_words}; longest {longest_words}."
    )


def counts_in_words(dropouts: Sequence[Dropout]) -> str:
    """Return how many dropouts of each kind there are, in words."""
    plurals = {"skip": "skips", "stall": "stalls", "stray": "strays"}
    counts = {kind: sum(dropout.kind == kind for dropout in dropouts) for kind in KINDS}
    return ", ".join(f"{n} {kind if n == 1 else plurals[kind]}" for kind, n in counts.items() if n) or "no dropouts"


def _dropout_in_words(dropout: Dropout, notes: Sequence[TakeNote]) -> str:
    """Return one dropout in words, with the note that it is in."""
    middle_s = (dropout.start_s + dropout.end_s) / 2
    name = next((f" in {note.name}" for note in notes if note.start_s <= middle_s <= note.end_s), "")
    return f"{dropout.kind} {seconds_in_words(dropout.start_s, dropout.end_s)}{name}"


def _marks(drawing: Element, kind: Kind) -> Element:
    """Return a group for the marks of a kind."""
    _, _, number, style = MARKS[kind]
    colour = f"var(--curve-{number}, {COLOURS[number - 1]})"
    painted = f"fill: {colour}; stroke: {colour}; stroke-width: {MARK_LINE:g}; {style}"
    return ElementTree.SubElement(drawing, "g", {"class": kind, "style": painted})


def _box(group: Element, start_s: float, end_s: float, seconds: float, top: str, height: float) -> Element:
    """Draw a box from one time to another."""
    width = per_cent(end_s - start_s, seconds)
    size = {"x": per_cent(start_s, seconds), "y": top, "width": width, "height": f"{height:g}"}
    return ElementTree.SubElement(group, "rect", size)
