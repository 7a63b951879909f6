"""Pictures for the listening page: filter responses, and a close-up of the waves.

Both are SVG for the page to hold: no background, ink in the page's own text colour, curves in its colours
``--curve-1`` to ``--curve-6`` where it sets them. The browser chooses the fonts: a name is put into the finished
drawing as text, so that it shows as itself in whatever script it is written, and nothing in it is markup.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Literal
from xml.etree import ElementTree

import numpy as np
from numpy.typing import ArrayLike

from sublatch.arrays import Signal
from sublatch.audition.page.labels import COLOURS, LINE_HEIGHT, TEXT_SIZE, in_lines, shown, width_px

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Curve = tuple[str, Signal, Signal]
Dashes = str | tuple[float, tuple[float, ...]]
Align = Literal["left", "center", "right"]

WIDTH = 640.0
"""Width of a picture in pixels, as all lengths here."""
PLOT_LEFT, PLOT_BOTTOM, CURVE_WIDTH = 60.0, 290.0, 2.0
ROW_HEIGHT = 46.0
INK = "#123456"
"""Stands for the page's text colour until the drawing is finished."""
DASHES: tuple[Dashes, ...] = (
    "-",
    (0.0, (6.0, 2.5)),
    (0.0, (1.5, 2.0)),
    (0.0, (8.0, 2.0, 1.5, 2.0)),
)
"""As many as share no factor with the seven colours, so that 28 curves differ before a pair comes again."""
TICKS_HZ = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)
SAME_DB = 1e-6
"""Curves that lie nearer together are one."""
DEEPEST_DB = 60.0
"""How far below the highest curve the picture reaches."""
TOLD_HZ = (100.0, 1000.0, 10000.0)
"""Where the text that stands for the picture gives the gain."""


@contextmanager
def _house_style() -> Iterator[None]:
    """Draw the same whatever style the user has chosen for drawings of their own."""
    import matplotlib.style

    with matplotlib.style.context(["default", {"svg.fonttype": "none", "svg.hashsalt": "sublatch"}]):
        yield


@_house_style()
def response_picture(curves: Sequence[Curve]) -> str:
    """Draw the gain of filters over frequency.

    Parameters
    ----------
    curves
        Name, frequencies in hertz (n,) and gain in decibels (n,) of each candidate. Candidates with the same curve
        share a line.

    Returns
    -------
    str
        An SVG element.
    """
    shared = _shared(curves)
    places, height = _legend([label for label, _, _ in shared], top=PLOT_BOTTOM + 60.0)
    figure, paper = _paper(height)
    frame = (PLOT_LEFT / WIDTH, 1.0 - PLOT_BOTTOM / height, 1.0 - (PLOT_LEFT + 20.0) / WIDTH, 280.0 / height)
    plot = figure.add_axes(frame)
    _prepare(plot, shared)
    drawing = _Drawing(paper)
    drawing.text((PLOT_LEFT + WIDTH - 20.0) / 2, PLOT_BOTTOM + 35.0, "frequency in Hz", align="center")
    drawing.text(16.0, PLOT_BOTTOM - 140.0, "gain in dB", align="center", rotation=90.0)
    for number, ((_, frequency_hz, gain_db), (x, y, lines)) in enumerate(zip(shared, places, strict=True)):
        colour, dashes = (INK, *COLOURS)[number % 7], DASHES[number % 4]
        plot.plot(frequency_hz, gain_db, color=colour, linestyle=dashes, linewidth=CURVE_WIDTH)
        drawing.line((x, x + 40.0), (y, y), color=colour, dashes=dashes, width=CURVE_WIDTH)
        for line, text in enumerate(lines):
            drawing.text(x + 50.0, y + line * LINE_HEIGHT, text)
    return drawing.finished(figure, "Gain over frequency. " + " ".join(_told(curve) for curve in shared))


