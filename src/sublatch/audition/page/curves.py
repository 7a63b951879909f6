"""Curves over frequency for the listening page: one for each candidate, of which the page brings out those it chooses.

They are small SVG elements for the page to hold. A curve tells by ``data-of`` whose it is: the candidates' numbers, the
bypassed take's being 0. How it looks is the page's affair, which draws what is set by hand into the same plane:
``data-plane`` has its left, right, top and bottom edges in the drawing, the decibels at bottom and top, and the
frequency at the right; at the left are 20 Hz.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from xml.etree import ElementTree

import numpy as np

from sublatch.arrays import Signal
from sublatch.audition.listen.balance import Standing
from sublatch.audition.page.labels import shown
from sublatch.audition.page.lanes import Element, as_text
from sublatch.audition.page.wording import above_in_words
from sublatch.pictures.responses import TICKS_HZ, hertz_label, shown_range
from sublatch.sampling.bands import NOMINAL_HZ, band_centres_hz, band_levels

WIDTH, HEIGHT = 400.0, 210.0
"""Of a drawing, in pixels, as all lengths here."""
LEFT, RIGHT, TOP, BOTTOM = 38.0, 392.0, 8.0, 182.0
"""Where the axes are."""
SAME_DB = 1e-6
"""Curves that lie nearer together are one."""
DESCRIBED_HZ = (100.0, 1000.0, 10000.0)
"""Where the text that stands for a response gives its gain."""


def response_curves(names: Sequence[str], *, frequency_hz: Signal, gains_db: Sequence[Signal]) -> str:
    """Draw the gain of the candidates' output filters.

    Parameters
    ----------
    names
        The candidates', without the bypassed take's.
    frequency_hz
        Rising frequencies (n,).
    gains_db
        Of each candidate (n,).

    Returns
    -------
    str
        An SVG element.
    """
    described = (f"{shown(n)}: {gains_in_words(frequency_hz, gain)}" for n, gain in zip(names, gains_db, strict=True))
    label = f"Gain of the output filters over frequency. {'; '.join(described)}."
    return _Diagram(gains_db, unit="dB", end_hz=20e3).drawn(frequency_hz, gains_db, label=label, first=1)


def spectrum_curves(names: Sequence[str], sounds: Iterable[Signal], *, sample_rate: int) -> str:
    """Draw the third-octave levels of a take's candidates, each over the whole of its sound.

    Parameters
    ----------
    names
        The candidates', the bypassed take's first.
    sounds
        Samples (n,) of each as it is heard, ±1 at full scale.
    sample_rate
        Samples per second.

    Returns
    -------
    str
        An SVG element.
    """
    levels_db = [_with_gaps(band_levels(samples, sample_rate=sample_rate)) for samples in sounds]
    described = (f"{shown(name)}: {_strongest(levels)}" for name, levels in zip(names, levels_db, strict=True))
    label = f"Third-octave levels after matching. {'; '.join(described)}."
    return _Diagram(levels_db, unit="dBFS", end_hz=5e3).drawn(band_centres_hz(), levels_db, label=label)


def standing_curves(names: Sequence[str], standings: Sequence[Standing]) -> str:
    """Draw the third-octave levels of a take's candidates over those of the bed, all as heard.

    Parameters
    ----------
    names
        The candidates', the bypassed take's first.
    standings
        How each stands to the bed, which is the same for all.

    Returns
    -------
    str
        An SVG element. The bed is an area, of class ``bed``.
    """
    described = (f"{shown(n)}: {above_in_words(s.above_hz)}" for n, s in zip(names, standings, strict=True))
    label = f"Third-octave levels of bass and bed as heard. {'; '.join(described)}."
    levels_db, bed_db = [_with_gaps(standing.bass_db) for standing in standings], _with_gaps(standings[0].bed_db)
    diagram = _Diagram([*levels_db, bed_db], unit="dBFS", end_hz=5e3)
    return diagram.drawn(band_centres_hz(), levels_db, label=label, bed_db=bed_db)


def curves_alike(levels_db: Sequence[Signal]) -> list[list[int]]:
    """Return the numbers of curves in groups, those that lie together in one."""
    groups: list[list[int]] = []
    for number, levels in enumerate(levels_db):
        for group in groups:
            if np.allclose(levels_db[group[0]], levels, rtol=0.0, atol=SAME_DB, equal_nan=True):
                group.append(number)
                break
        else:
            groups.append([number])
    return groups


def gains_in_words(frequency_hz: Signal, gain_db: Signal) -> str:
    """Return a filter's gain at three frequencies in words."""
    gains = np.interp(DESCRIBED_HZ, frequency_hz, gain_db)
    return ", ".join(f"{_decibels(gain)} dB at {hertz:g} Hz" for gain, hertz in zip(gains, DESCRIBED_HZ, strict=True))


