"""The sheet's small pictures of knobs: where curve, dots and figures stand."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from sublatch.board.sheet.knob_chart import knob_svg
from sublatch.circuit.load import load_circuit
from sublatch.parts.knobs.travel import knob_curve

SVG = "{http://www.w3.org/2000/svg}"


def drawn(name: str) -> tuple[list[str], np.ndarray, ElementTree.Element]:
    """Return the texts of a knob's picture, the points (n, 2) of its curve, and all of it."""
    root = ElementTree.fromstring(knob_svg(knob_curve(load_circuit("gated-swept"), name)))
    texts = [(text.text or "").replace("−", "-") for text in root.iter(f"{SVG}text")]
    curve = max(
        (path.attrib["d"] for path in root.iter(f"{SVG}path") if "stroke-width: 1.3" in path.get("style", "")), key=len
    )
    return texts, np.array(re.findall(r"-?[\d.]+", curve), dtype=float).reshape(-1, 2), root


@pytest.mark.parametrize(
    ("name", "unit", "levels"),
    [
        ("tone", "Hz", ["100", "200", "500", "1000", "2000"]),
        ("volume", "dB", ["-36", "-24", "-12", "0"]),
        ("direct", "dB", ["-36", "-24", "-12", "0"]),
    ],
)
def test_both_axes_have_their_figures(name: str, unit: str, levels: list[str]) -> None:
    texts, _, root = drawn(name)
    assert [text for text in texts if re.fullmatch(r"-?\d+", text)] == ["0", "2", "4", "6", "8", "10", *levels]
    assert {f"{name} knob", unit} <= set(texts)
    assert root.attrib["aria-label"].startswith(f"{name} knob: ")


def test_the_curve_rises_by_the_logarithm_of_the_corner() -> None:
    curve = knob_curve(load_circuit("gated-swept"), "tone")
    _, points, _ = drawn("tone")
    across, up = points[:, 0] - points[0, 0], points[0, 1] - points[:, 1]
    wanted = np.log(np.interp(10.0 * across / across[-1], curve.position, curve.value) / curve.value[0])
    assert up[-1] > 0.0
    np.testing.assert_allclose(up / up[-1], wanted / wanted[-1], atol=0.01)
