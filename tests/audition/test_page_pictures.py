"""Pictures of filter responses and of waves.

Published: contrast and relative luminance as WCAG 2.1 defines them, 3:1 for graphics (success criterion 1.4.11; from
memory). A first-order low-pass is 20·log10(√½) dB down at its corner.
"""

from __future__ import annotations

import re
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest

from sublatch.arrays import Array
from sublatch.audition.page import labels, pictures
from sublatch.audition.page.pictures import close_up_picture, response_picture
from sublatch.circuit.networks.corners import Response
from sublatch.pictures.responses import Curve

SVG = "{http://www.w3.org/2000/svg}"
FREQUENCY_HZ = np.geomspace(10.0, 20e3, 241)
TIME_MS = np.linspace(0.0, 48.0, 500)
ODD_NAMES = ["a $b$ ^2_x {\\frac}", "<script>alert('1')</script>", 'quoted "&" &amp;', "bass 🎸 低音", "_", "text-0"]


def _first_order(corner_hz: float) -> Array:
    return -10.0 * np.log10(1.0 + (FREQUENCY_HZ / corner_hz) ** 2)


def _curve(name: str, gain_db: Array) -> Curve:
    return Curve(name, Response(None, 0.0, None, None, 0.0, None, FREQUENCY_HZ, gain_db))


def _curves(count: int) -> list[Curve]:
    return [_curve(f"tone {number}", _first_order(50.0 * 1.3**number)) for number in range(count)]


