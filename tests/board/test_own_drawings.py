"""Networks of the user's own on the schematic: each part and node by its own name, joined as the circuit file says."""

from __future__ import annotations

from itertools import pairwise

import pytest

from drawn_sheets import (
    check_every_component_once,
    check_joined_as_on_the_board,
    check_nothing_is_written_over,
    check_straight_and_apart,
)
from filter_sections import random_filter
from own_networks import WORKING, Parts, capacitor, op_amp, resistor, switched
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


@pytest.mark.long
@pytest.mark.parametrize("seed", range(50))
def test_random_filters_are_drawn_and_not_listed(seed: int) -> None:
    parts = random_filter(seed)
    sheet = sheet_of(parts)
    assert not sheet.listed
    check_drawn(sheet, parts)


def test_nodes_stand_by_the_users_names_on_their_own_nets() -> None:
    sheet = sheet_of(WORKING["state variable"])
    own = {net.removeprefix("filter.") for net, _ in sheet.names if net.startswith("filter.")}
    assert own == {"m1", "hp", "p1", "m2", "bp", "m3"}
    assert own <= {text for text, _, _ in sheet.texts}


def test_every_wire_that_is_left_out_is_noticed() -> None:
    sheet = sheet_of(WORKING["Sallen-Key"])
    wires = [*sheet.wires]
    assert len(wires) > 10
    for place in range(len(wires)):
        sheet.wires = wires[:place] + wires[place + 1 :]
        with pytest.raises(AssertionError):
            check_joined_as_on_the_board(sheet.board.of_block("filter"), [sheet])


def test_a_network_too_large_for_the_paper_is_a_list_of_its_parts() -> None:
    nodes = ["in", *(f"n{number}" for number in range(1, 60)), "out"]
    parts = [resistor(f"R{number}", "1k", *step) for number, step in enumerate(pairwise(nodes))]
    parts += [capacitor(f"C{number}", "1n", node, "ground") for number, node in enumerate(nodes[1:])]
    sheet = sheet_of(parts)
    assert len({reference for reference, _, _ in sheet.listed}) == len(parts)
    check_joined_as_on_the_board(sheet.board.of_block("filter"), [sheet])


@pytest.mark.parametrize("nodes", [("a", "ground"), ("ground", "a"), ("a", "low"), ("low", "a")])
def test_a_switched_capacitor_hangs_from_either_end(nodes: tuple[str, str]) -> None:
    parts = [resistor("R1", "10k", "in", "a"), switched("C1", "10n", "22n", *nodes), op_amp("U1", "a", "out", "out")]
    parts += [resistor("R2", "1k", "low", "ground")] if "low" in nodes else []
    sheet = sheet_of(parts)
    assert not sheet.listed
    check_drawn(sheet, parts)
