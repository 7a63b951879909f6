"""A picture of output filters: gain over frequency, each with the band that the tolerances of its parts make."""

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
from numpy.typing import NDArray

from sublatch.circuit.networks.corners import Response

WIDTH_INCHES, HEIGHT_INCHES, LEGEND_INCHES, DPI = 9.0, 4.8, 0.28, 140
STYLES: tuple[tuple[str, str | tuple[int, tuple[float, ...]]], ...] = (
    ("#0072b2", "-"),
    ("#d55e00", (0, (6, 2))),
    ("#009e73", (0, (2, 1.5))),
    ("#1a1a1a", (0, (8, 2, 1.5, 2))),
    ("#cc79a7", (0, (4, 1.5, 1, 1.5, 1, 1.5))),
)
"""Of Okabe and Ito's set, which the colour-blind can tell apart (from memory); the dashes differ too."""
TICKS_HZ = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)
LOWEST_DB = -48.0
LONGEST_LABEL = 90
"""Characters of a name that are shown."""


class Band(Protocol):
    """What nine boards of ten stay within."""

    @property
    def frequency_hz(self) -> NDArray[np.float64]:
        """Frequencies in hertz (n,)."""

    @property
    def low_db(self) -> NDArray[np.float64]:
        """Gain in dB (n,) that one board of twenty stays under."""

    @property
    def high_db(self) -> NDArray[np.float64]:
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


def responses_figure(curves: Sequence[Curve]) -> Figure:
    """Return the figure that `responses_png` writes."""
    height = HEIGHT_INCHES + LEGEND_INCHES * len(curves)
    figure = Figure(figsize=(WIDTH_INCHES, height), layout="constrained")
    axes = figure.subplots()
    for number, curve in enumerate(curves):
        _draw(axes, curve, *STYLES[number % len(STYLES)])
    _scale(axes, curves)
    figure.legend(loc="outside lower left", frameon=False, fontsize=10, handlelength=4)
    return figure


def _draw(axes: Axes, curve: Curve, colour: str, dashes: str | tuple[int, tuple[float, ...]]) -> None:
    """Draw one filter, and behind it the band that holds nine boards of ten at each frequency."""
    around = curve.spread
    if around is not None:
        axes.fill_between(around.frequency_hz, around.low_db, around.high_db, color=colour, alpha=0.16, linewidth=0)
    found = curve.response
    label = curve.name if len(curve.name) <= LONGEST_LABEL else curve.name[: LONGEST_LABEL - 1] + "…"
    (line,) = axes.plot(found.frequency_hz, found.gain_db, color=colour, linestyle=dashes, linewidth=1.8)
    line.set_label(label.replace("$", r"\$"))
    if found.corner_hz is not None and TICKS_HZ[0] <= found.corner_hz <= TICKS_HZ[-1]:
        at_corner = np.interp(np.log(found.corner_hz), np.log(found.frequency_hz), found.gain_db)
        axes.plot([found.corner_hz], [at_corner], "o", color=colour, markersize=6)


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
    axes.grid(alpha=0.25)
