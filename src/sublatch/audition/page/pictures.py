"""Pictures for the listening page: filter responses, and a close-up of the waves.

Both are SVG for the page to hold: no background, ink in the page's own text colour, curves in its colours
``--curve-1`` to ``--curve-6`` where it sets them. The browser chooses the fonts: a name is put into the finished
drawing as text, so that it shows as itself in whatever script it is written, and nothing in it is markup.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal
from xml.etree import ElementTree

import matplotlib.style
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator, MultipleLocator
from numpy.typing import ArrayLike

from sublatch.arrays import Signal
from sublatch.audition.page.curves import curves_alike, gains_in_words
from sublatch.audition.page.labels import COLOURS, LINE_HEIGHT, TEXT_SIZE, in_lines, shown, width_px
from sublatch.pictures.responses import TICKS_HZ, Curve, Dashes, Line, Look, draw_responses
from sublatch.pictures.svg import PRINT_STYLE, svg_element

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
PAGE = Look(
    line_width=CURVE_WIDTH,
    grid=(INK, 0.5, 0.25),
    lines=tuple(Line((INK, *COLOURS)[number % 7], DASHES[number % 4], "none") for number in range(28)),
    ticks_hz=TICKS_HZ[1:],
    step_db=5.0,
    lowest_db=None,
)


@matplotlib.style.context(["default", PRINT_STYLE])
def response_picture(curves: Sequence[Curve]) -> str:
    """Draw the gain of filters over frequency.

    Parameters
    ----------
    curves
        Each candidate's response, all at the same frequencies. Candidates with the same one share a line.

    Returns
    -------
    str
        An SVG element.
    """
    shared = _shared(curves)
    label_positions, height = _legend([curve.name for curve in shared], top=PLOT_BOTTOM + 60.0)
    figure, paper = _paper(height)
    frame = (PLOT_LEFT / WIDTH, 1.0 - PLOT_BOTTOM / height, 1.0 - (PLOT_LEFT + 20.0) / WIDTH, 280.0 / height)
    _plot(figure.add_axes(frame, facecolor="none"), shared)
    drawing = _Drawing(paper)
    drawing.text((PLOT_LEFT + WIDTH - 20.0) / 2, PLOT_BOTTOM + 35.0, "frequency in Hz", align="center")
    drawing.text(16.0, PLOT_BOTTOM - 140.0, "gain in dB", align="center", rotation=90.0)
    for number, (x, y, label_lines) in enumerate(label_positions):
        style = PAGE.lines[number % len(PAGE.lines)]
        drawing.line((x, x + 40.0), (y, y), color=style.colour, dashes=style.dashes, width=CURVE_WIDTH)
        for row, text in enumerate(label_lines):
            drawing.text(x + 50.0, y + row * LINE_HEIGHT, text)
    described = (f"{c.name}: {gains_in_words(c.response.frequency_hz, c.response.gain_db)}." for c in shared)
    return drawing.finished(figure, "Gain over frequency. " + " ".join(described))


@matplotlib.style.context(["default", PRINT_STYLE])
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
    described = f"Waves over {last - first:.3g} ms, from top to bottom: " + ", ".join(shown(name) for name, _ in waves)
    return drawing.finished(figure, described + ".")


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
        root = ElementTree.fromstring(svg_element(figure, alt_text=label))
        _simplify(root)
        texts = {f"text-{number}": text for number, text in enumerate(self._texts)}
        for element in root.iter("text"):
            element.text = texts.get(element.text or "", element.text)
        root.attrib |= {
            "xmlns": "http://www.w3.org/2000/svg",
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
    figure = Figure(figsize=(WIDTH / 72.0, height / 72.0), dpi=72, facecolor="none")
    paper = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    paper.set_axis_off()
    paper.set_xlim(0.0, WIDTH)
    paper.set_ylim(height, 0.0)
    return figure, paper


def _plot(plot: Axes, curves: Sequence[Curve]) -> None:
    """Draw responses in the page's ink."""
    draw_responses(plot, curves, PAGE)
    low_db, high_db = plot.get_ylim()
    plot.yaxis.set_major_locator(MultipleLocator(10.0 if high_db - low_db > 30.0 else 5.0))
    plot.tick_params(length=0.0, pad=6.0, labelsize=TEXT_SIZE, labelcolor=INK)
    for edge in plot.spines.values():
        edge.set(color=INK, linewidth=0.5, alpha=0.6)


def _shared(curves: Sequence[Curve]) -> list[Curve]:
    """Return the different curves, each with the names of all that have it."""
    groups = curves_alike([curve.response.gain_db for curve in curves])
    return [replace(curves[group[0]], name=", ".join(shown(curves[n].name) for n in group)) for group in groups]


def _legend(labels: Sequence[str], *, top: float) -> tuple[list[tuple[float, float, list[str]]], float]:
    """Return where each label stands, in what lines, and where the legend ends: two columns where all are short."""
    room = WIDTH - PLOT_LEFT - 60.0
    columns = 2 if all(width_px(label) < room / 2 - 30.0 for label in labels) else 1
    positions, y = [], top
    for start in range(0, len(labels), columns):
        row = [in_lines(label, room) for label in labels[start : start + columns]]
        positions += [(PLOT_LEFT + column * (WIDTH - PLOT_LEFT) / 2, y, lines) for column, lines in enumerate(row)]
        y += LINE_HEIGHT * (max(len(lines) for lines in row) + 0.25)
    return positions, y


def _ticks(first: float, last: float) -> list[float]:
    """Return round values from `first` to `last`."""
    ticks = MaxNLocator(nbins=8, steps=[1, 2, 5, 10]).tick_values(first, last)
    return [float(tick) for tick in ticks if first <= tick <= last]
