"""Curves over frequency for the listening page: one for each candidate, of which the page brings out those it chooses.

They are small SVG elements for the page to hold. A curve tells by ``data-of`` whose it is: the candidates' numbers, the
bypassed take's being 0. How it looks is the page's affair.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from xml.etree import ElementTree

import numpy as np

from sublatch.arrays import Signal
from sublatch.audition.listen.balance import Standing
from sublatch.audition.page.labels import shown
from sublatch.audition.page.wording import above_in_words
from sublatch.sampling.bands import NOMINAL_HZ, band_centres_hz, band_levels

Element = ElementTree.Element

WIDTH, HEIGHT = 400.0, 210.0
"""Of a drawing, in pixels, as all lengths here."""
LEFT, RIGHT, TOP, BOTTOM = 38.0, 392.0, 8.0, 182.0
"""Where the axes are."""
TICKS_HZ = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)
SAME_DB = 1e-6
"""Curves that lie nearer together are one."""
DEEPEST_DB = 60.0
"""How far below the highest curve a drawing reaches."""
TOLD_HZ = (100.0, 1000.0, 10000.0)
"""Where the text that stands for the responses gives the gain."""


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
    told = []
    for name, gain in zip(names, gains_db, strict=True):
        levels = np.interp(TOLD_HZ, frequency_hz, gain)
        told.append(f"{shown(name)}: " + ", ".join(_at(level, hz) for level, hz in zip(levels, TOLD_HZ, strict=True)))
    label = f"Gain of the output filters over frequency. {'; '.join(told)}."
    numbered = [(number, frequency_hz, gain) for number, gain in enumerate(gains_db, start=1)]
    return _drawn(numbered, label, unit="dB", end_hz=20e3)


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
    numbered, told = [], []
    for number, (name, samples) in enumerate(zip(names, sounds, strict=True)):
        heard = _known(band_levels(samples, sample_rate=sample_rate))
        numbered.append((number, band_centres_hz(), heard))
        if np.isfinite(heard).any():
            top = int(np.nanargmax(heard))
            told.append(f"{shown(name)}: strongest at {NOMINAL_HZ[top]:g} Hz, {_decibels(heard[top])} dBFS")
        else:
            told.append(f"{shown(name)}: silent")
    label = f"Third-octave levels after matching. {'; '.join(told)}."
    return _drawn(numbered, label, unit="dBFS", end_hz=5e3)


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
    told = [f"{shown(n)}: {above_in_words(s.above_hz)}" for n, s in zip(names, standings, strict=True)]
    label = f"Third-octave levels of bass and bed as heard. {'; '.join(told)}."
    numbered = [(number, band_centres_hz(), _known(standing.bass_db)) for number, standing in enumerate(standings)]
    return _drawn(numbered, label, unit="dBFS", end_hz=5e3, bed_db=_known(standings[0].bed_db))


def _drawn(
    numbered: Sequence[tuple[int, Signal, Signal]],
    label: str,
    *,
    unit: str,
    end_hz: float,
    bed_db: Signal | None = None,
) -> str:
    """Return axes with curves, over an area up to a bed's third-octave levels if there is one."""
    high, low = _range([*(levels for _, _, levels in numbered), *([] if bed_db is None else [bed_db])])
    drawing = ElementTree.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {WIDTH:g} {HEIGHT:g}",
            "role": "img",
            "aria-label": label,
        },
    )
    _axes(drawing, high, low, unit, end_hz)
    if bed_db is not None:
        ElementTree.SubElement(drawing, "path", {"class": "bed", "d": _area(bed_db, high, low, end_hz)})
    for numbers, hertz, levels in _shared(numbered):
        path = _path(_across(hertz, end_hz), _up(_down_to(levels, low), high, low))
        if path:
            whose = " ".join(str(number) for number in numbers)
            ElementTree.SubElement(drawing, "path", {"class": "curve", "data-of": whose, "d": path})
    return ElementTree.tostring(drawing, encoding="unicode")


