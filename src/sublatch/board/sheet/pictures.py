"""Two small pictures for the sheet: the output filter's response with its band, and what a knob sets over its travel.

SVG with its text as text, in ink on white: lines differ by their dashes and not by colour alone.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

import matplotlib.style
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator
from numpy.typing import NDArray

from sublatch.parts.knobs.travel import KnobCurve

Array = NDArray[np.float64]
Band = tuple[str, Array, Array, Array, Array]

STYLE = {"svg.fonttype": "none", "svg.hashsalt": "sublatch sheet", "font.family": "sans-serif", "font.size": 8.0}
INK = "#000000"
SHADES = ("#9ec9e8", "#f5c08a")
"""Light blue and light orange, told apart by the colour-blind too, and by their greys in print."""
EDGES = ("#1f5f8b", "#9a4a00")
DASHES: tuple[str | tuple[int, tuple[float, ...]], ...] = ("-", (0, (6.0, 2.0)))
TICKS_HZ = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)
DEEPEST_DB = -50.0


def response_svg(bands: Sequence[Band], *, told: str) -> str:
    """Draw the output filter's response.

    Parameters
    ----------
    bands
        For each position of the peak switch its label, frequencies in hertz (n,), and gain, lower and upper edge of the
        band in dB (n,).
    told
        What the picture shows, for those who cannot see it.
    """
    with matplotlib.style.context(["default", STYLE]):
        figure = Figure(figsize=(6.9, 2.9), layout="constrained")
        plot = figure.add_subplot()
        for (label, frequency, gain, low, high), shade, edge, dashes in zip(bands, SHADES, EDGES, DASHES, strict=False):
            plot.fill_between(frequency, low, high, color=shade, alpha=0.6, linewidth=0)
            plot.plot(frequency, low, color=edge, linewidth=0.5, linestyle=dashes)
            plot.plot(frequency, high, color=edge, linewidth=0.5, linestyle=dashes)
            plot.plot(frequency, gain, color=INK, linewidth=1.5, linestyle=dashes, label=label)
        plot.set_xscale("log")
        plot.xaxis.set_major_locator(FixedLocator(TICKS_HZ))
        plot.xaxis.set_major_formatter(FuncFormatter(lambda hertz, _: f"{hertz:g}"))
        plot.xaxis.set_minor_locator(NullLocator())
        plot.set_xlim(TICKS_HZ[0], TICKS_HZ[-1])
        highest = max(float(np.max(band[4])) for band in bands)
        plot.set_ylim(DEEPEST_DB, 5.0 * np.ceil((highest + 2.0) / 5.0))
        plot.set_xlabel("frequency in Hz")
        plot.set_ylabel("gain in dB")
        plot.legend(loc="lower left", framealpha=1.0, handlelength=3.5)
        return _finished(figure, plot, told)


def knob_svg(curve: KnobCurve, *, told: str) -> str:
    """Draw what a knob sets over its travel."""
    with matplotlib.style.context(["default", STYLE]):
        figure = Figure(figsize=(2.25, 1.75), layout="constrained")
        plot = figure.add_subplot()
        plot.plot(curve.position, curve.value, color=INK, linewidth=1.3)
        plot.plot(curve.position[::2], curve.value[::2], ".", color=INK, markersize=4)
        if curve.unit == "Hz":
            plot.set_yscale("log")
            plot.yaxis.set_major_locator(FixedLocator(TICKS_HZ))
            plot.yaxis.set_major_formatter(FuncFormatter(lambda hertz, _: f"{hertz:g}"))
            plot.yaxis.set_minor_locator(NullLocator())
        else:
            plot.set_ylim(-42.0, 3.0)
            plot.set_yticks(range(-36, 1, 12))
        plot.set_ylabel(curve.unit)
        plot.set_xticks(range(0, 11, 2))
        plot.set_xlabel(f"{curve.name} knob")
        return _finished(figure, plot, told)


def _finished(figure: Figure, plot: Axes, told: str) -> str:
    """Return a figure as an SVG element, told in words too."""
    plot.grid(color="#cccccc", linewidth=0.5)
    plot.set_axisbelow(True)
    file = io.StringIO()
    FigureCanvasSVG(figure)
    figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    svg = file.getvalue()
    svg = svg[svg.index("<svg") :].strip()
    return svg.replace("<svg ", f'<svg role="img" aria-label="{told}" ', 1)
