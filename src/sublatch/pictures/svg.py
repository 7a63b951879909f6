"""Figures as SVG for a document to hold: text as text, the same bytes each time, told in words too."""

from __future__ import annotations

import io
from xml.sax.saxutils import quoteattr

from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

PRINT_STYLE = {
    "svg.fonttype": "none",
    "svg.hashsalt": "sublatch sheet",
    "font.family": "sans-serif",
    "font.size": 8.0,
}
"""What a figure for print is drawn with."""


def svg_element(figure: Figure, *, alt_text: str) -> str:
    """Return a figure as an SVG element.

    Parameters
    ----------
    figure
        Drawn with `PRINT_STYLE`.
    alt_text
        What it shows, for those who cannot see it.
    """
    file = io.StringIO()
    FigureCanvasSVG(figure)
    figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    svg = file.getvalue()
    svg = svg[svg.index("<svg") :].strip()
    return svg.replace("<svg ", f'<svg role="img" aria-label={quoteattr(alt_text)} ', 1)