def _texts(svg: str) -> list[str]:
    return [element.text or "" for element in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def _paths(svg: str, width: float) -> list[tuple[Array, str]]:
    """Return the points (n, 2) and the style of every line of a width."""
    found = []
    for element in ElementTree.fromstring(svg).iter(f"{SVG}path"):
        if f"stroke-width: {width:g}" in element.get("style", "").split("; "):
            numbers = re.findall(r"-?[\d.]+", element.attrib["d"])
            found.append((np.array(numbers, dtype=float).reshape(-1, 2), element.attrib["style"]))
    return found


def _responses(svg: str) -> list[tuple[Array, str]]:
    """Return the lines of a response picture; the legend's come first."""
    lines = _paths(svg, 2.0)
    return lines[len(lines) // 2 :]


def _waves(svg: str) -> list[Array]:
    return [points for points, _ in _paths(svg, 1.3)]


def _labels(svg: str) -> dict[str, float]:
    """Return where along the horizontal axis each text in the middle of its place stands."""
    texts = ElementTree.fromstring(svg).iter(f"{SVG}text")
    return {text.text or "": float(text.attrib["x"]) for text in texts if "middle" in text.attrib["style"]}


def test_curves_lie_where_axes_say() -> None:
    curves = [_curve("corner 200", _first_order(200.0))]
    curves += [_curve(f"{level} dB", np.full(241, float(level))) for level in (0, -10)]
    svg = response_picture(curves)
    across = _labels(svg)
    (curve, _), (zero, _), (ten_below, _) = _responses(svg)
    height = np.interp(across["200"], curve[:, 0], curve[:, 1])
    gain_db = -10.0 * (height - zero[0, 1]) / (ten_below[0, 1] - zero[0, 1])
    assert gain_db == pytest.approx(20 * np.log10(np.sqrt(0.5)), abs=0.02)
    octave = across["200"] - across["100"]
    assert across["2k"] - across["20"] == pytest.approx(2.0 * octave * np.log2(10.0), abs=1e-3)


def test_both_axes_are_labelled() -> None:
    svg = response_picture(_curves(3))
    frequencies = ["20", "50", "100", "200", "500", "1k", "2k", "5k", "10k", "20k"]
    assert [text for text in _labels(svg) if text[0].isdigit()] == frequencies
    assert {"frequency in Hz", "gain in dB", "0", "−10", "−20"} <= set(_texts(svg))


def test_a_deep_stop_band_does_not_squeeze_the_rest() -> None:
    deep = _curve("deep", 10.0 * _first_order(100.0))
    texts = _texts(response_picture([deep]))
    assert "−50" in texts
    assert not {"−60", "−100", "−400"} & set(texts)


def test_the_same_curve_is_drawn_once_under_both_names() -> None:
    first, second = _first_order(100.0), _first_order(1000.0)
    svg = response_picture([_curve("tone 5", first), _curve("open", second), _curve("swept", first.copy())])
    assert len(_responses(svg)) == 2
    assert {"tone 5, swept", "open"} <= set(_texts(svg))


def test_nearly_the_same_curve_is_another() -> None:
    near = [_curve("a", _first_order(100.0)), _curve("b", _first_order(101.0))]
    assert len(_responses(response_picture(near))) == 2


def test_twenty_curves_differ_in_colour_or_dashes() -> None:
    styles = [style for _, style in _responses(response_picture(_curves(20)))]
    assert len(set(styles)) == 20


def test_the_legend_shows_each_curve_as_it_is_drawn_and_covers_none() -> None:
    svg = response_picture(_curves(20))
    drawn = _paths(svg, 2.0)
    samples, curves = drawn[:20], drawn[20:]
    assert [style for _, style in samples] == [style for _, style in curves]
    assert min(points[:, 1].min() for points, _ in samples) > pictures.PLOT_BOTTOM + 40.0
    height = float(ElementTree.fromstring(svg).attrib["viewBox"].split()[3])
    assert max(points[:, 1].max() for points, _ in samples) < height


@pytest.mark.parametrize("name", ODD_NAMES)
def test_names_show_as_themselves(name: str) -> None:
    wave = np.sin(TIME_MS)
    for svg in (
        response_picture([_curve(name, _first_order(100.0))]),
        close_up_picture(TIME_MS, [("bypassed", wave), (name, wave)]),
    ):
        assert name.replace(" ", "") in "".join(_texts(svg)).replace(" ", "")
        root = ElementTree.fromstring(svg)
        assert name in root.attrib["aria-label"]
        tags = {element.tag.removeprefix(SVG) for element in root.iter()}
        assert tags <= {"svg", "g", "path", "text", "defs", "clipPath", "rect"}


def test_long_names_stay_in_the_picture() -> None:
    curves = [_curve(f"{number} " + "wide " * 60, _first_order(100.0)) for number in range(6)]
    for svg in (
        response_picture(curves),
        close_up_picture(TIME_MS, [(curve.name, np.sin(TIME_MS)) for curve in curves]),
    ):
        assert max(len(text) for text in _texts(svg)) < 90
        assert any(text.endswith("…") for text in _texts(svg))


def test_characters_that_no_document_may_hold_are_replaced() -> None:
    svg = close_up_picture(TIME_MS, [("a\0b\x1b\ud800", np.sin(TIME_MS))])
    assert "a\ufffdb\ufffd\ufffd" in _texts(svg)
    svg.encode("utf-8")


def test_pictures_are_the_same_each_time_and_in_every_style() -> None:
    wave = [("bypassed", np.sin(TIME_MS))]
    first = response_picture(_curves(3)), close_up_picture(TIME_MS, wave)
    with matplotlib.rc_context(
        {"svg.fonttype": "path", "axes.facecolor": "red", "font.size": 30, "lines.linewidth": 9}
    ):
        second = response_picture(_curves(3)), close_up_picture(TIME_MS, wave)
        assert matplotlib.rcParams["font.size"] == 30
    assert first == second


def test_pictures_take_ink_from_the_page_and_have_no_ground() -> None:
    for svg in (response_picture(_curves(8)), close_up_picture(TIME_MS, [("bypassed", np.sin(TIME_MS))])):
        colours = set(re.findall(r"(?:fill|stroke): ([^;\"]+)", svg))
        allowed = {"none", "currentColor"} | {f"var(--curve-{n}, {c})" for n, c in enumerate(labels.COLOURS, start=1)}
        assert colours <= allowed
        assert not re.search(r"fill: (?!none|currentColor)", svg)


def test_curves_stand_out_from_white_paper() -> None:
    for colour in labels.COLOURS:
        assert 1.05 / (_luminance(colour) + 0.05) >= 3.0, colour


def test_colours_and_dashes_only_come_together_again_after_all_pairs() -> None:
    pairs = {(place % (len(labels.COLOURS) + 1), place % len(pictures.DASHES)) for place in range(28)}
    assert len(pairs) == 28


def test_the_text_for_the_response_tells_gains() -> None:
    svg = response_picture([_curve("slope", _first_order(100.0)), _curve("open", -0.2 + 0 * FREQUENCY_HZ)])
    label = ElementTree.fromstring(svg).attrib["aria-label"]
    assert "slope: −3 dB at 100 Hz, −20 dB at 1000 Hz, −40 dB at 10000 Hz." in label
    assert "open: 0 dB at 100 Hz" in label


def test_waves_have_a_row_each_in_order_and_one_scale() -> None:
    svg = close_up_picture(
        TIME_MS, [("bypassed", np.sin(TIME_MS)), ("half", 0.5 * np.sin(TIME_MS)), ("none", 0 * TIME_MS)]
    )
    bypassed, half, none = _waves(svg)
    assert [text for text in _texts(svg) if text.isalpha()] == ["bypassed", "half", "none"]
    assert bypassed[:, 1].max() < half[:, 1].min() < half[:, 1].max() < none[:, 1].min()
    assert np.ptp(half[:, 1]) == pytest.approx(0.5 * np.ptp(bypassed[:, 1]), rel=0.01)
    assert np.ptp(none[:, 1]) == 0.0
    assert bypassed[0, 0] == half[0, 0] == none[0, 0]


def test_the_bypassed_take_is_drawn_in_ink_and_all_candidates_in_the_first_colour() -> None:
    waves = [(name, np.sin(TIME_MS)) for name in ("bypassed", "open", "swept")]
    styles = [style for _, style in _paths(close_up_picture(TIME_MS, waves), 1.3)]
    colours = [re.search(r"stroke: ([^;]+)", style) for style in styles]
    first = f"var(--curve-1, {labels.COLOURS[0]})"
    assert [found[1] for found in colours if found] == ["currentColor", first, first]


def test_a_wave_goes_up_where_it_is_positive_and_lies_where_the_time_axis_says() -> None:
    pulse = np.where((TIME_MS > 19.9) & (TIME_MS < 20.1), 1.0, 0.0)
    svg = close_up_picture(TIME_MS, [("bypassed", pulse)])
    (points,) = _waves(svg)
    assert points[np.argmin(points[:, 1]), 0] == pytest.approx(_labels(svg)["20"], abs=1.5)
    assert points[np.argmin(points[:, 1]), 1] < points[0, 1]


@pytest.mark.parametrize("count", [1, 21])
def test_silence_and_many_rows_can_be_drawn(count: int) -> None:
    svg = close_up_picture(TIME_MS, [(f"row {row}", np.zeros_like(TIME_MS)) for row in range(count)])
    height = float(ElementTree.fromstring(svg).attrib["viewBox"].split()[3])
    assert [text for text in _texts(svg) if text.startswith("row")] == [f"row {row}" for row in range(count)]
    assert all(0.0 < points[:, 1].min() <= points[:, 1].max() < height for points in _waves(svg))


def _luminance(colour: str) -> float:
    """Return the relative luminance of "#rrggbb"."""
    values = [int(colour[start : start + 2], 16) / 255.0 for start in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in values]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
