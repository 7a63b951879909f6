"""Networks of the user's own on the schematic: each part and node by its own name, joined as the circuit file says."""

from __future__ import annotations

import pytest

from drawn_sheets import (
    check_every_component_once,
    check_joined_as_on_the_board,
    check_nothing_is_written_over,
    check_straight_and_apart,
)
from own_networks import WORKING, Parts
from sublatch.board.assemble import board
from sublatch.board.schematic.canvas import Sheet
from sublatch.board.schematic.mix_and_output import draw_output_filter
from sublatch.board.schematic.svg import svg_text
from sublatch.circuit.load import load_circuit


def sheet_of(parts: Parts) -> Sheet:
    """Return the sheet of the output filter alone."""
    changes = {"filter": {"kind": "network", "parts": parts}}
    sheet = Sheet(board(load_circuit("gated-swept", changes=changes)), "Output filter")
    draw_output_filter(sheet)
    return sheet


def check_drawn(sheet: Sheet, parts: Parts) -> None:
    """Assert that a network is drawn as it is listed, and that the drawing can be read."""
    own = sheet.board.of_block("filter")
    svg = svg_text(sheet)
    check_joined_as_on_the_board(own, [sheet])
    check_straight_and_apart(sheet)
    check_every_component_once(own, [svg])
    check_nothing_is_written_over(sheet.title, svg)
    written = " ".join(text for text, _, _ in sheet.texts)
    for part in parts:
        assert f"({part['name']})" in written


@pytest.mark.parametrize("name", WORKING)
def test_a_network_is_drawn_and_not_listed(name: str) -> None:
    sheet = sheet_of(WORKING[name])
    assert not sheet.listed
    check_drawn(sheet, WORKING[name])