def _axes(drawing: Element, high: float, low: float, unit: str, end_hz: float) -> None:
    """Draw lines and figures of both axes."""
    lines = ElementTree.SubElement(drawing, "g", {"class": "grid"})
    step = 20.0 if high - low > 50.0 else 10.0
    for level in np.arange(high, low - 1.0, -step):
        y = float(_up(np.array(level), high, low))
        ElementTree.SubElement(lines, "path", {"d": f"M{LEFT:g} {y:.1f}H{RIGHT:g}"})
        _text(drawing, LEFT - 6.0, y + 4.0, _decibels(level), "end")
    for hertz in (hz for hz in TICKS_HZ if hz <= end_hz):
        x = float(_across(np.array([hertz]), end_hz)[0])
        ElementTree.SubElement(lines, "path", {"d": f"M{x:.1f} {TOP:g}V{BOTTOM:g}"})
        _text(drawing, x, BOTTOM + 15.0, f"{hertz // 1000}k" if hertz >= 1000 else f"{hertz}", "middle")
    _text(drawing, LEFT + 4.0, BOTTOM - 6.0, unit, "start")
    _text(drawing, RIGHT - 4.0, BOTTOM - 6.0, "Hz", "end")


def _text(drawing: Element, x: float, y: float, text: str, anchor: str) -> None:
    """Write a figure."""
    ElementTree.SubElement(drawing, "text", {"x": f"{x:.1f}", "y": f"{y:.1f}", "text-anchor": anchor}).text = text


def _across(hertz: Signal, end_hz: float) -> Signal:
    """Return where frequencies lie from left to right."""
    return np.asarray(LEFT + np.log(hertz / 20.0) / np.log(end_hz / 20.0) * (RIGHT - LEFT))


def _up(levels: Signal, high: float, low: float) -> Signal:
    """Return where levels lie from top to bottom."""
    return np.asarray(BOTTOM - (levels - low) / (high - low) * (BOTTOM - TOP))


def _known(levels: Sequence[float | None]) -> Signal:
    """Return levels with NaN where there is none."""
    return np.array([np.nan if level is None else level for level in levels])


def _range(levels: Sequence[Signal]) -> tuple[float, float]:
    """Return the highest and the lowest level to show, in dB."""
    known = np.concatenate([*levels, np.zeros(0)])
    known = known[np.isfinite(known)]
    if len(known) == 0:
        return 0.0, -DEEPEST_DB
    high = 10.0 * np.ceil((float(known.max()) + 1.0) / 10.0)
    low = 10.0 * np.floor((float(known.min()) - 1.0) / 10.0)
    return high, max(min(low, high - 20.0), high - DEEPEST_DB)


def _shared(numbered: Sequence[tuple[int, Signal, Signal]]) -> list[tuple[list[int], Signal, Signal]]:
    """Return the different curves, each with the numbers of all that have it."""
    found: list[tuple[list[int], Signal, Signal]] = []
    for number, hertz, levels in numbered:
        for numbers, _, known in found:
            if np.allclose(known, levels, rtol=0.0, atol=SAME_DB, equal_nan=True):
                numbers.append(number)
                break
        else:
            found.append(([number], hertz, levels))
    return found


def _down_to(levels: Signal, low: float) -> Signal:
    """Return levels that end where they meet the lower edge."""
    shown_levels = np.maximum(levels, low)
    under = np.concatenate(([True], shown_levels <= low, [True]))
    shown_levels[under[:-2] & under[1:-1] & under[2:]] = np.nan
    return shown_levels


def _path(x: Signal, y: Signal) -> str:
    """Return a line through points, with gaps where there is no level."""
    parts, pen = [], "M"
    for place, height in zip(x, y, strict=True):
        if np.isfinite(height):
            parts.append(f"{pen}{place:.1f} {height:.1f}")
        pen = "L" if np.isfinite(height) else "M"
    return "".join(parts)


def _area(levels: Signal, high: float, low: float, end_hz: float) -> str:
    """Return the outline of what lies under third-octave levels."""
    y = np.where(np.isfinite(levels), _up(np.maximum(levels, low), high, low), BOTTOM)
    points = [f"{place:.1f} {height:.1f}" for place, height in zip(_across(band_centres_hz(), end_hz), y, strict=True)]
    return f"M{LEFT:g} {BOTTOM:g}L{'L'.join(points)}L{RIGHT:g} {BOTTOM:g}Z"


def _at(level: float, hertz: float) -> str:
    """Return a level at a frequency in words."""
    return f"{_decibels(level)} dB at {hertz:g} Hz"


def _decibels(level: float) -> str:
    """Return whole decibels, a dash where there is no level."""
    if not np.isfinite(level):
        return "–"
    return f"{round(level) + 0}".replace("-", "−")
