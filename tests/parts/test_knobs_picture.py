"""The picture of a circuit's knobs: what its panels hold, against the figures that it is made of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.parts.knobs import plot
from sublatch.parts.knobs.plot import knobs_png
from sublatch.parts.knobs.report import knobs
from sublatch.parts.knobs.travel import knob_curve

pytestmark = pytest.mark.long

LOW_E_HZ, OCTAVE_UNDER_HZ = 41.203, 20.602
"""E1 and E0 in equal temperament at A4 = 440 Hz (ISO 16:1975)."""


@pytest.fixture(scope="module")
def found():
    """A linear tone pot, for which another taper is more even, and an old sound on it."""
    circuit = load_circuit("gated-swept", changes={"filter.pot.taper": "linear", "detector.kind": "overtone"})
    return knobs(circuit, same_as=load_circuit("gated-first-order"))


@pytest.fixture
def panels(monkeypatch):
    """Give a way to the panels that are drawn, by their knob or "coupling"."""

    def drawn(told):
        figures = []
        canvas = plot.FigureCanvasAgg
        monkeypatch.setattr(plot, "FigureCanvasAgg", lambda figure: figures.append(figure) or canvas(figure))
        knobs_png(told)
        (figure,) = figures
        shown = [axes for axes in figure.axes if axes.axison]
        return figure, {axes.get_title(loc="left").partition(":")[0].split()[0]: axes for axes in shown}

    return drawn


def lines(axes):
    """Return points, marker and dashes of each line that has points."""
    return [(*line.get_data(), line.get_marker(), line.get_linestyle()) for line in axes.lines]


def legend(axes):
    return [text.get_text() for text in axes.get_legend().get_texts()]


def test_there_is_a_panel_for_each_knob_and_one_for_the_capacitors(panels, found):
    figure, shown = panels(found)
    assert list(shown) == ["tone", "volume", "direct", "coupling"]
    assert figure.get_suptitle().startswith(found.title)
    for axes in shown.values():
        low, high = axes.get_xlim()
        assert -0.5 < low < 0.0 < 10.0 < high < 10.5
        assert [tick for tick in axes.get_xticks() if low <= tick <= high] == list(range(11))
    fixed, three = panels(knobs(load_circuit("gated-open")))
    assert list(three) == ["volume", "direct", "coupling"]
    assert len(fixed.axes) - len(three) == 1


def test_a_curve_is_drawn_with_a_dot_at_each_whole_position_and_a_more_even_one_beside_it(panels, found):
    _, shown = panels(found)
    curve, even = found.curves[0], found.even[0]
    assert (curve.taper, even.taper) == ("linear", "reverse-log")
    (x, y, *_), (dots, at_dots, marker, _), (x_even, y_even, *_), (even_dots, *_) = lines(shown["tone"])[:4]
    np.testing.assert_array_equal((x, y), (curve.position, curve.value))
    np.testing.assert_array_equal((x_even, y_even), (even.position, even.value))
    assert (dots.tolist(), even_dots.tolist(), marker) == ([*range(11)], [*range(11)], "o")
    np.testing.assert_array_equal(at_dots, curve.value[::2])
    assert legend(shown["tone"]) == ["linear (as it is)", "reverse-log 15 % (the most even)"]
    low, high = shown["tone"].get_ylim()
    ticks = [tick for tick in shown["tone"].get_yticks() if low <= tick <= high]
    assert ticks == [100, 200, 500, 1000, 2000]
    assert low < np.min(curve.value) < np.max(curve.value) < high


def test_the_most_even_taper_is_drawn_once_where_the_pot_has_it(panels, found):
    circuit = load_circuit("gated-swept")
    assert (found.even[0].taper, found.even[0].midpoint) == (circuit.filter.pot.taper, circuit.filter.pot.midpoint)
    curve = knob_curve(circuit, "tone")
    _, shown = panels(replace(found, curves=(curve, *found.curves[1:]), even=(curve, *found.even[1:])))
    assert len(lines(shown["tone"])) == 3  # the curve, its dots, and where the old sound is
    assert legend(shown["tone"]) == ["reverse-log 15 % (as it is, the most even)"]


def test_a_level_knob_shows_where_it_is_as_good_as_off(panels, found):
    """30 dB below full and more; the words stand within that part."""
    _, shown = panels(found)
    for name in ("volume", "direct"):
        assert shown[name].get_ylim() == (-42.0, 3.0)
        (words,) = (text for text in shown[name].texts if text.get_text() == "as good as off")
        assert -42.0 < words.get_position()[1] < -30.0
        curve = next(one for one in found.curves if one.name == name)
        np.testing.assert_array_equal(lines(shown[name])[0][1], curve.value)


def test_unity_and_the_old_sound_are_marked_on_their_curves(panels, found):
    _, shown = panels(found)
    at, hand_db = found.unity_position, found.unities[0].excess_gain_db
    ((x,), (y,), _, _) = next(line for line in lines(shown["volume"]) if line[2] == "D")
    assert (x, y) == (at, -hand_db)
    volume = found.curves[1]
    assert y == pytest.approx(np.interp(x, volume.position, volume.value), abs=0.3)
    assert f"unity at {at:.1f}, {hand_db:.1f} dB in hand" in [text.get_text() for text in shown["volume"].texts]
    nearest = found.same_as.nearest
    ((x,), (y,), _, _) = next(line for line in lines(shown["tone"]) if line[2] == "D")
    assert x == nearest.tone
    assert y == pytest.approx(np.interp(x, found.curves[0].position, found.curves[0].value))
    assert f"the old sound is nearest at {nearest.tone:.1f}" in [text.get_text() for text in shown["tone"].texts]
    _, without = panels(replace(found, same_as=None))
    assert not [line for line in lines(without["tone"]) if line[2] == "D"]
    assert not [line for line in lines(shown["direct"]) if line[2] == "D"]


def test_each_capacitors_corner_is_drawn_below_the_notes_that_have_to_pass(panels, found):
    _, shown = panels(found)
    axes = shown["coupling"]
    drawn = lines(axes)
    assert len(found.couplings) == 6  # four of them in the detector
    for one, (x, y, *_), words in zip(found.couplings, drawn, legend(axes), strict=False):
        np.testing.assert_array_equal((x, y), (one.position, one.corner_hz))
        assert words == f"{one.name}, {one.loss_octave_db:.1f} dB lost at 20.6 Hz"
    heights = [y[0] for _, y, _, _ in drawn[len(found.couplings) :]]
    assert heights == [pytest.approx(LOW_E_HZ, rel=1e-3), pytest.approx(OCTAVE_UNDER_HZ, rel=1e-3)]
    low, high = axes.get_ylim()
    corners = np.concatenate([one.corner_hz for one in found.couplings])
    assert low < np.min(corners)
    assert high > max(np.max(corners), LOW_E_HZ)
    steps = [factor * 10.0**decade for decade in range(-1, 5) for factor in (1, 2, 5)]
    assert [tick for tick in axes.get_yticks() if low <= tick <= high] == pytest.approx(
        [step for step in steps if low <= step <= high]
    )
    names = [text.get_text() for text in axes.texts]
    assert names == ["low E, 41.2 Hz", "an octave under it, 20.6 Hz"]


@pytest.mark.parametrize(("count", "shown"), [(70, "a" * 70), (71, "a" * 69 + "…")])
def test_a_long_title_is_cut_and_a_shorter_one_is_not(panels, found, count, shown):
    figure, _ = panels(replace(found, circuit=found.circuit.model_copy(update={"title": "a" * count})))
    assert figure.get_suptitle() == f"{shown}; unity with {found.unities[0].heard}"