@_house_style()
def close_up_picture(time_ms: Signal, waves: Sequence[tuple[str, Signal]]) -> str:
    """Draw waves one below the other over the same stretch of time, all to the same scale.

    Parameters
    ----------
    time_ms
        Time in milliseconds (n,), rising.
    waves
        Name and samples (n,) of each: the bypassed take, then the candidates.

    Returns
    -------
    str
        An SVG element.
    """
    left, right, bottom = 150.0, WIDTH - 12.0, ROW_HEIGHT * len(waves) + 4.0
    figure, paper = _paper(bottom + 40.0)
    drawing = _Drawing(paper)
    first, last = float(time_ms[0]), float(time_ms[-1])
    pixels_per_ms = (right - left) / ((last - first) or 1.0)
    for tick in _ticks(first, last):
        x = left + (tick - first) * pixels_per_ms
        drawing.line((x, x), (4.0, bottom), color=INK, width=0.5, opacity=0.25)
        drawing.text(x, bottom + 12.0, f"{tick:g}", align="center")
    drawing.text((left + right) / 2, bottom + 30.0, "time in ms", align="center")
    tallest = max((float(np.max(np.abs(wave), initial=0.0)) for _, wave in waves), default=0.0) or 1.0
    for row, (name, wave) in enumerate(waves):
        middle = ROW_HEIGHT * (row + 0.5) + 4.0
        drawing.line((left, right), (middle, middle), color=INK, width=0.5, opacity=0.6)
        heights = middle - wave / tallest * ROW_HEIGHT * 0.46
        drawing.line(left + (time_ms - first) * pixels_per_ms, heights, color=COLOURS[0] if row else INK, width=1.3)
        lines = in_lines(shown(name), left - 18.0, most=2)
        for line, text in enumerate(lines):
            drawing.text(left - 10.0, middle + (line - (len(lines) - 1) / 2) * 0.9 * LINE_HEIGHT, text, align="right")
    told = f"Waves over {last - first:.3g} ms, from top to bottom: " + ", ".join(shown(name) for name, _ in waves)
    return drawing.finished(figure, told + ".")


class _Drawing:
    """Lines in pixels, and texts that are kept out of the drawing until it is finished."""

    def __init__(self, paper: Axes) -> None:
        self._paper = paper
        self._texts: list[str] = []

    def line(
        self, x: ArrayLike, y: ArrayLike, *, color: str, width: float, dashes: Dashes = "-", opacity: float = 1.0
    ) -> None:
        """Draw a line."""
        self._paper.plot(x, y, color=color, linewidth=width, linestyle=dashes, alpha=opacity, clip_on=False)

    def text(self, x: float, y: float, text: str, *, align: Align = "left", rotation: float = 0.0) -> None:
        """Put a text where its left end, middle or right end shall be."""
        self._paper.text(
            x,
            y if rotation else y + 0.35 * TEXT_SIZE,
            f"text-{len(self._texts)}",
            horizontalalignment=align,
            verticalalignment="baseline",
            rotation=rotation,
            rotation_mode="anchor",
            size=TEXT_SIZE,
            color=INK,
        )
        self._texts.append(text)

    def finished(self, figure: Figure, label: str) -> str:
        """Return the figure as an SVG element with its texts, its colours left to the page."""
        buffer = io.StringIO()
        figure.savefig(buffer, format="svg", transparent=True, metadata={"Date": None})
        root = ElementTree.fromstring(buffer.getvalue())
        _simplify(root)
        texts = {f"text-{number}": text for number, text in enumerate(self._texts)}
        for element in root.iter("text"):
            element.text = texts.get(element.text or "", element.text)
        root.attrib |= {
            "xmlns": "http://www.w3.org/2000/svg",
            "role": "img",
            "aria-label": label,
            "font-family": "sans-serif",
            "font-size": f"{TEXT_SIZE:g}",
            "stroke-linejoin": "round",
        }
        return ElementTree.tostring(root, encoding="unicode")


def _simplify(root: ElementTree.Element) -> None:
    """Leave out what a page does not need, and leave to it colours and fonts."""
    drawn = ElementTree.tostring(root, encoding="unicode")
    for element in root.iter():
        for child in list(element):
            child.tag = child.tag.rpartition("}")[2]
            if child.tag in ("metadata", "style"):
                element.remove(child)
        element.text, element.tail = (element.text or "").strip() or None, None
        if f"#{element.get('id')})" not in drawn:
            element.attrib.pop("id", None)
        if element.get("transform", "").startswith("rotate(-0 "):
            del element.attrib["transform"]
        if "style" in element.attrib:
            element.set("style", _with_page_colours(element.attrib["style"]))
    root.tag = "svg"
    root.attrib.pop("version", None)


