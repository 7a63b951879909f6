"""Pictures of output filters: gain over frequency, each with the band that the tolerances of its parts make.

One plotter in several looks: PNG for the screen, SVG for print, where lines differ by their dashes and not by colour,
and the listening page's own (`draw_responses`).
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Protocol

import matplotlib.style
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from sublatch.arrays import Array
from sublatch.circuit.networks.corners import Response
from sublatch.pictures.svg import PRINT_STYLE, svg_element

DPI = 140
Dashes = str | tuple[float, tuple[float, ...]]


@dataclass(frozen=True)
class Line:
    """How one filter is drawn: its curve, its band, and the band's edges where these are lines too."""

    colour: str
    dashes: Dashes
    shade: str
    edge: str | None = None


TICKS_HZ = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)
LONGEST_LABEL = 90
"""Characters of a name that are shown."""
DEEPEST_DB, SHALLOWEST_DB = 60.0, 20.0
"""How far a diagram reaches down from its highest level, at most and at least."""


@dataclass(frozen=True, kw_only=True)
class Look:
    """How filters are drawn in a diagram: widths of lines and dots in points, and one after the other its lines.

    Attributes
    ----------
    dot
        At each corner; none where it is 0.
    grid
        Colour, width and opacity of its lines.
    ticks_hz
        Frequencies that are marked, from the first of which the diagram reaches to the last.
    step_db, lowest_db
        The upper end is the next multiple of this step. The lower one is fixed, or if None follows the lowest curve.
    """

    line_width: float
    dot: float = 0.0
    shade_alpha: float = 0.0
    grid: tuple[str, float, float]
    lines: tuple[Line, ...]
    ticks_hz: tuple[int, ...] = TICKS_HZ
    step_db: float = 6.0
    lowest_db: float | None = -48.0


@dataclass(frozen=True, kw_only=True)
class FigureLook(Look):
    """How a whole picture looks, in inches.

    Attributes
    ----------
    legend
        Height that the legend takes for each line below the picture; 0 where it is in the picture.
    """

    width: float
    height: float
    legend: float


SCREEN = FigureLook(
    width=9.0,
    height=4.8,
    legend=0.28,
    line_width=1.8,
    dot=6.0,
    shade_alpha=0.16,
    grid=("#b0b0b0", 0.8, 0.25),
    lines=(
        Line("#0072b2", "-", "#0072b2"),
        Line("#d55e00", (0, (6, 2)), "#d55e00"),
        Line("#009e73", (0, (2, 1.5)), "#009e73"),
        Line("#1a1a1a", (0, (8, 2, 1.5, 2)), "#1a1a1a"),
        Line("#cc79a7", (0, (4, 1.5, 1, 1.5, 1, 1.5)), "#cc79a7"),
    ),
)
"""Colours of Okabe and Ito's set, which the colour-blind can tell apart (from memory); the dashes differ too."""
PRINT = FigureLook(
    width=6.9,
    height=2.9,
    legend=0.0,
    line_width=1.5,
    dot=4.0,
    shade_alpha=0.6,
    grid=("#cccccc", 0.5, 1.0),
    lines=(
        Line("#000000", "-", "#9ec9e8", "#1f5f8b"),
        Line("#000000", (0, (6.0, 2.0)), "#f5c08a", "#9a4a00"),
    ),
)
"""Ink on white; light blue and light orange, told apart by the colour-blind too, and by their greys in print."""


class Band(Protocol):
    """What nine boards of ten stay within."""

    @property
    def frequency_hz(self) -> Array:
        """Frequencies in hertz (n,)."""

    @property
    def low_db(self) -> Array:
        """Gain in dB (n,) that one board of twenty stays under."""

    @property
    def high_db(self) -> Array:
        """Gain in dB (n,) that one board of twenty is above."""


@dataclass(frozen=True, eq=False)
class Curve:
    """One output filter under its name, with the spread of boards around it where that was worked out."""

    name: str
    response: Response
    spread: Band | None = None


def responses_png(curves: Sequence[Curve], *, software: str = "") -> bytes:
    """Return a PNG picture of output filters in one diagram.

    Parameters
    ----------
    curves
        The filters, at least one.
    software
        What the file shall say that it was made by.
    """
    with matplotlib.style.context("default"), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")  # a title may be in any script
        figure, data = responses_figure(curves), BytesIO()
        FigureCanvasAgg(figure)
        figure.savefig(data, format="png", dpi=DPI, metadata={"Software": software})
        return data.getvalue()


def responses_svg(curves: Sequence[Curve], *, alt_text: str, look: FigureLook = PRINT) -> str:
    """Return an SVG picture of output filters in one diagram, for print.

    Parameters
    ----------
    curves
        The filters, at least one.
    alt_text
        What the picture shows, for those who cannot see it.
    look
        How it looks.
    """
    with matplotlib.style.context(["default", PRINT_STYLE]):
        return svg_element(responses_figure(curves, look=look), alt_text=alt_text)


