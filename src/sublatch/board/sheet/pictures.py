"""A small picture for the sheet: what a knob sets over its travel."""

from __future__ import annotations

import matplotlib.style
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from sublatch.parts.knobs.travel import KnobCurve
from sublatch.pictures.svg import PRINT_STYLE, svg_element

INK = "#000000"
TICKS_HZ = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)


def knob_svg(curve: KnobCurve, *, told: str) -> str:
    """Draw what a knob sets over its travel."""
    with matplotlib.style.context(["default", PRINT_STYLE]):
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
    """Return a figure as an SVG element, with a grid."""
    plot.grid(color="#cccccc", linewidth=0.5)
    plot.set_axisbelow(True)
    return svg_element(figure, alt_text=told)
