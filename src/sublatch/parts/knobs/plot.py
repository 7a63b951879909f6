"""A picture of a circuit's knobs: what each sets over its travel, and the bass that the coupling capacitors pass."""

from __future__ import annotations

import warnings
from io import BytesIO
from itertools import cycle

import matplotlib.style
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, MultipleLocator, NullLocator

from sublatch.parts.knobs.coupling import LOW_E_HZ, OCTAVE_UNDER_HZ
from sublatch.parts.knobs.report import Knobs
from sublatch.parts.knobs.travel import USEFUL_DB, KnobCurve, taper_name

WIDTH_INCHES, ROW_INCHES, DPI = 11.0, 3.9, 120
INK, PRESENT, EVEN, MARK = "#1a1a1a", "#0072b2", "#d55e00", "#1a1a1a"
"""Of Okabe and Ito's set, which the colour-blind can tell apart (from memory); the lines' dashes differ too."""
COUPLING_STYLES = [
    (colour, dashes)
    for dashes in ("-", (0, (6, 2)), (0, (1.5, 1.5)))
    for colour in ("#0072b2", "#d55e00", "#009e73", "#cc79a7")
]
TICKS_HZ = (0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)
LOWEST_DB = -42.0
LONGEST_TITLE = 70
"""Characters of a circuit's title that are shown."""


def knobs_png(report: Knobs, *, software: str = "") -> bytes:
    """Return a PNG picture of a circuit's knobs.

    Parameters
    ----------
    report
        From `knobs`.
    software
        What the file shall say that it was made by.
    """
    with matplotlib.style.context("default"), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")  # a title may be in any script
        return _drawn(report, software)


def _drawn(report: Knobs, software: str) -> bytes:
    """Return the picture, a panel for each knob and one for the coupling capacitors."""
    panels = len(report.curves) + 1
    rows = (panels + 1) // 2
    figure = Figure(figsize=(WIDTH_INCHES, ROW_INCHES * rows + 0.4), layout="constrained")
    axes = figure.subplots(rows, 2, squeeze=False).ravel()
    for one, curve, even in zip(axes, report.curves, report.even, strict=False):
        _knob_panel(one, report, curve, even)
    _coupling_panel(axes[panels - 1], report)
    for one in axes[panels:]:
        one.set_axis_off()
    title = f"{_cut(report.title)}; unity with {_cut(report.unities[0].heard)}"
    figure.suptitle(title, fontsize=11, x=0.01, ha="left", parse_math=False)
    data = BytesIO()
    FigureCanvasAgg(figure)
    figure.savefig(data, format="png", dpi=DPI, metadata={"Software": software})
    return data.getvalue()


def _cut(words: str) -> str:
    """Return words short enough for a title."""
    return words if len(words) <= LONGEST_TITLE else words[: LONGEST_TITLE - 1] + "…"


def _knob_panel(axes: Axes, report: Knobs, curve: KnobCurve, even: KnobCurve) -> None:
    """Draw a knob's curve, its steps marked, the most even taper's beside it, and where the old sound or unity is."""
    as_it_is = (curve.taper, curve.midpoint) == (even.taper, even.midpoint)
    label = taper_name(curve.taper, curve.midpoint) + (" (as it is, the most even)" if as_it_is else " (as it is)")
    axes.plot(curve.position, curve.value, color=PRESENT, linewidth=1.8, label=label)
    axes.plot(curve.position[::2], curve.value[::2], "o", color=PRESENT, markersize=5)
    if not as_it_is:
        label = taper_name(even.taper, even.midpoint) + " (the most even)"
        axes.plot(even.position, even.value, color=EVEN, linewidth=1.5, linestyle=(0, (5, 2)), label=label)
        axes.plot(even.position[::2], even.value[::2], "s", color=EVEN, markersize=4, markerfacecolor="white")
    _value_scale(axes, curve)
    _marks(axes, report, curve)
    axes.set_title(f"{curve.words}: {curve.sets}", loc="left", fontsize=10)
    axes.legend(loc="lower right", fontsize=8.5, framealpha=1.0)
    _travel(axes)


