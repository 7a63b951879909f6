"""The picture of output filters: curves and bands where formulas have them, names as they are."""

from xml.etree import ElementTree

import numpy as np
import pytest

from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.load import load_circuit
from sublatch.circuit.response import response
from sublatch.parts.choose.job import choose, choose_fixed
from sublatch.parts.choose.plot import chosen_curves
from sublatch.parts.choose.request import ChooseFixedRequest, ChooseRequest
from sublatch.parts.tolerance import spread
from sublatch.pictures.responses import PRINT, Curve, responses_figure, responses_png, responses_svg

CORNER_HZ = 1 / (2 * np.pi * 39e3 * 15e-9)


@pytest.fixture(scope="module")
def first_order():
    circuit = load_circuit("gated-first-order")
    return Curve("as built", response(circuit), spread(circuit, boards=4000))


def test_the_curve_is_the_first_orders_and_its_dot_is_at_the_corner(first_order):
    axes = responses_figure([first_order]).axes[0]
    curve, dot = axes.lines
    frequency, gain_db = curve.get_data()
    np.testing.assert_allclose(gain_db, -10 * np.log10(1 + (frequency / CORNER_HZ) ** 2), atol=1e-6)
    assert dot.get_xdata()[0] == pytest.approx(CORNER_HZ, rel=1e-6)
    assert dot.get_ydata()[0] == pytest.approx(-3.0103, abs=0.02)


@pytest.mark.parametrize(("corner_hz", "dots"), [(9.0, 0), (15.0, 1), (15e3, 1), (25e3, 0)])
def test_every_corner_on_the_axis_has_its_dot_and_no_other(corner_hz, dots):
    """The axis goes from 10 Hz to 20 kHz."""
    farad = 1 / (2 * np.pi * 10e3 * corner_hz)
    circuit = load_circuit("gated-first-order", changes={"filter.resistor": "10k", "filter.capacitor": farad})
    axes = responses_figure([Curve("a", response(circuit))]).axes[0]
    assert axes.get_xlim() == pytest.approx((10.0, 20e3))
    assert axes.get_xticks().tolist() == [10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000]
    found = [line.get_xdata() for line in axes.lines if line.get_marker() == "o"]
    assert found == [pytest.approx([corner_hz], rel=1e-6)] * dots


def test_the_band_lies_around_the_curve_and_within_what_the_worst_parts_make(first_order):
    """Both parts off by their whole tolerance, 10 % and 5 %, bound the corner of every board."""
    axes = responses_figure([first_order]).axes[0]
    (band,) = axes.collections
    corners = band.get_paths()[0].vertices
    at = corners[np.abs(np.log(corners[:, 0] / 5000.0)) < 0.02, 1]
    slowest, fastest = CORNER_HZ / (1.1 * 1.05), CORNER_HZ / (0.9 * 0.95)
    bounds = [-10 * np.log10(1 + (5000.0 / corner) ** 2) for corner in (slowest, fastest)]
    middle = -10 * np.log10(1 + (5000.0 / CORNER_HZ) ** 2)
    assert bounds[0] - 0.2 < np.min(at) < middle < np.max(at) < bounds[1] + 0.2
    assert np.max(at) - np.min(at) > 0.5 * (bounds[1] - bounds[0])


def test_every_name_is_shown_as_it_is_and_every_line_differs(first_order):
    names = ["$a_1$ & <b>", "größer", "c" * 200, "d", "_e"]
    figure = responses_figure([Curve(name, first_order.response) for name in names])
    shown = [text.get_text() for text in figure.legends[0].get_texts()]
    assert shown == ["$a_1$ & <b>", "größer", "c" * 89 + "…", "d", "_e"]
    assert not any(text.get_parse_math() for text in figure.legends[0].get_texts())
    lines = figure.axes[0].lines[::2]  # a dot after each
    assert len({(line.get_color(), line.get_linestyle(), str(line._dash_pattern)) for line in lines}) == len(names)


def test_the_same_filters_give_the_same_bytes(first_order):
    one = responses_png([first_order], software="sublatch picture")
    assert one.startswith(b"\x89PNG")
    assert b"sublatch picture" in one
    assert one == responses_png([first_order], software="sublatch picture")
    assert one != responses_png([Curve("as built", first_order.response)], software="sublatch picture")


def test_chosen_parts_are_drawn_at_both_ends_of_knob_and_switch():
    """Each curve and its dot is where the choice says, and narrower tolerances make narrower bands."""
    found = choose(ChooseRequest(low_hz=100.0, high_hz=3000.0, peak_db=4.0))
    wide, narrow = (chosen_curves(found.best, Tolerances(capacitor=share, pot=0.0, gang=0.0)) for share in (0.2, 0.05))
    assert [one.name for one in wide] == ["tone 0, flat", "tone 10, flat", "tone 0, peaked", "tone 10, peaked"]
    for setting, wider, narrower in zip(found.best.settings, wide, narrow, strict=True):
        assert wider.response.corner_hz == pytest.approx(setting.corner_hz, rel=1e-9)
        assert wider.response.peak_db == pytest.approx(setting.peak_db, abs=1e-9)
        at = np.searchsorted(wider.spread.frequency_hz, 2.0 * setting.corner_hz)
        widths = [one.spread.high_db[at] - one.spread.low_db[at] for one in (wider, narrower)]
        assert widths[0] > 2.0 * widths[1] > 0.0
    found = choose_fixed(ChooseFixedRequest(corner_hz=300.0))
    assert [one.name for one in chosen_curves(found.best, Tolerances())] == ["as built"]


def test_for_print_it_is_an_svg_with_text_in_ink_whose_lines_differ_by_dashes(first_order):
    curves = [Curve("flat", first_order.response, first_order.spread), Curve("peaked", first_order.response)]
    svg = responses_svg(curves, alt_text='gain of "A & B"')
    assert svg == responses_svg(curves, alt_text='gain of "A & B"')
    root = ElementTree.fromstring(svg)
    assert root.get("aria-label") == 'gain of "A & B"'
    assert root.get("role") == "img"
    texts = {text.text for text in root.iter("{http://www.w3.org/2000/svg}text")}
    assert {"flat", "peaked", "gain in dB", "20", "1k", "20k"} <= texts
    lines = responses_figure(curves, look=PRINT).axes[0].get_legend().get_lines()
    assert {line.get_color() for line in lines} == {"#000000"}
    assert len({str(line._dash_pattern) for line in lines}) == 2
