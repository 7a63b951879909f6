"""The schematic against the board: every component once, every net joined, nothing written over anything."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import pairwise

import pytest

from board_cases import CHANGES, circuit_of, every_case
from drawn_sheets import (
    Stroke,
    check_every_component_once,
    check_fits_on_paper,
    check_joined_as_on_the_board,
    check_nothing_is_written_over,
    check_straight_and_apart,
    crosses,
    joined_on,
)
from further_kinds import further_kinds
from sublatch.board.assemble import board
from sublatch.board.netlist import SUPPLY, ZERO
from sublatch.board.schematic.blocks import schematic_svg, sheets
from sublatch.board.schematic.canvas import Sheet


@cache
def drawn_sheets(case: str) -> list[tuple[str, str]]:
    """Return the schematic of a case."""
    return schematic_svg(board(circuit_of(case)))


@every_case
def test_every_component_stands_once_beside_its_value(case: str) -> None:
    check_every_component_once(board(circuit_of(case)).components, [svg for _, svg in drawn_sheets(case)])


@every_case
def test_what_is_drawn_is_joined_as_on_the_board(case: str) -> None:
    made = board(circuit_of(case))
    check_joined_as_on_the_board(made.components, sheets(made))


@every_case
def test_nothing_is_written_over_anything(case: str) -> None:
    for title, svg in drawn_sheets(case):
        check_nothing_is_written_over(title, svg)


@every_case
def test_wires_and_parts_run_straight_and_no_wire_runs_through_a_part(case: str) -> None:
    for sheet in sheets(board(circuit_of(case))):
        check_straight_and_apart(sheet)


@every_case
def test_a_sheet_fits_on_paper_and_can_be_read(case: str) -> None:
    for title, svg in drawn_sheets(case):
        check_fits_on_paper(title, svg)


@pytest.mark.parametrize(
    "check",
    [
        test_every_component_stands_once_beside_its_value,
        test_what_is_drawn_is_joined_as_on_the_board,
        test_nothing_is_written_over_anything,
        test_wires_and_parts_run_straight_and_no_wire_runs_through_a_part,
        test_a_sheet_fits_on_paper_and_can_be_read,
    ],
)
def test_kinds_that_nobody_has_drawn_stand_on_the_sheets_too(
    check: Callable[[str], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    changes = {"detector.kind": "window", "octave.kind": "half-gated"}
    monkeypatch.setitem(CHANGES, "further kinds", ("gated-swept", changes))
    with further_kinds():
        check("further kinds")


def test_the_same_board_gives_the_same_text() -> None:
    first = drawn_sheets("gated-swept-overtone")
    schematic_svg(board(circuit_of("gated-open")))
    assert schematic_svg(board(circuit_of("gated-swept-overtone"))) == first


def test_sheets_that_a_circuit_has_no_use_for_are_left_out() -> None:
    plain = [title for title, _ in drawn_sheets("gated-open-peak-latch")]
    rich = [title for title, _ in drawn_sheets("gated-swept-overtone")]
    assert set(rich) - set(plain) == {"Detector: overtones", "Output filter"}


def test_joints_that_the_drawing_lacks_would_be_found() -> None:
    made = board(circuit_of("gated-first-order"))
    drawn = sheets(made)[0]
    whole = len(list(joined_on(drawn)))
    drawn.wires.pop(0)
    assert len(list(joined_on(drawn))) == whole + 1


@pytest.mark.parametrize(("stroke", "hit"), [(((0.0, 1.0), (4.0, 1.0)), True), (((0.0, 3.0), (4.0, 3.0)), False),
                                             (((0.0, -1.0), (4.0, 3.0)), True)])  # fmt: skip
def test_a_stroke_through_a_box_is_found(stroke: Stroke, hit: bool) -> None:
    assert crosses(stroke, (1.0, 0.0, 3.0, 2.0)) is hit


@pytest.mark.parametrize(("net", "bars", "names"), [(ZERO, [0.64, 0.4, 0.16], []), (SUPPLY, [0.6], [SUPPLY])])
def test_0_v_has_the_sign_of_three_bars_and_another_rail_one_with_its_name(
    net: str, bars: list[float], names: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three bars, each shorter than the one above (common practice, no source)."""
    strokes: list[Stroke] = []
    sheet = Sheet(board(circuit_of("gated-open")), "rails")
    monkeypatch.setattr(Sheet, "stroke", lambda _, *points: strokes.extend(pairwise(points)))
    sheet.drop(net, (0.0, 0.0))
    level = [end[0] - start[0] for start, end in strokes if start[1] == end[1]]
    assert level == pytest.approx(bars)
    assert [text for text, _, _ in sheet.texts] == names
