"""Lanes of the listening page that share one time axis: a whole take's wave, its notes, and seconds.

Each is an SVG element of its own without a width: it fills what the page gives it, and time lies in per cent from the
left edge, so that lanes of one width line up whatever that width is. Texts and lines keep their size.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from xml.etree import ElementTree

import numpy as np

from sublatch.arrays import Signal
from sublatch.audition.listen.candidate_lock import TakeNote
from sublatch.audition.page.labels import shown, width_px

Element = ElementTree.Element

WIDE_PX, NARROW_PX = 600.0, 270.0
"""Widths at which no two names of notes may overlap: of a sheet of paper, and of a small telephone."""
NARROW_CLASS = "wide-only"
"""Class of the names that have no room at the narrow width; the page hides them there."""
NAME_SIZE, NAME_HEIGHT, NAME_GAP_PX = 11.0, 13.0, 4.0
MOST_ROWS = 4
"""Rows of names; a name that finds no room in them is only in the bar's tip."""
BAR_HEIGHT = 7.0
WAVE_HEIGHT, WAVE_STEPS = 56.0, 480
STEPS_PER_S, MOST_STEPS = 8, 4800
"""Of a long take's wave, so that it has something to show where it is enlarged, and how many at most."""
AXIS_HEIGHT = 22.0
MOST_TICKS = 10


def lane(height: float, label: str | None) -> Element:
    """Return an empty lane of a height in pixels; the label stands for it where it cannot be seen."""
    attributes = {"xmlns": "http://www.w3.org/2000/svg", "width": "100%", "height": f"{height:g}"}
    if label is None:
        return ElementTree.Element("svg", {**attributes, "aria-hidden": "true"})
    return ElementTree.Element("svg", {**attributes, "role": "img", "aria-label": label})


def as_text(drawing: Element) -> str:
    """Return a lane as text, whatever stands in it as text too."""
    return ElementTree.tostring(drawing, encoding="unicode")


def per_cent(time_s: float, seconds: float) -> str:
    """Return a time as a place along a lane, or a duration as a length."""
    return f"{100.0 * time_s / seconds:.3f}".rstrip("0").rstrip(".") + "%"


def seconds_in_words(start_s: float, end_s: float) -> str:
    """Return a stretch of time in words."""
    return f"{start_s:.2f}–{end_s:.2f} s"


def wave_lane(samples: Signal, *, name: str, seconds: float = 0.0) -> str:
    """Draw a whole take as the outline of its wave.

    Parameters
    ----------
    samples
        The take (n,), to any scale.
    name
        The take's.
    seconds
        Its length; the outline of a long one has more steps.

    Returns
    -------
    str
        An SVG element.
    """
    steps = min(max(WAVE_STEPS, round(STEPS_PER_S * seconds)), MOST_STEPS)
    drawing = lane(WAVE_HEIGHT, f"Wave of {shown(name)}, the take itself.")
    drawing.attrib |= {"viewBox": f"0 0 {steps} 200", "preserveAspectRatio": "none"}
    bounds = np.linspace(0, len(samples), min(steps, len(samples)) + 1).astype(int)
    tallest = float(np.max(np.abs(samples))) or 1.0
    tops, bottoms = (
        np.round(100 - 98 * extreme.reduceat(samples, bounds[:-1]) / tallest) for extreme in (np.maximum, np.minimum)
    )
    across = (np.arange(len(tops)) + 0.5) * steps / len(tops)
    points = [f"{x:g} {y:g}" for x, y in zip(across, tops, strict=True)]
    points += [f"{x:g} {y:g}" for x, y in zip(across[::-1], bottoms[::-1], strict=True)]
    ElementTree.SubElement(
        drawing,
        "path",
        {
            "d": f"M{' '.join(points)}Z",
            "style": "fill: currentColor; stroke: currentColor; stroke-width: 1; opacity: 0.6",
            "vector-effect": "non-scaling-stroke",
        },
    )
    return as_text(drawing)


def note_lane(notes: Sequence[TakeNote], *, seconds: float) -> str:
    """Draw a take's notes by name, open strings as full bars and bold names.

    Parameters
    ----------
    notes
        In order of time.
    seconds
        Length of the take.

    Returns
    -------
    str
        An SVG element.
    """
    described = ", ".join(f"{note.name}{' open' if note.open_string else ''} at {note.start_s:.1f} s" for note in notes)
    rows = _rows(notes, seconds)
    used_rows = max((row for row, _ in rows if row is not None), default=0) + 1
    drawing = lane(used_rows * NAME_HEIGHT + BAR_HEIGHT + 4.0, f"Notes: {described}." if notes else "No notes.")
    names = ElementTree.SubElement(drawing, "g", {"style": f"fill: currentColor; font-size: {NAME_SIZE:g}px"})
    bars = ElementTree.SubElement(drawing, "g", {"style": "fill: currentColor; stroke: currentColor"})
    for note, (row, fits_narrow) in zip(notes, rows, strict=True):
        _bar(bars, note, seconds, used_rows * NAME_HEIGHT + 2.0)
        if row is not None:
            _name(names, note, seconds, (used_rows - row) * NAME_HEIGHT - 3.0, hidden=not fits_narrow)
    return as_text(drawing)