def _value_scale(axes: Axes, curve: KnobCurve) -> None:
    """Give a panel its scale of hertz or decibels."""
    if curve.unit == "Hz":
        axes.set_yscale("log")
        _hertz_ticks(axes)
        known = curve.value[np.isfinite(curve.value)]
        if len(known):
            axes.set_ylim(np.min(known) / 1.6, np.max(known) * 1.4)
        axes.set_ylabel("Hz")
        return
    axes.set_ylim(LOWEST_DB, 3.0)
    axes.yaxis.set_major_locator(MultipleLocator(6.0))
    axes.axhspan(LOWEST_DB, USEFUL_DB, color="#e6e6e6", zorder=0, linewidth=0)
    box = {"facecolor": "#e6e6e6", "edgecolor": "none", "pad": 1.5}
    axes.text(9.9, USEFUL_DB - 2.8, "as good as off", fontsize=8.5, color=INK, ha="right", va="center", bbox=box)
    axes.set_ylabel("dB")


def _marks(axes: Axes, report: Knobs, curve: KnobCurve) -> None:
    """Mark where the old sound is on the tone knob, or unity on the volume knob."""
    if curve.name == "tone" and report.same_as is not None:
        nearest = report.same_as.nearest
        corner_hz = float(np.interp(nearest.tone, curve.position, curve.value))
        if np.isfinite(corner_hz):
            _mark(axes, nearest.tone, corner_hz, f"the old sound is nearest at {nearest.tone:.1f}")
    if curve.name == "volume" and report.unity_position is not None:
        at = report.unity_position
        gain_db = -report.unities[0].excess_gain_db
        _mark(axes, at, gain_db, f"unity at {at:.1f}, {-gain_db:.1f} dB in hand")


def _mark(axes: Axes, position: float, value: float, words: str) -> None:
    """Mark a point of the present curve with a diamond and words that keep clear of the curves: above, at the left."""
    axes.vlines(position, axes.get_ylim()[0], value, color=MARK, linewidth=0.9, linestyle=(0, (2, 2)), zorder=1)
    axes.plot([position], [value], "D", color=MARK, markersize=8, markerfacecolor="#f0e442", zorder=5)
    axes.annotate(
        words,
        xy=(position, value),
        xytext=(0.03, 0.95),
        textcoords="axes fraction",
        fontsize=9,
        va="top",
        arrowprops={"arrowstyle": "-", "color": INK, "linewidth": 0.8},
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
        zorder=6,
    )


def _coupling_panel(axes: Axes, report: Knobs) -> None:
    """Draw each coupling capacitor's corner over the travel of the volume knob."""
    for one, (colour, dashes) in zip(report.couplings, cycle(COUPLING_STYLES), strict=False):
        label = f"{one.name}, {one.loss_octave_db:.1f} dB lost at {OCTAVE_UNDER_HZ:.1f} Hz"
        axes.plot(one.position, one.corner_hz, color=colour, linestyle=dashes, linewidth=1.8, label=label)
    axes.set_yscale("log")
    highest = max(float(np.max(one.corner_hz)) for one in report.couplings)
    lowest = min(float(np.min(one.corner_hz)) for one in report.couplings)
    axes.set_ylim(np.clip(lowest / 4.0, 0.05, 0.5), max(highest, LOW_E_HZ) * 2.0)
    for hertz, words in ((LOW_E_HZ, "low E, 41.2 Hz"), (OCTAVE_UNDER_HZ, "an octave under it, 20.6 Hz")):
        axes.axhline(hertz, color=INK, linewidth=0.9, linestyle=(0, (2, 2)), zorder=1)
        axes.text(9.9, hertz * 1.05, words, fontsize=8.5, ha="right", va="bottom")
    _hertz_ticks(axes)
    axes.set_ylabel("Hz")
    axes.set_title("coupling capacitors: high-pass corner over the volume knob's travel", loc="left", fontsize=10)
    axes.legend(loc="lower left", fontsize=8.5, framealpha=1.0)
    _travel(axes)


def _hertz_ticks(axes: Axes) -> None:
    """Give a logarithmic scale of hertz ticks at 1, 2 and 5, written out."""
    axes.yaxis.set_major_locator(FixedLocator(list(TICKS_HZ)))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda hertz, _: f"{hertz:g}"))
    axes.yaxis.set_minor_locator(NullLocator())


def _travel(axes: Axes) -> None:
    """Give a panel the travel of a knob."""
    axes.set_xlim(-0.2, 10.2)
    axes.set_xticks(range(11))
    axes.set_xlabel("knob position", fontsize=9)
    axes.grid(alpha=0.25)
