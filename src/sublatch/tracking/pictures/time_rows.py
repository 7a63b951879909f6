"""Over time, a row for each circuit: pitch of notes and octave, a strip of where lock is lost, and one of margins.

The strips are the listening page's: a skip stands above the line, full; a stall hangs below it, hollow; a stray goes
through it, dashed. Each kind stands beside its own height, so that neither colour nor legend is needed. Under it each
note's margin stands at its own height, full where it is small, and what boards lose of a note in numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from matplotlib.ticker import FuncFormatter, MaxNLocator, NullLocator

from sublatch.pictures.paper import GRID, INK, LEFT, RIGHT, SMALL_POINTS, TEXT_POINTS, WIDTH, Paper, fitting
from sublatch.tracking.boards import BoardsLock
from sublatch.tracking.lock import Kind
from sublatch.tracking.margins import SMALL_MV
from sublatch.tracking.track import Tracking
from sublatch.units.scales import hz_to_note, note_to_hz

NOTE, HALF, OCTAVE = "#a6a6a6", "#e0e0e0", INK
BAND_POINTS = 4.5
"""Width of the bands along a note's pitch and along half of it, within which its octave runs where it locks."""


@dataclass(frozen=True)
class Mark:
    """How a kind of dropout is marked: from where to where across the strip (its line is at 0), and how it looks."""

    low: float
    high: float
    colour: str
    alpha: float
    dashed: bool
    words: str


MARKS: dict[Kind, Mark] = {
    "skip": Mark(0.25, 1.0, "#d55e00", 1.0, False, "the octave jumps up"),
    "stray": Mark(-1.0, 1.0, "#bd6495", 0.3, True, "anything else"),
    "stall": Mark(-1.0, -0.25, "#0072b2", 0.0, False, "no octave"),
}
MARK_POINTS = 0.9
"""Width of a mark's outline, which is there however short a dropout is."""
NAMED_AT = {"skip": 0.85, "stray": 0.0, "stall": -0.85}
LOWEST_HZ, HIGHEST_HZ = 12.5, 700.0
TICKS = ("E0", "B0", "E1", "A1", "D2", "G2", "C3", "G3", "D4", "A4", "E5")
ROW, TITLE, STRIP, MARGINS, STRIP_GAP, BETWEEN, AXIS = 1.35, 0.29, 0.36, 0.42, 0.05, 0.06, 0.42
"""Height of a row's axes, of the line above it, of its two strips and the gap above each, of the space under it, and of
the time axis under the last."""
MARGIN_MV = (0.7, 1500.0)
"""From where to where margins are drawn, in millivolts; those outside stand at the edge."""
LETTER_INCHES = 0.055
"""What a letter of the smallest text takes; a text that would run into the one before it is left out."""
SMALL_COLOUR = "#b22222"


def rows_height(count: int) -> float:
    """Return the height in inches of a number of rows."""
    return count * (ROW + TITLE + STRIP + MARGINS + 2 * STRIP_GAP) + (count - 1) * BETWEEN + AXIS


def draw_rows(paper: Paper, results: Sequence[Tracking], *, boards: Sequence[BoardsLock] = (), top: float) -> None:
    """Draw what several circuits make of one take, one below the other on one time axis."""
    first: Axes | None = None
    width = WIDTH - LEFT - RIGHT
    for result in results:
        paper.text(LEFT, top + 0.1, _title(result))
        axes = paper.axes(LEFT, top + TITLE, width, ROW, share_x=first)
        first = first or axes
        strip = paper.axes(LEFT, top + TITLE + ROW + STRIP_GAP, width, STRIP, share_x=first)
        _draw_pitch(axes, result)
        _draw_strip(strip, result)
        margins = paper.axes(LEFT, top + TITLE + ROW + STRIP + 2 * STRIP_GAP, width, MARGINS, share_x=first)
        _draw_margins(margins, result, _boards_of(result, boards))
        for above in (axes, strip):
            above.tick_params(labelbottom=False)
        margins.tick_params(labelbottom=result is results[-1])
        top += TITLE + ROW + STRIP + MARGINS + 2 * STRIP_GAP + BETWEEN
    margins.set_xlabel("time in seconds", size=TEXT_POINTS, color=INK, labelpad=2.0)


def legend_handles() -> list[Artist]:
    """Return what explains lines and marks."""
    return [
        Line2D([], [], color=NOTE, linewidth=BAND_POINTS, solid_capstyle="butt", label="note"),
        Line2D([], [], color=HALF, linewidth=BAND_POINTS, solid_capstyle="butt", label="half its pitch"),
        Line2D([], [], color=OCTAVE, marker=".", markersize=5, linestyle="", label="octave of the note"),
        *(Patch(**_look(mark), linewidth=MARK_POINTS, label=f"{kind}: {mark.words}") for kind, mark in MARKS.items()),
    ]


def _title(result: Tracking) -> str:
    """Return what stands above a row."""
    shares = "no notes"
    if result.locked_share is not None:
        shares = f"{min(100 * result.locked_share, 99.9 if result.locked_share < 1.0 else 100.0):.1f} % locked"
    if result.step_share is not None:
        shares += f", steps of {100 * result.step_share:.0f} % of the peak"
    return f"{fitting(result.circuit, WIDTH - LEFT - RIGHT - 3.5)}: {shares}"