def time_axis(seconds: float) -> str:
    """Draw the seconds of a take.

    Parameters
    ----------
    seconds
        Length of the take.

    Returns
    -------
    str
        An SVG element.
    """
    drawing = lane(AXIS_HEIGHT, None)
    marks = ElementTree.SubElement(drawing, "g", {"style": "stroke: currentColor; stroke-width: 1; opacity: 0.6"})
    texts = ElementTree.SubElement(drawing, "g", {"style": f"fill: currentColor; font-size: {NAME_SIZE:g}px"})
    ElementTree.SubElement(marks, "line", {"x1": "0%", "x2": "100%", "y1": "0.5", "y2": "0.5"})
    for tick_s in _ticks(seconds):
        left = per_cent(tick_s, seconds)
        ElementTree.SubElement(marks, "line", {"x1": left, "x2": left, "y1": "0", "y2": "6"})
        anchor = "start" if tick_s == 0.0 else "end" if tick_s > 0.95 * seconds else "middle"
        text = ElementTree.SubElement(texts, "text", {"x": left, "y": "18", "text-anchor": anchor})
        text.text = f"{tick_s:g} s" if tick_s == 0.0 else f"{tick_s:g}"
    return as_text(drawing)


def _bar(bars: Element, note: TakeNote, seconds: float, y: float) -> None:
    """Draw a note's bar, full for an open string and hollow for another."""
    size = {
        "x": per_cent(note.start_s, seconds),
        "y": f"{y:g}",
        "width": per_cent(note.end_s - note.start_s, seconds),
        "height": f"{BAR_HEIGHT - 1.0:g}",
    }
    bar = ElementTree.SubElement(bars, "rect", size if note.open_string else {**size, "fill-opacity": "0"})
    tip = ElementTree.SubElement(bar, "title")
    kind = ", open string" if note.open_string else ""
    tip.text = f"{note.name}{kind}, {note.pitch_hz:.1f} Hz, {seconds_in_words(note.start_s, note.end_s)}"


def _name(names: Element, note: TakeNote, seconds: float, y: float, *, hidden: bool) -> None:
    """Write a note's name over its start, or up to its end where the lane ends soon."""
    attributes = {"x": per_cent(note.start_s, seconds), "y": f"{y:g}"}
    if _ends_soon(note, seconds):
        attributes |= {"x": per_cent(note.end_s, seconds), "text-anchor": "end"}
    if note.open_string:
        attributes["font-weight"] = "bold"
    if hidden:
        attributes["class"] = NARROW_CLASS
    ElementTree.SubElement(names, "text", attributes).text = note.name


def _rows(notes: Iterable[TakeNote], seconds: float) -> list[tuple[int | None, bool]]:
    """Return the row of each note's name, None where it has no room, and whether it has room at the narrow width."""
    wide_ends, narrow_ends = [-np.inf] * MOST_ROWS, [-np.inf] * MOST_ROWS
    rows: list[tuple[int | None, bool]] = []
    for note in notes:
        left, right = _extent(note, seconds, WIDE_PX)
        row = next((number for number, end in enumerate(wide_ends) if end <= left), None)
        if row is None:
            rows.append((None, False))
            continue
        wide_ends[row] = right
        left, right = _extent(note, seconds, NARROW_PX)
        fits_narrow = bool(narrow_ends[row] <= left and right - NAME_GAP_PX <= NARROW_PX)
        if fits_narrow:
            narrow_ends[row] = right
        rows.append((row, fits_narrow))
    return rows


def _extent(note: TakeNote, seconds: float, lane_px: float) -> tuple[float, float]:
    """Return from where to where a note's name goes in a lane of a width, in pixels, with a gap after it."""
    width = width_px(note.name, size=NAME_SIZE * (1.1 if note.open_string else 1.0)) + NAME_GAP_PX
    if _ends_soon(note, seconds):
        end = note.end_s / seconds * lane_px
        return end - width, end
    start = note.start_s / seconds * lane_px
    return start, start + width


def _ends_soon(note: TakeNote, seconds: float) -> bool:
    """Return whether a name at a note's start would run out of the lane."""
    return (seconds - note.start_s) / seconds * WIDE_PX < width_px(note.name, size=1.1 * NAME_SIZE)


def _ticks(seconds: float) -> list[float]:
    """Return round times from 0 to the end, at most so many."""
    decade = 10.0 ** np.floor(np.log10(seconds / MOST_TICKS))
    step = next(decade * factor for factor in (1, 2, 5, 10) if seconds / (decade * factor) < MOST_TICKS)
    return [float(round(number * step, 9)) for number in range(int(seconds / step + 1e-9) + 1)]
