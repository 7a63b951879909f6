"""The part to select: culprits that are planted, in an invented law of lock and in circuits on a take."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.circuit.boards import BoardDraws, drawn_board, drawn_paths
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.load import load_circuit
from sublatch.takes.take import take_from_samples
from sublatch.tracking.board_parts import BoardPart, Selection, hearings, part_to_select
from sublatch.tracking.boards import lock_over_boards, with_selection

IDEAL = {"devices.values": "ideal"}
"""As drawn nothing is off, so that whatever a board loses is its parts' doing."""
CIRCUIT = load_circuit("gated-open", changes={"detector.kind": "peak-latch", **IDEAL})
DRAWS = BoardDraws(20, first=5, least_supply_v=7.0)
RATE = 16000
DEVICES = ("op_amp_offset", "op_amp_bias", "comparator_offset", "comparator_bias", "diode_leakage")
NO_ERRORS = {f"devices.{name}": 0.0 for name in DEVICES}


def value_at(circuit, path):
    """A number of a circuit by its dotted path."""
    for step in path.split("."):
        circuit = getattr(circuit, step)
    return circuit


def off_at(circuit, path):
    """How far a part of a board is off, as a share; whether its devices have the error that a path names."""
    if path.startswith("devices."):
        return 0.0 if circuit.devices.values == "ideal" or value_at(circuit, path) == 0.0 else 0.1
    return abs(value_at(circuit, path) / value_at(CIRCUIT, path) - 1.0)


def selected(law):
    """What is selected where an invented law gives the lock of a circuit, and how many circuits were asked for."""
    asked = []

    def locked_share(circuit):
        asked.append(circuit)
        return law(circuit)

    locked = np.array([law(DRAWS.board(CIRCUIT, number)) for number in DRAWS.numbers])
    return part_to_select(CIRCUIT, DRAWS, locked, locked_share=locked_share), locked, len(asked)


@pytest.mark.parametrize(
    "culprit",
    [
        "input.coupling",
        "detector.filter.third_resistor",
        "detector.hold_capacitor",
        "devices.comparator_offset",
        "devices.diode_leakage",
        "supply",
    ],
)
def test_the_culprit_is_named_among_others_that_do_a_little(culprit):
    others = ("input.resistance", "detector.filter.first_resistor", "detector.hold_resistor")
    lock_lost = 3.0

    def law(circuit):
        return 1.0 - lock_lost * off_at(circuit, culprit) - 0.02 * sum(off_at(circuit, path) for path in others)

    found, locked, asked = selected(law)
    assert found.falls_short
    assert found.part.path == culprit
    poorest = [DRAWS.numbers[place] for place in np.argsort(locked)[:2]]
    wanted = np.mean([lock_lost * off_at(DRAWS.board(CIRCUIT, number), culprit) for number in poorest])
    assert found.part.gained == pytest.approx(wanted, abs=1e-9)
    assert found.as_drawn == 1.0
    assert asked <= hearings(CIRCUIT, DRAWS) <= 40


def test_no_part_is_named_where_all_do_a_little():
    paths = [path for path in drawn_paths(CIRCUIT) if path.startswith("detector.")]
    found, locked, _ = selected(
        lambda circuit: (
            0.9 - 0.01 * sum(off_at(circuit, path) for path in paths) - 0.02 * (circuit.devices.values == "drawn")
        )
    )
    assert np.percentile(locked, 10) < 0.88
    assert (found.falls_short, found.part) == (True, None)
    assert "no single part" in found.words()


def test_nothing_is_looked_for_where_boards_hold_on_like_the_circuit_as_drawn():
    found, _, asked = selected(lambda circuit: 0.9 - 0.005 * (circuit.devices.values == "drawn"))
    assert found == Selection(0.9, falls_short=False)
    assert asked == 1
    assert found.words() == ""


def test_words_have_the_sheets_designators():
    found = Selection(0.9, falls_short=True, part=BoardPart("detector.hold_capacitor", 0.0314))
    text = found.words({"detector.hold_capacitor": "C7, C9"})
    assert text.startswith("detector.hold_capacitor (C7, C9) at its nominal value would give the poorest boards 3.1 ")
    assert "(" not in found.words()


def test_what_is_put_back_is_nominal_and_nothing_else_moves():
    whole = drawn_board(CIRCUIT, 3, least_supply_v=7.0)
    for path in ("detector.hold_capacitor", "input.coupling", "supply"):
        put_back = drawn_board(CIRCUIT, 3, least_supply_v=7.0, nominal=[path])
        assert value_at(put_back, path) == value_at(CIRCUIT, path) != value_at(whole, path)
        changed = [one for one in drawn_paths(CIRCUIT) if value_at(put_back, one) != value_at(whole, one)]
        assert changed == [path]
    assert (
        drawn_board(CIRCUIT, 3, nominal=drawn_paths(CIRCUIT)).model_copy(update={"devices": CIRCUIT.devices}) == CIRCUIT
    )


def dying_notes(volts):
    """Four notes of a second that die away at 3 nepers a second, and rests between them."""
    t = np.arange(RATE) / RATE
    shape = np.minimum(1.0, t / 0.005) * np.minimum(1.0, (1.0 - t) / 0.02) * np.exp(-3.0 * t)
    notes = [shape * sum(np.sin(2 * np.pi * k * hz * t) / k**2 for k in (1, 2, 3)) for hz in (55.0, 65.4, 73.4, 82.4)]
    return take_from_samples(volts * np.concatenate([np.append(note, np.zeros(RATE // 5)) for note in notes]), RATE)


FIXED = {
    "kind": "zero-crossing",
    "filter": {"kind": "first-order", "resistor": "1k", "capacitor": "10n"},
}


@pytest.mark.parametrize(
    ("changes", "tolerances", "volts", "culprit"),
    [
        (  # a coupling capacitor far too small, before a fixed threshold: what comes through goes with it
            {
                "input.coupling": "220p",
                "input.resistance": "100k",
                "detector": {**FIXED, "hysteresis": "1mV"},
                **NO_ERRORS,
            },
            Tolerances(capacitor=0.3, resistor=0.01),
            1.0,
            "input.coupling",
        ),
        (  # a threshold no larger than what comparators are off, with parts that hardly matter
            {"detector": {**FIXED, "hysteresis": "2mV"}, **NO_ERRORS, "devices.comparator_offset": "10mV"},
            Tolerances(capacitor=0.1, resistor=0.05),
            0.03,
            "devices.comparator_offset",
        ),
    ],
    ids=["a part", "comparators"],
)
def test_the_culprit_of_a_circuit_is_named_on_a_take(changes, tolerances, volts, culprit):
    circuit, take = load_circuit("gated-open", changes=IDEAL | changes), dying_notes(volts)
    boards = lock_over_boards(take, circuit, draws=BoardDraws(10, tolerances=tolerances))
    assert boards.json_fields().keys().isdisjoint({"part_to_select"})
    steps = []
    boards = with_selection(boards, take, circuit, progress=lambda: steps.append(1))
    assert boards.selection.falls_short
    assert boards.selection.part.path == culprit
    assert boards.selection.part.gained > 0.02
    assert boards.json_fields()["part_to_select"] == boards.selection.part
    assert len(steps) <= hearings(circuit, boards.draws)