def _draw_pitch(axes: Axes, result: Tracking) -> None:
    """Draw the notes' pitch and the octave's as it comes out."""
    for item in result.notes:
        inside = (result.track.time_s >= item.note.start_s) & (result.track.time_s <= item.note.end_s)
        time_s, pitch_hz = result.track.time_s[inside], result.track.pitch_hz[inside]
        axes.plot(time_s, pitch_hz, color=NOTE, linewidth=BAND_POINTS, solid_capstyle="butt")
        axes.plot(time_s, pitch_hz / 2, color=HALF, linewidth=BAND_POINTS, solid_capstyle="butt")
    gaps = np.diff(result.drive_s)
    pitch = np.divide(0.5, gaps, out=np.full_like(gaps, np.nan), where=gaps > 0)
    axes.plot(result.drive_s[1:], pitch, ".", color=OCTAVE, markersize=3.2, markeredgewidth=0.0)
    _scale(axes, result)


def _draw_strip(axes: Axes, result: Tracking) -> None:
    """Draw a line for each note and a mark for each dropout in it."""
    for item in result.notes:
        axes.plot([item.note.start_s, item.note.end_s], [0, 0], color=NOTE, linewidth=1.8, solid_capstyle="butt")
        for dropout in item.lock.dropouts:
            mark = MARKS[dropout.kind]
            corner, width = (dropout.start_s, mark.low), dropout.end_s - dropout.start_s
            axes.add_patch(Rectangle(corner, width, mark.high - mark.low, linewidth=MARK_POINTS, **_look(mark)))
    axes.set_ylim(-1.3, 1.3)
    axes.set_yticks(list(NAMED_AT.values()), labels=list(NAMED_AT))
    axes.tick_params(labelsize=SMALL_POINTS - 0.5)
    axes.tick_params(axis="y", length=0)
    axes.grid(axis="x", color=GRID, linewidth=0.6)
    axes.set_axisbelow(True)


def _boards_of(result: Tracking, boards: Sequence[BoardsLock]) -> BoardsLock | None:
    """Return the boards of one circuit on one take; None where none were looked at."""
    own = (one for one in boards if (one.take, one.circuit) == (result.take, result.circuit))
    return next(own, None)


def _draw_margins(axes: Axes, result: Tracking, boards: BoardsLock | None) -> None:
    """Draw each note's margin at its height, and on how many boards it is lost."""
    taken_s, letter_s = -np.inf, LETTER_INCHES / (WIDTH - LEFT - RIGHT) * float(np.diff(axes.get_xlim())[0])
    for place, item in enumerate(result.notes):
        margin_mv, note = item.margin.margin_mv, item.note
        if margin_mv is not None:
            at, small = float(np.clip(margin_mv, *MARGIN_MV)), margin_mv < SMALL_MV
            look: dict[str, Any] = {"color": SMALL_COLOUR if small else INK, "linewidth": 2.6 if small else 1.2}
            axes.plot([note.start_s, note.end_s], [at, at], solid_capstyle="butt", **look)
        if boards is not None and boards.lost_on[place] and note.start_s > taken_s:
            lost = f"lost on {boards.lost_on[place]} of {boards.draws.count}"
            taken_s = note.start_s + letter_s * len(lost)
            axes.text(note.start_s, MARGIN_MV[0] * 1.25, lost, size=SMALL_POINTS - 2.0, color=SMALL_COLOUR)
    axes.axhline(SMALL_MV, color=SMALL_COLOUR, linewidth=0.6, linestyle=(0, (4.0, 2.0)))
    axes.set_yscale("log")
    axes.set_ylim(*MARGIN_MV)
    axes.set_yticks([10.0, 100.0, 1000.0], labels=["10 mV", "0.1 V", "1 V"])
    axes.yaxis.set_minor_locator(NullLocator())
    axes.tick_params(labelsize=SMALL_POINTS - 0.5)
    axes.tick_params(axis="y", length=0)
    axes.grid(color=GRID, linewidth=0.6)
    axes.set_axisbelow(True)


def _look(mark: Mark) -> dict[str, Any]:
    """Return how a mark is filled and outlined."""
    dashes = (0, (3.0, 1.5)) if mark.dashed else "-"
    return {"facecolor": (mark.colour, mark.alpha), "edgecolor": mark.colour, "linestyle": dashes}


def _scale(axes: Axes, result: Tracking) -> None:
    """Give the axes a scale of pitch that holds the notes and an octave below, its lines at notes."""
    pitches = [item.note.pitch_hz for item in result.notes] or [55.0]
    low, high = max(min(pitches) / 3.2, LOWEST_HZ), min(max(pitches) * 1.6, 1.6 * HIGHEST_HZ)
    axes.set_yscale("log")
    axes.set_xlim(0.0, max(float(result.track.time_s[-1]), 0.1) if len(result.track.time_s) else 1.0)
    axes.set_ylim(low, high)
    axes.xaxis.set_major_locator(MaxNLocator(nbins=14, steps=[1, 2, 5, 10]))
    axes.set_yticks([hz for name in TICKS if low <= (hz := note_to_hz(name)) <= high])
    axes.yaxis.set_major_formatter(FuncFormatter(lambda hz, _: hz_to_note(hz)))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.grid(color=GRID, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=SMALL_POINTS)
