"""The picture of a tracking job: each take's rows over time, and under them its maps over playing level."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from io import BytesIO
from itertools import groupby

import matplotlib.style
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from sublatch.pictures.paper import LEFT, RIGHT, TITLE_POINTS, WIDTH, Paper, fitting
from sublatch.tracking.boards import BoardsLock
from sublatch.tracking.pictures.level_map import draw_maps, maps_height
from sublatch.tracking.pictures.time_rows import draw_rows, legend_handles, rows_height
from sublatch.tracking.playing_levels import LevelLock
from sublatch.tracking.track import Tracking

DPI = 200
HEADING, BETWEEN, LEGEND = 0.3, 0.22, 0.4
MOST_INCHES = 300.0
"""Tallest picture; a renderer takes no more than 2^16 points."""


def tracking_png(
    results: Sequence[Tracking],
    *,
    levels: Sequence[LevelLock] = (),
    boards: Sequence[BoardsLock] = (),
    software: str = "",
) -> bytes:
    """Return a PNG picture of circuits on takes.

    Parameters
    ----------
    results
        From `track`, take after take.
    levels
        From `lock_over_level` for the same takes, where lock over playing level shall be drawn too.
    boards
        From `lock_over_boards`, likewise.
    software
        What the file shall say that it was made by.
    """
    with matplotlib.style.context("default"), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")  # a name in another script
        figure = tracking_figure(results, levels=levels, boards=boards)
        data = BytesIO()
        dpi = min(DPI, int(DPI * MOST_INCHES / figure.get_figheight()))
        figure.savefig(data, format="png", dpi=dpi, metadata={"Software": software})
    return data.getvalue()


def tracking_figure(
    results: Sequence[Tracking], *, levels: Sequence[LevelLock] = (), boards: Sequence[BoardsLock] = ()
) -> Figure:
    """Return the same picture as a figure of matplotlib's, with a canvas to draw it on."""
    paper = _drawn(_by_take(results, levels), boards)
    FigureCanvasAgg(paper.figure)
    return paper.figure


Part = tuple[str, list[Tracking], list[LevelLock]]


def _by_take(results: Sequence[Tracking], levels: Sequence[LevelLock]) -> list[Part]:
    """Return each take's name, what circuits make of it, and what they make of its levels where it has notes."""
    parts = [(take, list(own)) for take, own in groupby(results, key=lambda result: result.take)]
    told = {take: list(own) for take, own in groupby(levels, key=lambda one: one.take)}
    return [(take, own, [one for one in told.get(take, []) if one.notes]) for take, own in parts]


def _drawn(parts: Sequence[Part], boards: Sequence[BoardsLock]) -> Paper:
    """Return the picture on its paper."""
    heights = [
        HEADING + rows_height(len(own)) + (BETWEEN + maps_height(maps) if maps else 0.0) for _, own, maps in parts
    ]
    paper = Paper(sum(heights) + LEGEND + (len(parts) - 1) * BETWEEN + 0.1)
    top = 0.1
    for (take, own, maps), height in zip(parts, heights, strict=True):
        paper.text(LEFT, top, fitting(take, WIDTH - LEFT - RIGHT, points=TITLE_POINTS), points=TITLE_POINTS, bold=True)
        draw_rows(paper, own, boards=boards, top=top + HEADING)
        if maps:
            draw_maps(paper, maps, top=top + HEADING + rows_height(len(own)) + BETWEEN)
        top += height + BETWEEN
    handles = legend_handles()
    paper.figure.legend(
        handles=handles,
        loc="lower left",
        bbox_to_anchor=(LEFT / WIDTH, 0.06 / paper.height),
        borderaxespad=0.0,
        ncols=len(handles),
        frameon=False,
        fontsize=8.5,
    )
    return paper
