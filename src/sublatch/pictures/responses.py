"""Pictures of output filters: gain over frequency, each with the band that the tolerances of its parts make.

One plotter in two looks: PNG for the screen, and SVG for print, where lines differ by their dashes and not by colour.
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
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from sublatch.arrays import Array
from sublatch.circuit.networks.corners import Response
from sublatch.pictures.svg import PRINT_STYLE, svg_element

DPI = 140
Dashes = str | tuple[int, tuple[float, ...]]


@dataclass(frozen=True)
class Line:
    """How one filter is drawn: its curve, its band, and the band's edges where these are lines too."""

    colour: str
    dashes: Dashes
    shade: str
    edge: str | None = None


@dataclass(frozen=True)
class Look:
    """How a picture looks: measures in inches, widths of lines in points, and one after the other its lines.

    Attributes
    ----------
    legend
        Height that the legend takes for each line below the picture; 0 where it is in the picture.
    grid
        Colour, width and opacity of its lines.
    """

    width: float
    height: float
    legend: float
    line_width: float
    dot: float
    shade_alpha: float
    grid: tuple[str, float, float]
    lines: tuple[Line, ...]


SCREEN = Look(
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
PRINT = Look(
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
TICKS_HZ = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)
LOWEST_DB = -48.0
LONGEST_LABEL = 90
"""Characters of a name that are shown."""


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


def responses_svg(curves: Sequence[Curve], *, told: str) -> str:
    """Return an SVG picture of output filters in one diagram, for print.

    Parameters
    ----------
    curves
        The filters, at least one.
    told
        What the picture shows, for those who cannot see it.
    """
    with matplotlib.style.context(["default", PRINT_STYLE]):
        return svg_element(responses_figure(curves, look=PRINT), told=told)


def responses_figure(curves: Sequence[Curve], *, look: Look = SCREEN) -> Figure:
    """Return the figure that `responses_png` and `responses_svg` write."""
    figure = Figure(figsize=(look.width, look.height + look.legend * len(curves)), layout="constrained")
    axes = figure.subplots()
    for number, curve in enumerate(curves):
        _draw(axes, curve, look, look.lines[number % len(look.lines)])
    _scale(axes, curves)
    colour, width, opacity = look.grid
    axes.grid(color=colour, linewidth=width, alpha=opacity)
    axes.set_axisbelow(True)
    if look.legend:
        figure.legend(loc="outside lower left", frameon=False, fontsize=10, handlelength=4)
    else:
        axes.legend(loc="lower left", framealpha=1.0, handlelength=3.5)
    return figure


def _draw(axes: Axes, curve: Curve, look: Look, style: Line) -> None:
    """Draw one filter, and behind it the band that holds nine boards of ten at each frequency."""
    around, found = curve.spread, curve.response
    if around is not None:
        hertz, low_db, high_db = around.frequency_hz, around.low_db, around.high_db
        axes.fill_between(hertz, low_db, high_db, color=style.shade, alpha=look.shade_alpha, linewidth=0)
        for edge_db in (low_db, high_db) if style.edge else ():
            axes.plot(hertz, edge_db, color=style.edge, linewidth=0.5, linestyle=style.dashes)
    label = curve.name if len(curve.name) <= LONGEST_LABEL else curve.name[: LONGEST_LABEL - 1] + "…"
    (line,) = axes.plot(
        found.frequency_hz, found.gain_db, color=style.colour, linestyle=style.dashes, linewidth=look.line_width
    )
    line.set_label(label.replace("$", r"\$"))
    if found.corner_hz is not None and TICKS_HZ[0] <= found.corner_hz <= TICKS_HZ[-1]:
        at_corner = np.interp(np.log(found.corner_hz), np.log(found.frequency_hz), found.gain_db)
        axes.plot([found.corner_hz], [at_corner], "o", color=style.colour, markersize=look.dot)


def _scale(axes: Axes, curves: Sequence[Curve]) -> None:
    """Scale and name the axes; the highest curve or band decides where they end."""
    tops = [float(np.max(one.response.gain_db)) for one in curves]
    tops += [float(np.max(one.spread.high_db)) for one in curves if one.spread is not None]
    axes.set_xscale("log")
    axes.set_xlim(TICKS_HZ[0], TICKS_HZ[-1])
    axes.set_ylim(LOWEST_DB, 6.0 * np.ceil((max(tops) + 1.0) / 6.0))
    axes.xaxis.set_major_locator(FixedLocator(TICKS_HZ))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda hz, _: f"{hz:g}" if hz < 1000 else f"{hz / 1000:g}k"))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_xlabel("frequency in Hz; a dot at each corner, 3.01 dB down")
    axes.set_ylabel("gain in dB")
