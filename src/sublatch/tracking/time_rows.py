"""Over time: the notes' pitch and the drive's, dropouts shaded, a row for each circuit."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, MaxNLocator, NullLocator

from sublatch.arrays import Array
from sublatch.pictures.paper import GRID, INK, LEFT, RIGHT, SMALL_POINTS, TEXT_POINTS, WIDTH, Paper, fitting
from sublatch.tracking.track import Tracking
from sublatch.units.scales import hz_to_note, note_to_hz

NOTE, DRIVE = "#a6a6a6", "#0072b2"
NOTE_POINTS = 4.5
"""Width of the band along a note's pitch, within which the drive runs where it locks."""
SHADES = {"skip": ("#e69f00", "////"), "stall": ("#999999", ""), "stray": ("#cc79a7", "....")}
"""Colour and hatching of each kind of dropout, told apart in print and by the colour-blind (Okabe and Ito)."""
LOWEST_HZ, HIGHEST_HZ = 25.0, 1000.0
TICKS = ("B0", "E1", "A1", "D2", "G2", "C3", "G3", "D4", "A4", "E5", "B5")
ROW, TITLE, AXIS = 1.35, 0.29, 0.42
"""Height of a row's axes, of the line above it, and of the time axis under the last."""


def rows_height(count: int) -> float:
    """Return the height in inches of a number of rows."""
    return count * (ROW + TITLE) + AXIS


def draw_rows(paper: Paper, results: Sequence[Tracking], *, top: float) -> None:
    """Draw what several circuits make of one take, one below the other on one time axis."""
    first: Axes | None = None
    for result in results:
        paper.text(LEFT, top + 0.1, _title(result))
        axes = paper.axes(LEFT, top + TITLE, WIDTH - LEFT - RIGHT, ROW, share_x=first)
        _draw(axes, result)
        axes.tick_params(labelbottom=result is results[-1])
        first, top = first or axes, top + ROW + TITLE
    axes.set_xlabel("time in seconds", size=TEXT_POINTS, color=INK, labelpad=2.0)


def legend_handles() -> list[Artist]:
    """Return what explains lines and shades."""
    handles: list[Artist] = [
        Line2D([], [], color=NOTE, linewidth=NOTE_POINTS, solid_capstyle="butt", label="note"),
        Line2D([], [], color=DRIVE, marker=".", markersize=5, linestyle="", label="drive, an octave up"),
    ]
    for kind, (colour, hatch) in SHADES.items():
        handles.append(
            Patch(facecolor=colour, alpha=0.5, hatch=hatch, edgecolor=INK, linewidth=0, label=f"dropout: {kind}")
        )
    return handles


def _title(result: Tracking) -> str:
    """Return what stands above a row."""
    shares = "no notes"
    if result.locked_share is not None:
        shares = f"{min(100 * result.locked_share, 99.9 if result.locked_share < 1.0 else 100.0):.1f} % locked"
    if result.step_share is not None:
        shares += f", steps of {100 * result.step_share:.0f} % of the peak"
    return f"{fitting(result.circuit, WIDTH - LEFT - RIGHT - 3.5)}: {shares}"


def _draw(axes: Axes, result: Tracking) -> None:
    """Draw one circuit."""
    for item in result.notes:
        for dropout in item.lock.dropouts:
            colour, hatch = SHADES[dropout.kind]
            axes.axvspan(
                dropout.start_s, dropout.end_s, facecolor=colour, alpha=0.5, hatch=hatch, edgecolor=INK, linewidth=0
            )
    for item in result.notes:
        inside = (result.track.time_s >= item.note.start_s) & (result.track.time_s <= item.note.end_s)
        axes.plot(
            result.track.time_s[inside],
            result.track.pitch_hz[inside],
            color=NOTE,
            linewidth=NOTE_POINTS,
            solid_capstyle="butt",
        )
    time_s, pitch_hz = _drive_pitch(result.drive_s)
    axes.plot(time_s, pitch_hz, ".", color=DRIVE, markersize=3.2, markeredgewidth=0.0)
    _scale(axes, result)


def _drive_pitch(drive_s: Array) -> tuple[Array, Array]:
    """Return the drive's pitch an octave up, as the note's would be if it locked, and when."""
    gaps = np.diff(drive_s)
    pitch = np.divide(1.0, gaps, out=np.full_like(gaps, np.nan), where=gaps > 0)
    return drive_s[1:], pitch


def _scale(axes: Axes, result: Tracking) -> None:
    """Give the axes a scale of pitch that holds the notes and an octave above, its lines at notes."""
    pitches = [item.note.pitch_hz for item in result.notes] or [55.0]
    low, high = max(min(pitches) / 1.6, LOWEST_HZ), min(max(pitches) * 2.5, 2.5 * HIGHEST_HZ)
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
