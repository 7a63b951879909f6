"""Lock over note and playing level: a map for each circuit, side by side, with the window that keeps 95 % of the best.

The colours rise in lightness all the way, so that the map reads the same in grey and to the colour-blind.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import QuadMesh

from sublatch.arrays import Signal
from sublatch.pictures.paper import INK, LEFT, RIGHT, SMALL_POINTS, WIDTH, Paper, fitting
from sublatch.tracking.playing_levels import LevelLock, LevelRow, LevelWindow

COLOURS = "cividis"
"""Made for this by Nuñez, Anderton and Renslow, PLoS ONE 13(7), 2018 (from memory); matplotlib brings it."""
MOST_ABREAST = 5
GAP, BAR_WIDTH = 0.16, 0.13
TITLE, WINDOW_BAR, AXIS = 0.44, 0.16, 0.52
"""Heights of the lines above a map, of the bar that marks the window, and of the axis and its label under it."""
TALL_ROW, LOW_ROW, MANY_ROWS = 0.22, 0.165, 16
ALL_NOTES = "all notes"
ALL_GAP = 0.35
"""Space above the row of all notes, in rows."""
LEAST_CELL = 0.28
"""Width of a cell in inches from which its value is written into it."""
LABELS_DB = 6.0


def maps_height(levels: Sequence[LevelLock]) -> float:
    """Return the height in inches of the maps of one take."""
    lines = -(-len(levels) // MOST_ABREAST)
    return lines * (TITLE + WINDOW_BAR + _cells_height(levels) + AXIS)


def draw_maps(paper: Paper, levels: Sequence[LevelLock], *, top: float) -> None:
    """Draw what several circuits make of one take at different levels, side by side with the same notes in a row."""
    for first in range(0, len(levels), MOST_ABREAST):
        _draw_line(paper, levels[first : first + MOST_ABREAST], top=top, abreast=min(len(levels), MOST_ABREAST))
        top += TITLE + WINDOW_BAR + _cells_height(levels) + AXIS


def _cells_height(levels: Sequence[LevelLock]) -> float:
    """Return the height of the cells in inches."""
    rows = len(levels[0].by_name())
    return (rows + 1 + ALL_GAP) * (TALL_ROW if rows <= MANY_ROWS else LOW_ROW)


def _draw_line(paper: Paper, levels: Sequence[LevelLock], *, top: float, abreast: int) -> None:
    """Draw maps that stand side by side, and what explains them."""
    width = (WIDTH - LEFT - RIGHT - (abreast - 1) * GAP) / abreast
    height = _cells_height(levels)
    cells_top = top + TITLE + WINDOW_BAR
    for place, one in enumerate(levels):
        left = LEFT + place * (width + GAP)
        paper.text(left, top + 0.05, fitting(one.circuit, width), bold=True)
        paper.text(left, top + 0.23, _window_text(one.window), points=SMALL_POINTS)
        axes = paper.axes(left, cells_top, width, height)
        mesh = _draw(axes, one, value_points=_value_points(width, one))
        axes.tick_params(labelleft=place == 0, left=False)
    bar = paper.figure.colorbar(mesh, cax=paper.axes(WIDTH - RIGHT + 0.14, cells_top, BAR_WIDTH, height))
    bar.set_ticks([0.0, 0.25, 0.5, 0.75, 1.0], labels=["0", "25", "50", "75", "100 %"])
    bar.outline.set(linewidth=0.6, color=INK)
    paper.text(WIDTH - RIGHT + 0.14, cells_top - 0.19, "locked", points=SMALL_POINTS)
    label = f"playing level in dB; 0 dB is the take as it is, {levels[0].peak_volts:.3g} V peak    ○ open string"
    paper.text(LEFT, cells_top + height + 0.27, label)


def _value_points(width: float, levels: LevelLock) -> float | None:
    """Return the size of values in the cells; None where the cells are too narrow."""
    return SMALL_POINTS - 1.0 if width / len(levels.gains_db) >= LEAST_CELL else None


def _draw(axes: Axes, levels: LevelLock, *, value_points: float | None) -> QuadMesh:
    """Draw one circuit's map."""
    overall = levels.locked_share
    rows = levels.by_name()
    edges_db = _edges(levels.gains_db)
    everything = np.zeros(len(levels.gains_db)) if overall is None else overall
    bounds = np.arange(len(rows) + 1.0)
    axes.pcolormesh(edges_db, [-1.0 - ALL_GAP, -ALL_GAP], everything[np.newaxis], cmap=COLOURS, vmin=0.0, vmax=1.0)
    shares = np.array([row.shares for row in rows]).reshape(len(rows), len(levels.gains_db))
    mesh: QuadMesh = axes.pcolormesh(edges_db, bounds, shares, cmap=COLOURS, vmin=0.0, vmax=1.0)
    places = [-0.5 - ALL_GAP, *(bounds[:-1] + 0.5)]
    if value_points is not None:
        for place, line in zip(places, [everything, *shares], strict=True):
            _write_values(axes, levels.gains_db, line, place, value_points)
    axes.set_yticks(places, labels=[ALL_NOTES, *map(_label, rows)])
    axes.set_ylim(-1.0 - ALL_GAP, len(rows))
    axes.set_xlim(edges_db[0], edges_db[-1])
    axes.set_xticks(*_ticks(levels.gains_db))
    for edge in axes.spines.values():
        edge.set_visible(False)
    _mark_window(axes, levels.window, len(rows), through=value_points is None)
    return mesh


