"""A change written down by hand, as somebody at a bench would, before any code looked for it.

First order to swept second order with a peak switch, linear volume to log with a trim, direct pot gone, drive switch
hardwired so that its hole is free. Designators are those of the sheet of the box as it is.
"""

from __future__ import annotations

import pytest

from sublatch.board import board
from sublatch.board.change.find import find_change
from sublatch.board.change.operations import Operation
from sublatch.circuit.load import load_circuit

BY_HAND = [
    # kind, what comes out, what goes in, which lead goes from where to where
    ("lift", ["R19 39k"], [], []),
    ("lift", ["C9 15n"], [], []),
    ("hardwire", ["SW1 changeover"], ["two-pole changeover"], ["U6B CLK: SW1 common -> U6A /Q"]),
    ("swap", ["RV1 10k linear"], ["100k reverse-log dual-gang"], ["R21 a: RV1 wiper -> RV1 ccw"]),
    ("replace", ["RV2 100k linear"], ["100k log"], []),
    ("insert", [], ["75k"], ["volume pot cw: C10 b -> the new resistor"]),
    ("add", [], ["3k", "3k", "12n", "5n6", "22n", "47n"], []),
]
"""The order of work: take out, hardwire, change the pots, put in what is in series, then the new board.

U8A, the follower behind the filter, stays: the node of R19 and C9 at its plus input is where the new filter arrives.
R20 stays on its output. The buffer's gain stays, 8k2 in both.
"""


@pytest.fixture(scope="module")
def change():
    before = board(load_circuit("gated-first-order"))
    wanted = {"switches.drive": "inverted", "hardwired": ["drive", "direct"]}
    return find_change(before, board(load_circuit("gated-swept", changes=wanted)))


def test_the_operations_are_those_written_by_hand(change) -> None:
    assert [operation.kind for operation in change.operations] == [kind for kind, *_ in BY_HAND]
    for operation, (_, out, into, _) in zip(change.operations, BY_HAND, strict=True):
        assert sorted(_gone(operation)) == sorted(out)
        assert sorted(_new(operation)) == sorted(into)


def test_leads_go_where_the_hand_written_list_says(change) -> None:
    before = {(part.reference, pin): net for part in change.before.components for pin, net in part.pins}
    _, _, hardwired, swapped, replaced, inserted, added = change.operations
    assert _moved(hardwired) == {("U6B", "CLK"): before["U6A", "/Q"]}
    assert before["U6B", "CLK"] == before["SW1", "common"]
    assert _moved(swapped) == {("R21", "a"): before["RV1", "ccw"]}
    assert before["R21", "a"] == before["RV1", "wiper"]
    assert _moved(replaced) == {}
    ((volume, lug), to) = next(iter(_moved(inserted).items()))
    assert lug == "cw"
    assert next(part for part in inserted.put if part.reference == volume).control == "volume"
    trim = next(part for part in inserted.put if part.value == "75k")
    assert {net for _, net in trim.pins} == {before["C10", "b"], to}
    assert to not in before.values()
    assert _moved(added) == {}
    ties = {net for part in added.put for _, net in part.pins} & set(before.values())
    assert ties == {before["U8A", "out"], before["R19", "b"], "bias"} | ({before["U4B", "out"]} & ties)


def test_the_tone_pot_and_the_peak_switch_tie_in_where_the_filter_was(change) -> None:
    before = {(part.reference, pin): net for part in change.before.components for pin, net in part.pins}
    tone = [part for part in change.operations[3].put if part.control == "tone"]
    assert before["U4B", "out"] in {net for part in tone for _, net in part.pins}
    peak = [part for part in change.operations[2].put if part.control == "peak"]
    assert len(peak) == 2
    assert before["R19", "b"] in {part.net("common") for part in peak}


def _gone(operation: Operation) -> list[str]:
    """Return what an operation takes out for good, a ganged part once."""
    kept = {(part.reference, part.value) for part in operation.put}
    gone = [part for part in operation.taken if (part.reference, part.value) not in kept]
    return list(dict.fromkeys(f"{part.package or part.reference} {part.value}" for part in gone))


def _new(operation: Operation) -> list[str]:
    """Return the value of what an operation puts in, a ganged part once."""
    there = {(part.reference, part.value) for part in operation.taken}
    new = [part for part in operation.put if (part.reference, part.value) not in there]
    return list({part.package or part.reference: part.value for part in new}.values())


def _moved(operation: Operation) -> dict[tuple[str, str], str]:
    """Return the pins that an operation moves, and the nets that they go to."""
    old = {(part.reference, pin): net for part in operation.taken for pin, net in part.pins}
    new = {(part.reference, pin): net for part in operation.put for pin, net in part.pins}
    return {place: net for place, net in new.items() if place in old and old[place] != net}