def _with_page_colours(style: str) -> str:
    """Return a style that leaves colours to the page, and the font to the whole drawing."""
    parts = [part.strip() for part in style.split(";")]
    style = "; ".join(part for part in parts if part and not part.startswith("font")).replace(INK, "currentColor")
    for number, colour in enumerate(COLOURS, start=1):
        style = style.replace(colour, f"var(--curve-{number}, {colour})")
    return style


def _paper(height: float) -> tuple[Figure, Axes]:
    """Return a figure, and axes all over it that count pixels from the top left."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH / 72.0, height / 72.0), dpi=72)
    paper = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    paper.set_axis_off()
    paper.set_xlim(0.0, WIDTH)
    paper.set_ylim(height, 0.0)
    return figure, paper


def _prepare(plot: Axes, curves: Sequence[Curve]) -> None:
    """Give axes their scales, labels and grid."""
    from matplotlib.ticker import MultipleLocator, NullLocator

    plot.set_xscale("log")
    plot.set_xlim(20.0, 20e3)
    plot.set_xticks(TICKS_HZ, labels=[f"{hertz // 1000}k" if hertz >= 1000 else f"{hertz}" for hertz in TICKS_HZ])
    plot.xaxis.set_minor_locator(NullLocator())
    low, high = _gain_range(curves)
    plot.set_ylim(low, high)
    plot.yaxis.set_major_locator(MultipleLocator(10.0 if high - low > 30.0 else 5.0))
    plot.tick_params(length=0.0, pad=6.0, labelsize=TEXT_SIZE, labelcolor=INK)
    plot.grid(color=INK, linewidth=0.5, alpha=0.25)
    plot.set_axisbelow(True)
    for edge in plot.spines.values():
        edge.set(color=INK, linewidth=0.5, alpha=0.6)


def _gain_range(curves: Sequence[Curve]) -> tuple[float, float]:
    """Return the lowest and highest gain to show, in dB."""
    gains = [gain[np.isfinite(gain)] for _, _, gain in curves]
    known = np.concatenate([*gains, np.zeros(0)])
    if len(known) == 0:
        return -30.0, 5.0
    high = 5.0 * np.ceil((float(known.max()) + 1.0) / 5.0)
    low = 5.0 * np.floor((float(known.min()) - 1.0) / 5.0)
    return max(min(low, high - 20.0), high - DEEPEST_DB), high


def _shared(curves: Sequence[Curve]) -> list[Curve]:
    """Return the different curves, each with the names of all that have it."""
    found: list[tuple[list[str], Signal, Signal]] = []
    for name, frequency_hz, gain_db in curves:
        for names, frequency, gain in found:
            if np.array_equal(frequency, frequency_hz) and np.allclose(gain, gain_db, rtol=0.0, atol=SAME_DB):
                names.append(shown(name))
                break
        else:
            found.append(([shown(name)], frequency_hz, gain_db))
    return [(", ".join(names), frequency_hz, gain_db) for names, frequency_hz, gain_db in found]


def _legend(labels: Sequence[str], *, top: float) -> tuple[list[tuple[float, float, list[str]]], float]:
    """Return where each label stands, in what lines, and where the legend ends: two columns where all are short."""
    room = WIDTH - PLOT_LEFT - 60.0
    columns = 2 if all(width_px(label) < room / 2 - 30.0 for label in labels) else 1
    places, y = [], top
    for start in range(0, len(labels), columns):
        row = [in_lines(label, room) for label in labels[start : start + columns]]
        places += [(PLOT_LEFT + column * (WIDTH - PLOT_LEFT) / 2, y, lines) for column, lines in enumerate(row)]
        y += LINE_HEIGHT * (max(len(lines) for lines in row) + 0.25)
    return places, y


def _told(curve: Curve) -> str:
    """Return a curve in words."""
    label, frequency_hz, gain_db = curve
    gains = np.round(np.interp(TOLD_HZ, frequency_hz, gain_db)) + 0.0  # no minus before a zero
    told = [f"{gain:.0f} dB at {hertz:g} Hz" for gain, hertz in zip(gains, TOLD_HZ, strict=True)]
    return f"{label}: {', '.join(told)}.".replace(" -", " −")


def _ticks(first: float, last: float) -> list[float]:
    """Return round values from `first` to `last`."""
    from matplotlib.ticker import MaxNLocator

    ticks = MaxNLocator(nbins=8, steps=[1, 2, 5, 10]).tick_values(first, last)
    return [float(tick) for tick in ticks if first <= tick <= last]
