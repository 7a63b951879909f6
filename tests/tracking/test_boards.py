"""Lock over boards: against tracking each board by itself, at the take's own rate."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.circuit.boards import BoardDraws, drawn_board
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.load import load_circuit
from sublatch.demo.takes import demo_takes
from sublatch.errors import CircuitError
from sublatch.takes.take import take_from_samples
from sublatch.tracking.boards import lock_over_boards
from sublatch.tracking.track import track

CIRCUIT = load_circuit("gated-open")
DRAWS = BoardDraws(6, first=3, tolerances=Tolerances(resistor=0.05, capacitor=0.1))


@pytest.fixture(scope="module")
def take():
    return take_from_samples(demo_takes(48000)["hard-accents"][: 6 * 48000], 48000, name="hard-accents")


@pytest.fixture(scope="module")
def boards(take):
    return lock_over_boards(take, CIRCUIT, draws=DRAWS)


def test_a_lower_rate_tells_the_same_within_half_a_point(take, boards):
    alone = [track(take, drawn_board(CIRCUIT, number, tolerances=DRAWS.tolerances)) for number in DRAWS.numbers]
    assert boards.locked == pytest.approx([one.locked_share for one in alone], abs=0.005)
    assert len({round(one.locked_share, 3) for one in alone}) > 1
    notes = [[item.lock.locked_share for item in one.notes] for one in alone]
    assert np.mean(np.abs(boards.shares - notes)) < 0.005


def test_what_is_told_of_all_boards_and_of_notes(boards):
    told = boards.json_fields()
    assert told["locked_p10"] <= told["locked_median"] <= told["locked_p90"]
    assert told["locked_median"] == pytest.approx(float(np.median(boards.locked)))
    assert boards.locked[told["poorest_board"] - 3] == min(boards.locked)
    assert np.sum(boards.locked < boards.locked[told["median_board"] - 3]) <= 2
    for place in range(len(boards.notes)):
        note = boards.note_json_fields(place)
        assert note["lost_on_boards"] == sum(share < 0.85 for share in boards.shares[:, place])
        assert note["locked_p10"] <= note["locked_p90"]


def test_boards_are_counted_and_a_take_without_a_note_has_none(take):
    seen = []
    lock_over_boards(take, CIRCUIT, draws=BoardDraws(2), progress=lambda: seen.append(1))
    assert len(seen) == 2
    assert lock_over_boards(take_from_samples(np.zeros(48000), 48000), CIRCUIT, draws=BoardDraws(2)) is None
    with pytest.raises(CircuitError, match="boards must be 1 to 1000, got 0"):
        BoardDraws(0)
