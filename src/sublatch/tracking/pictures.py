"""Pictures of tracking: the note's pitch and the drive's, with the dropouts, circuits side by side."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, NullLocator
from numpy.typing import NDArray

from sublatch.tracking.track import Tracking
from sublatch.units import hz_to_note, note_to_hz

ROW_INCHES, WIDTH_INCHES, DPI = 2.2, 11.0, 120
INK, DRIVE = "#1a1a1a", "#0072b2"
SHADES = {"skip": ("#e69f00", "///"), "stall": ("#999999", ""), "stray": ("#cc79a7", "\\\\\\")}
"""Colour and hatching of each kind of dropout, told apart in print and by the colour-blind (Okabe and Ito)."""
LOWEST_HZ, HIGHEST_HZ = 25.0, 1000.0


def tracking_png(results: Sequence[Tracking], *, software: str = "") -> bytes:
    """Return a PNG picture with a row for each result.

    Parameters
    ----------
    results
        From `track`.
    software
        What the file shall say that it was made by.
    """
    figure = Figure(figsize=(WIDTH_INCHES, ROW_INCHES * len(results) + 0.7), layout="constrained")
    rows = figure.subplots(len(results), 1, squeeze=False)[:, 0]
    for axes, result in zip(rows, results, strict=True):
        _row(axes, result)
    rows[-1].set_xlabel("time in seconds")
    _legend(figure)
    data = BytesIO()
    FigureCanvasAgg(figure)
    figure.savefig(data, format="png", dpi=DPI, metadata={"Software": software})
    return data.getvalue()


def _row(axes: Axes, result: Tracking) -> None:
    """Draw one circuit on one take."""
    for item in result.notes:
        for dropout in item.lock.dropouts:
            colour, hatch = SHADES[dropout.kind]
            axes.axvspan(
                dropout.start_s, dropout.end_s, facecolor=colour, alpha=0.45, hatch=hatch, edgecolor=INK, linewidth=0
            )
    time_s, pitch_hz = _drive_pitch(result.drive_s)
    axes.plot(time_s, pitch_hz, ".", color=DRIVE, markersize=2.5)
    for item in result.notes:
        inside = (result.track.time_s >= item.note.start_s) & (result.track.time_s <= item.note.end_s)
        axes.plot(result.track.time_s[inside], result.track.pitch_hz[inside], color=INK, linewidth=1.4)
    _scale(axes, result)
    share = "no notes" if result.locked_share is None else f"{100 * result.locked_share:.1f} % locked"
    axes.set_title(f"{result.take}, {result.circuit}: {share}", loc="left", fontsize=10, parse_math=False)


def _drive_pitch(drive_s: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the drive's pitch an octave up, as the note's would be if it locked, and when."""
    gaps = np.diff(drive_s)
    pitch = np.divide(1.0, gaps, out=np.full_like(gaps, np.nan), where=gaps > 0)
    return drive_s[1:], pitch


def _scale(axes: Axes, result: Tracking) -> None:
    """Give the axes a scale of pitch that holds the notes and an octave above, its lines at notes."""
    pitches = [item.note.pitch_hz for item in result.notes] or [55.0]
    low, high = max(min(pitches) / 1.5, LOWEST_HZ), min(max(pitches) * 2.4, HIGHEST_HZ)
    axes.set_yscale("log")
    axes.set_xlim(0.0, max(float(result.track.time_s[-1]), 0.1) if len(result.track.time_s) else 1.0)
    axes.set_ylim(low, high)
    ticks = [note_to_hz(name) for name in ("E1", "A1", "D2", "G2", "C3", "E3", "A3", "D4", "G4", "C5")]
    axes.set_yticks([hz for hz in ticks if low <= hz <= high])
    axes.yaxis.set_major_formatter(FuncFormatter(lambda hz, _: hz_to_note(hz)))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.grid(alpha=0.25)
    axes.set_ylabel("pitch")


def _legend(figure: Figure) -> None:
    """Explain lines and shades once, under everything."""
    handles: list[Artist] = [
        Line2D([], [], color=INK, linewidth=1.4, label="note"),
        Line2D([], [], color=DRIVE, marker=".", linestyle="", label="drive, an octave up"),
    ]
    handles += [
        Patch(facecolor=colour, alpha=0.45, hatch=hatch, edgecolor=INK, linewidth=0, label=kind)
        for kind, (colour, hatch) in SHADES.items()
    ]
    figure.legend(handles=handles, loc="outside lower center", ncols=len(handles), frameon=False, fontsize=9)
