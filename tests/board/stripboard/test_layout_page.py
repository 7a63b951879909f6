"""A layout as page and picture: what it says against the layout's own data, the PNG against the same at 1:1."""

from __future__ import annotations

import io
import re
import struct
from dataclasses import replace
from html import unescape
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest

from board_cases import circuit_of
from small_networks import op_amp, resistor
from sublatch.board.sheet.write import build_sheet
from sublatch.board.stripboard import page
from sublatch.board.stripboard.drawing import COPPER, INK, MARGIN_MM
from sublatch.board.stripboard.page import guard_layout, layout_page, sides_svg, write_layout
from sublatch.board.stripboard.records import Layout, hole_name
from sublatch.board.stripboard.search import Effort, layout_of
from sublatch.errors import CircuitError, OutputError
from sublatch.pictures.shapes import shapes_png

PITCH_MM = 2.54


@pytest.fixture(scope="module")
def layout() -> Layout:
    """A chip with two resistors."""
    parts = [resistor("R1", "in", "minus"), resistor("R2", "minus", "out"), op_amp("U1A", "bias", "minus", "out")]
    return layout_of(parts, edge=("in", "out", "bias", "supply", "0V"), effort=Effort(1, 40_000))


@pytest.fixture(scope="module")
def picture(layout: Layout) -> bytes:
    """Both sides as PNG."""
    return shapes_png(sides_svg(layout), software="x")


@pytest.fixture(scope="module")
def text(layout: Layout) -> str:
    """What its page says."""
    plain = re.sub(r"<style>.*?</style>|<svg.*?</svg>", " ", layout_page(layout, title="Own & new"), flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", plain)).split())


def test_the_page_lists_every_part_cut_and_link_by_its_hole(layout: Layout, text: str) -> None:
    assert text.startswith("Own & new")
    assert f"{layout.columns} × {layout.rows} holes" in text
    for hole in layout.cuts:
        assert re.search(rf"Cuts: [^.]*\b{hole_name(hole)}\b", text)
    for part in layout.parts:
        if part.reference.startswith("R"):
            assert f"{', '.join(hole_name(hole) for _, hole in part.legs)}" in text
    for _, _, net in layout.netlist:
        assert not net or net in text


def test_the_page_asks_for_nothing_else_and_has_both_sides_at_1_to_1(layout: Layout) -> None:
    html = layout_page(layout, title="x")
    assert "<script" not in html
    assert not re.search(r"(src|href)=", html)
    width = layout.columns * PITCH_MM + 2 * MARGIN_MM
    assert html.count(f'width="{width:.2f}mm"') == 2
    assert "The iron is at 300 °C" in html


def test_the_picture_is_as_large_as_the_board(layout: Layout, picture: bytes) -> None:
    """PNG, clause 11.3.5.3: pHYs has pixels per metre; 11.2.2: IHDR has width and height."""
    at = picture.index(b"pHYs")
    across, down, unit = struct.unpack(">IIB", picture[at + 4 : at + 13])
    width, height = struct.unpack(">II", picture[16:24])
    whole = re.match(r'<svg [^>]*width="([\d.]+)mm" height="([\d.]+)mm"', sides_svg(layout))
    assert whole is not None
    assert unit == 1
    assert 1000 * width / across == pytest.approx(float(whole[1]), abs=0.1)
    assert 1000 * height / down == pytest.approx(float(whole[2]), abs=0.1)


def test_the_picture_shows_legs_and_strips_where_they_are(layout: Layout, picture: bytes) -> None:
    image = matplotlib.image.imread(io.BytesIO(picture), format="png")[..., :3]
    per_mm = image.shape[1] / float(re.findall(r'width="([\d.]+)mm"', sides_svg(layout))[0])

    def seen(x_mm: float, y_mm: float) -> list[float]:
        return [float(one) for one in image[round(y_mm * per_mm), round(x_mm * per_mm)]]

    ink, copper = ([int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)] for colour in (INK, COPPER))
    covered = {tuple(end) for link in layout.links for end in link}
    for part in layout.parts:
        for _, (column, row) in part.legs:
            if part.outline != "wire" and (column, row) not in covered:
                x, y = (MARGIN_MM + (one + 0.5) * PITCH_MM for one in (column, row))
                assert seen(x, y) == pytest.approx(ink, abs=0.02), part.reference
    other = MARGIN_MM + layout.columns * PITCH_MM + MARGIN_MM + 4.0 + MARGIN_MM
    strips = [seen(other + 0.3, MARGIN_MM + (row + 0.5) * PITCH_MM) for row in range(layout.rows)]
    assert np.allclose(strips, copper, atol=0.02)


def test_a_shape_that_is_not_known_is_refused() -> None:
    with pytest.raises(ValueError, match=r"a shape must be one of rect, circle, .* got 'ellipse'"):
        shapes_png('<svg xmlns="http://www.w3.org/2000/svg" width="1mm" height="1mm"><ellipse/></svg>', software="x")
    with pytest.raises(ValueError, match=r"a step must be one of M, .* got 'H'"):
        shapes_png(
            '<svg xmlns="http://www.w3.org/2000/svg" width="1mm" height="1mm"><path d="M0 0H3"/></svg>', software="x"
        )


@pytest.mark.parametrize("name", ["board.html", "board.svg", "board.png"])
def test_each_sort_of_file_is_replaced_only_where_it_is_our_own(tmp_path: Path, layout: Layout, name: str) -> None:
    path = tmp_path / name
    for _ in range(2):
        guard_layout(path)
        write_layout(layout, path, title="x")
    path.write_bytes(b"mine")
    with pytest.raises(OutputError, match="was not made by sublatch"):
        guard_layout(path)


def test_what_is_not_proved_is_not_written(tmp_path: Path, layout: Layout) -> None:
    for name in ("board.html", "board.png"):
        with pytest.raises(OutputError, match="is not proved"):
            write_layout(replace(layout, proved=False), tmp_path / name, title="x")
    assert not list(tmp_path.iterdir())


def test_a_sheet_with_layouts_has_each_block_or_why_it_has_none(monkeypatch, layout: Layout) -> None:
    """The search itself is left out: it would take minutes for a whole circuit."""
    asked = []

    def found(made, block: str, **_: object) -> Layout:
        asked.append(block)
        if block == "filter":
            return layout
        raise CircuitError(f"no board for {block}")

    monkeypatch.setattr(page, "block_layout", found)
    html = build_sheet(circuit_of("gated-first-order"), layouts=True)
    assert {"input", "detector", "filter", "output"} <= set(asked)
    assert f"{layout.columns} × {layout.rows} holes" in html
    assert "No board for it: no board for output." in html
