"""Points of a change by hand, and the netlist that the small board has to hold."""

from __future__ import annotations

from functools import cache

import pytest

from board_cases import circuit_of
from sublatch.board import board
from sublatch.board.change.find import Change, find_change
from sublatch.board.change.points import LETTERS, addition, points

PAIRS = [
    ("gated-first-order", "hardwired"),
    ("hardwired", "gated-first-order"),
    ("gated-open", "polarity-third-order"),
    ("gated-swept", "gated-swept-zero-crossing"),
    ("second-order", "own-networks"),
]
every_pair = pytest.mark.parametrize("pair", PAIRS)


@cache
def change_of(pair: tuple[str, str]) -> Change:
    return find_change(*(board(circuit_of(case)) for case in pair))


def test_points_of_the_first_order_to_swept_change_by_hand() -> None:
    """Read off the sheet of the box before: where R19 and C9 were, the drive switch's ends, the direct pot's wiper."""
    there = [(point.letter, point.leads[0]) for point in points(change_of(PAIRS[0])) if point.is_there]
    assert there == [
        ("A", "U6A /Q"),
        ("B", "U6B CLK"),
        ("C", "U4B out"),
        ("D", "U8A +"),
        ("E", "U8A out"),
        ("F", "R21"),
        ("G", "C10"),
        ("H", "U1B out"),
    ]


@every_pair
def test_every_point_has_a_letter_of_its_own_and_a_lead_to_find_it_by(pair) -> None:
    found = points(change_of(pair))
    assert len({point.letter for point in found}) == len({point.net for point in found}) == len(found)
    assert all(point.leads for point in found)
    assert not {"I", "O"} & set(LETTERS)
    there = [point.is_there for point in found]
    assert there == sorted(there, reverse=True)


@every_pair
def test_leads_that_name_a_point_are_on_its_net(pair) -> None:
    change = change_of(pair)
    for point in points(change):
        nets = {part.reference for part, _ in change.before.on_net(point.net)}
        nets |= {part.reference for part, _ in change.changed.on_net(change.net_after(point.net))}
        assert {lead.split()[0] for lead in point.leads} <= nets


@every_pair
def test_what_is_added_meets_the_rest_at_its_edge_and_nowhere_else(pair) -> None:
    change, added = change_of(pair), addition(change_of(pair))
    own = {part.reference for part in added.components}
    edge = {net for _, net in added.edge}
    for part in added.components:
        assert part.control is None
        for _, net in part.pins:
            others = {one.reference for one, _ in change.changed.on_net(change.net_after(net))}
            assert (net in edge) == bool(others - own), net
    letters = {point.letter: point.net for point in points(change)}
    assert all(letters[letter] == net for letter, net in added.edge)
