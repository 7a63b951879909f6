"""Operations lead from one netlist to the other, and back again: for every pair of built-in circuits and more."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import permutations

import pytest

from board_cases import CHANGES, circuit_of
from netlist_isomorphism import same_netlist
from sublatch.board import board
from sublatch.board.builder import PACKAGES
from sublatch.board.change.find import Change, find_change
from sublatch.board.change.operations import apply, inverse
from sublatch.board.netlist import STILL, Board, Component
from sublatch.circuit.load import circuit_names
from sublatch.errors import CircuitError

FURTHER = [name for name in CHANGES if name not in circuit_names()]
PAIRS = [*permutations(circuit_names(), 2), *zip(FURTHER, [*FURTHER[1:], *FURTHER[:1]], strict=True)]
SOLDERED = ("resistor", "capacitor", "diode")
every_pair = pytest.mark.parametrize(("one", "other"), PAIRS)


@cache
def made(case: str) -> Board:
    return board(circuit_of(case))


@cache
def change_of(one: str, other: str) -> Change:
    return find_change(made(one), made(other))


def signal_parts(components: tuple[Component, ...]) -> list[Component]:
    """Return all but packages, what decouples them and their sections that are left over.

    Which package a section is in is the builder's choice, and on a box that exists it is settled already.
    """
    return [part for part in components if part.block != "packages"]


@every_pair
def test_the_operations_lead_to_the_board_after(one: str, other: str) -> None:
    change = change_of(one, other)
    done = apply(change.operations, change.before.components)
    assert same_netlist(signal_parts(done), signal_parts(change.after.components))
    assert same_netlist(signal_parts(change.changed.components), signal_parts(change.after.components))


@every_pair
def test_undoing_them_gives_the_board_before_to_the_last_pin(one: str, other: str) -> None:
    change = change_of(one, other)
    done = apply(change.operations, change.before.components)
    undone = apply(inverse(change.operations), done)
    assert {part.reference: part for part in undone} == {part.reference: part for part in change.before.components}


@every_pair
def test_without_one_of_them_the_board_is_another(one: str, other: str) -> None:
    change = change_of(one, other)
    if not change.operations:
        assert same_netlist(signal_parts(change.before.components), signal_parts(change.after.components))
        return
    part_of_it = apply(change.operations[:-1], change.before.components)
    tied = all(part.block == "packages" for part in change.operations[-1].put)
    if not tied:
        assert not same_netlist(signal_parts(part_of_it), signal_parts(change.after.components))
    assert not same_netlist(part_of_it, apply(change.operations, change.before.components))


@every_pair
def test_every_package_is_whole_afterwards(one: str, other: str) -> None:
    """Powered, decoupled, each section used once or tied off on nets of its own, and no package with none in use."""
    change = change_of(one, other)
    parts = apply(change.operations, change.before.components)
    assert max(Counter(part.reference for part in parts).values()) == 1
    packages = {part.package: part for part in parts if part.kind == "package"}
    for name, package in packages.items():
        sections = [part for part in parts if part.package == name and part.kind in PACKAGES]
        kind = sections[0].kind
        assert package.value == PACKAGES[kind][0]
        assert len(sections) == PACKAGES[kind][1]
        assert any(part.block != "packages" for part in sections)
    decoupling = [part for part in parts if part.block == "packages" and part.kind == "capacitor"]
    assert len(decoupling) == len(packages)
    ends = Counter(net for part in parts for _, net in part.pins)
    for part in (part for part in parts if part.block == "packages" and part.kind in PACKAGES):
        assert all(net in STILL or ends[net] == len([n for _, n in part.pins if n == net]) for _, net in part.pins)


@every_pair
def test_no_part_that_can_stay_is_touched(one: str, other: str) -> None:
    """What has the same role and value on both boards is neither lifted nor bought again."""
    change = change_of(one, other)
    both = {part.role: part for part in change.before.components if part.kind in ("resistor", "capacitor", "pot")}
    stay = {
        both[part.role].reference
        for part in change.after.components
        if part.block != "packages"
        and part.role in both
        and both[part.role].value == part.value
        and both[part.role].kind == part.kind
        and both[part.role].pot == part.pot
    }
    assert not stay & {part.reference for operation in change.operations for part in operation.out}


@every_pair
def test_no_lead_only_changes_places_with_the_other_of_its_part(one: str, other: str) -> None:
    """A resistor or capacitor works either way round."""
    change = change_of(one, other)
    done = {part.reference: part for part in apply(change.operations, change.before.components)}
    for part in change.before.components:
        if part.kind in ("resistor", "capacitor") and part.reference in done:
            (_, first), (_, second) = part.pins
            (_, now_first), (_, now_second) = done[part.reference].pins
            assert first == second or (first, second) != (now_second, now_first), part.reference


@every_pair
def test_many_small_steps_in_one_are_the_same_steps_singly(one: str, other: str) -> None:
    change = change_of(one, other)
    singly = [step for operation in change.operations for step in operation.singly or (operation,)]
    done = apply(change.operations, change.before.components)
    assert {part.reference: part for part in apply(singly, change.before.components)} == {
        part.reference: part for part in done
    }
    undone = apply(inverse(singly), done)
    assert {part.reference: part for part in undone} == {part.reference: part for part in change.before.components}


@pytest.mark.parametrize(("kind", "parts_lifted"), [("zero-crossing", 35), ("logarithmic-latch", 27)])
def test_another_detector_is_a_dozen_operations_at_most(kind: str, parts_lifted: int) -> None:
    """Counted on the two sheets: resistors, capacitors and diodes of the detector that the other one does not have."""
    other = board(circuit_of("gated-first-order", detector__kind=kind))
    change = find_change(made("gated-first-order"), other)
    roles = {part.role for part in other.components}
    gone = [part for part in change.before.components if part.kind in SOLDERED and part.role not in roles]
    gone = [part for part in gone if part.block != "packages"]
    assert len(gone) == parts_lifted
    lifts = [one for one in change.operations if one.kind == "lift" and one.singly]
    assert [{part.reference for part in one.taken} for one in lifts] == [{part.reference for part in gone}]
    assert len(change.operations) <= 12


def test_the_same_circuit_needs_nothing() -> None:
    assert find_change(made("gated-swept"), made("gated-swept")).operations == ()


def test_a_log_pot_of_another_midpoint_is_another_pot() -> None:
    other = board(circuit_of("gated-swept", output__pot={"value": "100k", "taper": "log", "midpoint": "10%"}))
    (operation,) = find_change(made("gated-swept"), other).operations
    assert operation.kind == "replace"
    assert [part.control for part in operation.new] == ["volume"]


def test_operations_out_of_order_are_refused() -> None:
    change = change_of("gated-swept", "gated-first-order")
    with pytest.raises(CircuitError, match=r"the board must have R\d+ .* were the operations done in order\?"):
        apply(change.operations[:1] * 2, change.before.components)
    first = replace(change.operations[0], taken=(), put=change.before.components[:1])
    with pytest.raises(CircuitError, match="must not be on the board yet"):
        apply([first], change.before.components)