def _write_values(axes: Axes, gains_db: Signal, shares: Signal, place: float, points: float) -> None:
    """Write shares into the cells of a row, in per cent, dark on light and light on dark."""
    for gain_db, share in zip(gains_db, shares, strict=True):
        shown = 100 if share == 1.0 else min(round(100 * share), 99)
        colour = INK if share > 0.55 else "white"
        axes.text(gain_db, place, f"{shown}", size=points, color=colour, ha="center", va="center_baseline")


def _label(row: LevelRow) -> str:
    """Return the name of a row's note, open strings marked."""
    return f"○ {row.name}" if row.open_string else row.name


def _edges(gains_db: Signal) -> Signal:
    """Return where the columns meet."""
    if len(gains_db) == 1:
        return np.array([gains_db[0] - 1.5, gains_db[0] + 1.5])
    half = np.diff(gains_db) / 2
    return np.concatenate(([gains_db[0] - half[0]], gains_db[:-1] + half, [gains_db[-1] + half[-1]]))


def _ticks(gains_db: Signal) -> tuple[list[float], list[str]]:
    """Return the levels that are named under the map: round ones where there are any."""
    round_ones = [float(gain) for gain in gains_db if gain % LABELS_DB == 0.0] or [float(gains_db[0])]
    return round_ones, [_in_db(gain) for gain in round_ones]


def _in_db(gain_db: float) -> str:
    """Return a gain in round decibels with its sign, zero without."""
    return f"{round(gain_db):+d}".replace("-", "−") if round(gain_db) else "0"


def _mark_window(axes: Axes, window: LevelWindow | None, rows: int, *, through: bool) -> None:
    """Mark the window with a bar above the map, open ends as arrows, and where asked for with lines through the map."""
    if window is None:
        return
    low, high = axes.get_xlim()
    start, stop = (low if window.or_lower else window.low_db), (high if window.or_higher else window.high_db)
    y = 1.0 + 0.45 * WINDOW_BAR / (axes.bbox.height / axes.figure.dpi)
    bar = axes.get_xaxis_transform()
    axes.plot([start, stop], [y, y], color=INK, linewidth=1.6, transform=bar, clip_on=False, solid_capstyle="butt")
    for place, goes_on, arrow in ((start, window.or_lower, "<"), (stop, window.or_higher, ">")):
        marker, size = (arrow, 6.0) if goes_on else ("|", 8.0)
        axes.plot([place], [y], marker=marker, markersize=size, color=INK, transform=bar, clip_on=False)
        if through and not goes_on:
            axes.plot([place, place], [-1.0 - ALL_GAP, rows], color="white", linewidth=1.8)
            axes.plot([place, place], [-1.0 - ALL_GAP, rows], color=INK, linewidth=1.0, linestyle=(0, (3, 2)))


def _window_text(window: LevelWindow | None) -> str:
    """Return the window in words, in round decibels."""
    if window is None:
        return "never locks"
    low, high = _in_db(window.low_db), _in_db(window.high_db)
    if window.or_lower:
        return "95 % kept at every level tried" if window.or_higher else f"95 % kept up to {high} dB"
    return f"95 % kept from {low} dB up" if window.or_higher else f"95 % kept from {low} to {high} dB"
