"""The knob chart: what each knob sets over its travel, in a table and a small picture."""

from __future__ import annotations

from math import isfinite

import matplotlib.style
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from sublatch.board.sheet.amounts import decibels
from sublatch.parts.knobs.travel import KnobCurve, taper_name
from sublatch.pictures.svg import PRINT_STYLE, svg_element
from sublatch.units import format_hertz

INK = "#000000"
OFF_DB = -60.0
TICKS_HZ = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)


def knob_value(curve: KnobCurve, step: int) -> str:
    """Return what a knob sets at a whole position."""
    value = float(curve.value[2 * step])
    if curve.unit == "Hz":
        return format_hertz(float(f"{value:.3g}")) if isfinite(value) else "–"
    return f"{decibels(value)} dB" if isfinite(value) and value > OFF_DB else "off"


def knob_note(curve: KnobCurve) -> str:
    """Return what a knob's column is of, in words."""
    what = "corner of the output filter" if curve.unit == "Hz" else "gain against fully clockwise"
    return f"{what}, {taper_name(curve.taper, curve.midpoint)} track"


def knob_svg(curve: KnobCurve, *, before: KnobCurve | None = None, height: float = 1.75) -> str:
    """Draw what a knob sets over its travel, in a picture of so many inches; dashed, what it set before a change."""
    with matplotlib.style.context(["default", PRINT_STYLE]):
        figure = Figure(figsize=(2.25, height), layout="constrained")
        plot = figure.add_subplot()
        if before is not None:
            plot.plot(before.position, before.value, color=INK, linewidth=1.0, linestyle=(0, (5.0, 2.0)))
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
        plot.grid(color="#cccccc", linewidth=0.5)
        plot.set_axisbelow(True)
        return svg_element(figure, alt_text=f"{curve.name} knob: {knob_note(curve)}")
