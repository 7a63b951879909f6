"""The small board of a change: laid out and proved, its wires named by the points, or told why there is none."""

from __future__ import annotations

import re

import pytest

from board_cases import circuit_of
from sublatch.board import board
from sublatch.board.change.find import Change, find_change, fresh_board
from sublatch.board.change.points import addition, points
from sublatch.board.change.small_board import SmallBoard, Wanted, small_board
from sublatch.board.orders.lines import order_lines
from sublatch.board.stripboard import search
from sublatch.board.stripboard.records import Room


@pytest.fixture(autouse=True, scope="module")
def _few_steps():
    """Search briefly: so few parts are laid out all the same."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(search, "STEPS", 25_000)
        patch.setattr(search, "MORE_STEPS", 0)
        yield


@pytest.fixture(scope="module")
def change() -> Change:
    """A first-order filter becomes a swept one; what is left over of a chip is used for it."""
    return find_change(*(board(circuit_of(case)) for case in ("gated-first-order", "hardwired")))


@pytest.fixture(scope="module")
def small(change: Change) -> SmallBoard:
    """Its small board."""
    found = small_board(change, Wanted())
    assert found is not None
    return found


def test_everything_that_is_added_stands_on_it_and_is_proved(change: Change, small: SmallBoard) -> None:
    added = addition(change)
    assert small.layout is not None
    assert small.layout.proved
    assert {part.reference for part in small.layout.parts if part.outline != "wire"} == {
        part.reference for part in added.components
    }
    on_net = {(reference, leg): net for reference, leg, net in small.layout.netlist}
    pairs = {(net, on_net[part.reference, pin]) for part in added.components for pin, net in part.pins}
    assert len(pairs) == len({net for net, _ in pairs}) == len({name for _, name in pairs})  # one net, one name


def test_each_wire_is_named_after_the_point_that_it_goes_to(change: Change, small: SmallBoard) -> None:
    assert small.layout is not None
    wires = {part.reference: part.value for part in small.layout.wires}
    leads = {point.letter: point.leads for point in points(change)}
    assert wires.keys() == {f"w{letter}" for letter, _ in addition(change).edge}
    on_board = {part.reference for part in addition(change).components}
    for name, where in wires.items():
        letter, lead = where.removeprefix("point ").removesuffix(")").split(" (")
        assert name == f"w{letter}"
        assert lead in leads[letter]
        assert lead.split()[0] not in on_board  # the wire leads away from the board


def test_the_same_seed_finds_the_same_board(change: Change, small: SmallBoard) -> None:
    steps: list[None] = []
    again = small_board(change, Wanted(progress=lambda: steps.append(None)))
    assert again == small
    assert len(steps) > 1


def test_where_the_room_is_too_small_it_is_told_what_would_do(change: Change) -> None:
    found = small_board(change, Wanted(room=Room(4.0, 5.0)))
    assert found is not None
    assert found.layout is None
    assert re.search(r"was found in a room of 4 × 5 mm; the nearest found is \d+ × \d+ holes", found.why_none)


def test_a_change_that_adds_nothing_on_a_board_has_none() -> None:
    trimmed = circuit_of("gated-open", output__trim_resistor="47k")
    assert small_board(find_change(board(circuit_of("gated-open")), board(trimmed)), Wanted()) is None


def test_parts_are_ordered_with_the_pitch_that_they_have_on_it(change: Change, small: SmallBoard) -> None:
    assert small.layout is not None
    spans = {part.reference: part.span for part in small.layout.parts if part.outline == "box"}
    assert spans
    for line in order_lines(fresh_board(change), layouts=[small.layout], whole=False):
        for reference in set(line.designators) & set(spans):
            assert line.item.pitch == f"{2.5 * spans[reference]:g} mm"