def responses_figure(curves: Sequence[Curve], *, look: FigureLook = SCREEN) -> Figure:
    """Return the figure that `responses_png` and `responses_svg` write."""
    figure = Figure(figsize=(look.width, look.height + look.legend * len(curves)), layout="constrained")
    axes = figure.subplots()
    lines = draw_responses(axes, curves, look)
    axes.set_xlabel("frequency in Hz; a dot at each corner, 3.01 dB down")
    axes.set_ylabel("gain in dB")
    stand_ins = [str(number) for number in range(len(curves))]  # matplotlib leaves out names that begin with "_"
    if look.legend:
        legend = figure.legend(lines, stand_ins, loc="outside lower left", frameon=False, fontsize=10, handlelength=4)
    else:
        legend = axes.legend(lines, stand_ins, loc="lower left", framealpha=1.0, handlelength=3.5)
    for text, curve in zip(legend.get_texts(), curves, strict=True):
        text.set_text(curve.name if len(curve.name) <= LONGEST_LABEL else curve.name[: LONGEST_LABEL - 1] + "…")
        text.set_parse_math(False)
    return figure


def draw_responses(axes: Axes, curves: Sequence[Curve], look: Look) -> list[Line2D]:
    """Draw output filters into a diagram, with its scales and grid; labels and legend are the caller's.

    Parameters
    ----------
    axes
        The diagram, empty.
    curves
        The filters.
    look
        How they are drawn; the lines are used in turn.

    Returns
    -------
    list of Line2D
        The curve of each filter.
    """
    drawn = [_draw(axes, curve, look, look.lines[number % len(look.lines)]) for number, curve in enumerate(curves)]
    axes.set_xscale("log")
    axes.set_xlim(look.ticks_hz[0], look.ticks_hz[-1])
    axes.xaxis.set_major_locator(FixedLocator(look.ticks_hz))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda hertz, _: hertz_label(hertz)))
    axes.xaxis.set_minor_locator(NullLocator())
    gains_db = [curve.response.gain_db for curve in curves]
    gains_db += [curve.spread.high_db for curve in curves if curve.spread is not None]
    low_db, high_db = shown_range(gains_db, step_db=look.step_db)
    axes.set_ylim(low_db if look.lowest_db is None else look.lowest_db, high_db)
    colour, width, opacity = look.grid
    axes.grid(color=colour, linewidth=width, alpha=opacity)
    axes.set_axisbelow(True)
    return drawn


def hertz_label(hertz: float) -> str:
    """Return a frequency as an axis has it."""
    return f"{hertz:g}" if hertz < 1000 else f"{hertz / 1000:g}k"


def shown_range(levels_db: Sequence[Array], *, step_db: float) -> tuple[float, float]:
    """Return the lowest and the highest level that a diagram shows, in dB.

    Parameters
    ----------
    levels_db
        The curves' levels (n,); what is not finite does not count.
    step_db
        Both ends are multiples of it, a decibel beyond the curves. They are 20 to 60 dB apart.
    """
    levels = np.concatenate([*levels_db, np.zeros(0)])
    levels = levels[np.isfinite(levels)]
    lowest, highest = (levels.min(), levels.max()) if len(levels) else (-DEEPEST_DB, -1.0)
    high_db = float(step_db * np.ceil((highest + 1.0) / step_db))
    low_db = float(step_db * np.floor((lowest - 1.0) / step_db))
    return max(min(low_db, high_db - SHALLOWEST_DB), high_db - DEEPEST_DB), high_db


def _draw(axes: Axes, curve: Curve, look: Look, style: Line) -> Line2D:
    """Return the curve of one filter, drawn, and behind it the band that holds nine boards of ten at each frequency."""
    band, response = curve.spread, curve.response
    if band is not None:
        axes.fill_between(
            band.frequency_hz, band.low_db, band.high_db, color=style.shade, alpha=look.shade_alpha, linewidth=0
        )
        for edge_db in (band.low_db, band.high_db) if style.edge else ():
            axes.plot(band.frequency_hz, edge_db, color=style.edge, linewidth=0.5, linestyle=style.dashes)
    (line,) = axes.plot(
        response.frequency_hz, response.gain_db, color=style.colour, linestyle=style.dashes, linewidth=look.line_width
    )
    corner_hz = response.corner_hz
    if look.dot and corner_hz is not None and look.ticks_hz[0] <= corner_hz <= look.ticks_hz[-1]:
        corner_db = np.interp(np.log(corner_hz), np.log(response.frequency_hz), response.gain_db)
        axes.plot([corner_hz], [corner_db], "o", color=style.colour, markersize=look.dot)
    return line