class _Diagram:
    """Axes that are just high enough for the levels of some curves."""

    def __init__(self, levels_db: Sequence[Signal], *, unit: str, end_hz: float) -> None:
        self._low_db, self._high_db = shown_range(levels_db, step_db=10.0)
        self._unit, self._end_hz = unit, end_hz

    def drawn(
        self, hertz: Signal, levels_db: Sequence[Signal], *, label: str, first: int = 0, bed_db: Signal | None = None
    ) -> str:
        """Return curves of candidates from a number on, over an area up to a bed's third-octave levels if given."""
        size = {"xmlns": "http://www.w3.org/2000/svg", "viewBox": f"0 0 {WIDTH:g} {HEIGHT:g}"}
        plane = f"{LEFT:g} {RIGHT:g} {TOP:g} {BOTTOM:g} {self._low_db:g} {self._high_db:g} {self._end_hz:g}"
        drawing = ElementTree.Element("svg", {**size, "role": "img", "aria-label": label, "data-plane": plane})
        self._draw_axes(drawing)
        if bed_db is not None:
            ElementTree.SubElement(drawing, "path", {"class": "bed", "d": self._area(bed_db)})
        for group in curves_alike(levels_db):
            path = _path(self._across(hertz), self._up(_cut_off_below(levels_db[group[0]], self._low_db)))
            if path:
                numbers = " ".join(str(first + number) for number in group)
                ElementTree.SubElement(drawing, "path", {"class": "curve", "data-of": numbers, "d": path})
        return as_text(drawing)

    def _draw_axes(self, drawing: Element) -> None:
        """Draw lines and figures of both axes."""
        lines = ElementTree.SubElement(drawing, "g", {"class": "grid"})
        step_db = 20.0 if self._high_db - self._low_db > 50.0 else 10.0
        for level_db in np.arange(self._high_db, self._low_db - 1.0, -step_db):
            y = float(self._up(np.array(level_db)))
            ElementTree.SubElement(lines, "path", {"d": f"M{LEFT:g} {y:.1f}H{RIGHT:g}"})
            _text(drawing, LEFT - 6.0, y + 4.0, _decibels(level_db), "end")
        for hertz in (tick_hz for tick_hz in TICKS_HZ[1:] if tick_hz <= self._end_hz):
            x = float(self._across(np.array(hertz)))
            ElementTree.SubElement(lines, "path", {"d": f"M{x:.1f} {TOP:g}V{BOTTOM:g}"})
            _text(drawing, x, BOTTOM + 15.0, hertz_label(hertz), "middle")
        _text(drawing, LEFT + 4.0, BOTTOM - 6.0, self._unit, "start")
        _text(drawing, RIGHT - 4.0, BOTTOM - 6.0, "Hz", "end")

    def _across(self, hertz: Signal) -> Signal:
        """Return where frequencies lie from left to right."""
        return np.asarray(LEFT + np.log(hertz / 20.0) / np.log(self._end_hz / 20.0) * (RIGHT - LEFT))

    def _up(self, levels_db: Signal) -> Signal:
        """Return where levels lie from top to bottom."""
        return np.asarray(BOTTOM - (levels_db - self._low_db) / (self._high_db - self._low_db) * (BOTTOM - TOP))

    def _area(self, levels_db: Signal) -> str:
        """Return the outline of what lies under third-octave levels."""
        y = np.where(np.isfinite(levels_db), self._up(np.maximum(levels_db, self._low_db)), BOTTOM)
        points = (f"{left:.1f} {height:.1f}" for left, height in zip(self._across(band_centres_hz()), y, strict=True))
        return f"M{LEFT:g} {BOTTOM:g}L{'L'.join(points)}L{RIGHT:g} {BOTTOM:g}Z"


def _text(drawing: Element, x: float, y: float, text: str, anchor: str) -> None:
    """Write a figure."""
    ElementTree.SubElement(drawing, "text", {"x": f"{x:.1f}", "y": f"{y:.1f}", "text-anchor": anchor}).text = text


def _with_gaps(levels_db: Sequence[float | None]) -> Signal:
    """Return levels with NaN where there is none."""
    return np.array([np.nan if level_db is None else level_db for level_db in levels_db])


def _cut_off_below(levels_db: Signal, low_db: float) -> Signal:
    """Return levels that end where they meet the lower edge."""
    cut = np.maximum(levels_db, low_db)
    at_edge = np.concatenate(([True], cut <= low_db, [True]))
    cut[at_edge[:-2] & at_edge[1:-1] & at_edge[2:]] = np.nan
    return cut


def _path(x: Signal, y: Signal) -> str:
    """Return a line through points, with gaps where there is no level."""
    steps, pen = [], "M"
    for left, height in zip(x, y, strict=True):
        if np.isfinite(height):
            steps.append(f"{pen}{left:.1f} {height:.1f}")
        pen = "L" if np.isfinite(height) else "M"
    return "".join(steps)


def _strongest(levels_db: Signal) -> str:
    """Return the strongest of third-octave levels in words."""
    if not np.isfinite(levels_db).any():
        return "silent"
    top = int(np.nanargmax(levels_db))
    return f"strongest at {NOMINAL_HZ[top]:g} Hz, {_decibels(levels_db[top])} dBFS"


def _decibels(level: float) -> str:
    """Return whole decibels, a dash where there is no level."""
    if not np.isfinite(level):
        return "–"
    return f"{round(level) + 0}".replace("-", "−")
