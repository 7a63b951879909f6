"""Boards that are found: whole, apart, near, the same for the same seed, and plain words where there is none."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from board_cases import circuit_of
from small_networks import SWEPT_EDGE, random_network, resistor, swept_filter
from sublatch.board.assemble import board
from sublatch.board.netlist import Component
from sublatch.board.stripboard.annealing import anneal, compiled_anneal
from sublatch.board.stripboard.problem import grid_of, problem_of
from sublatch.board.stripboard.records import Layout, Room, read_room
from sublatch.board.stripboard.search import Effort, block_layout, layout_of
from sublatch.board.stripboard.soldered import Soldered, block_components, soldered
from sublatch.errors import CircuitError, UnitError


def check_bodies(layout: Layout) -> None:
    """Assert that bodies lie 0.2 mm apart, each leg has a hole of its own, and decoupling capacitors are near."""
    for one, other in combinations(layout.parts, 2):
        for a in one.boxes_mm:
            for b in other.boxes_mm:
                across = max(a[0] - b[2], b[0] - a[2])
                down = max(a[1] - b[3], b[1] - a[3])
                assert max(across, down) >= 0.2 - 1e-9, (one.reference, other.reference)
    holes = [hole for part in layout.parts for _, hole in part.legs]
    if layout.kind == "stripboard":
        holes += [hole for link in layout.links for hole in link]
    holes += layout.cuts
    assert len(set(holes)) == len(holes)
    assert all(0 <= column < layout.columns and 0 <= row < layout.rows for column, row in holes)


def check_decoupling(layout: Layout, capacitor: str, chip: str) -> None:
    """Assert that a capacitor's leg lies within three holes of its chip's supply pin."""
    at = {(part.reference, leg): hole for part in layout.parts for leg, hole in part.legs}
    leg = {net: at[ref, leg] for ref, leg, net in layout.netlist if ref == capacitor}
    assert np.hypot(*np.subtract(at[chip, "8"], leg["supply"])) <= 3.0


@pytest.mark.parametrize("seed", range(20))
def test_random_networks_are_proved_and_their_bodies_apart(seed: int) -> None:
    parts, edge = random_network(seed, most=8)
    layout = layout_of(parts, edge=edge, seed=seed, effort=Effort(1, 30_000))
    assert layout.proved
    check_bodies(layout)
    for part in parts:
        if part.role.startswith("decoupling."):
            check_decoupling(layout, part.reference, part.role.removeprefix("decoupling."))


def test_the_same_seed_finds_the_same_board() -> None:
    parts = swept_filter()
    once, again, other = (layout_of(parts, edge=SWEPT_EDGE, seed=seed, effort=Effort(2, 30_000)) for seed in (3, 3, 4))
    assert once == again
    assert once != other


def test_plain_python_and_machine_code_find_the_same_places() -> None:
    parts = soldered([resistor("R1", "a", "b"), resistor("R2", "b", "c"), resistor("R3", "c", "a")], edge=("a", "c"))
    problem, _, nets = problem_of(parts)
    found = []
    for run in (anneal, compiled_anneal()):
        spots = np.zeros((len(parts), 3), np.int64)
        spots[:, 0] = problem.first
        spots[:, 1:] = problem.margin[problem.first, :2]
        best, grid, rng = spots.copy(), grid_of(8, 6, nets=nets), np.array([77])
        figures = run(problem, spots, grid, rng, np.array([1500, 3.0, 0.3, 8.0, 14.0, 0.0]), best)
        found.append((figures, best.tolist(), int(rng[0])))
    assert found[0][1:] == found[1][1:]
    assert found[0][0] == pytest.approx(found[1][0])
    assert found[0][0][0] == 0


def test_a_board_fits_the_room_that_there_is() -> None:
    layout = layout_of(swept_filter(), edge=SWEPT_EDGE, room=Room(18.0, 26.0), effort=Effort(4, 50_000))
    assert sorted(layout.size_mm) <= [18.5, 26.5]
    assert min(layout.size_mm) <= 18.5
    assert max(layout.size_mm) <= 26.5


def test_a_room_that_is_too_small_is_told_with_the_nearest_that_works() -> None:
    with pytest.raises(CircuitError, match=r"in a room of 10 × 12 mm; the nearest found is \d+ × \d+ holes"):
        layout_of(swept_filter(), edge=SWEPT_EDGE, room=Room(10.0, 12.0), effort=Effort(1, 20_000))


@pytest.mark.parametrize(
    ("part", "told"),
    [
        (Component("X1", "block", "leveller", "x", "own", (("a", "b"),)), "got X1, leveller"),
        (
            Component("C9", "electrolytic", "4700u", "x", "own", (("a", "b"), ("b", "c")), amount=4.7e-3),
            "largest known is 470 µF",
        ),
        (Component("U7A", "op-amp", "", "x", "own", (("iabc", "b"),), package="U7"), "'iabc' of U7A"),
    ],
)
def test_a_part_of_unknown_body_or_pins_is_told_plainly(part: Component, told: str) -> None:
    with pytest.raises(CircuitError, match=told):
        layout_of([part], effort=Effort(1))


def test_a_blocks_chip_is_whole_and_its_other_half_is_tied_off() -> None:
    parts = _parts("gated-swept", "filter")
    chip = _chip(parts)
    assert dict(chip.legs) == {
        **{"1": "filtered", "2": "filtered", "3": "filter.b", "4": "0V"},
        **{"5": "bias", "6": f"{chip.reference}B tied off", "7": f"{chip.reference}B tied off", "8": "supply"},
    }  # pins of the 072 type, from memory
    wires = {part.value for part in parts.values() if part.body.outline == "wire"}
    assert {"supply", "0V", "bias", "filtered", "filter.first", "filter.second", "filter.a", "filter.b"} <= wires
    assert "octave" not in wires  # it goes to the pot alone


def test_pins_of_logic_are_those_of_the_common_types() -> None:
    """Data sheets of the 4013 and 4053 types, from memory."""
    flip_flop = dict(_chip(_parts("gated-swept", "divider")).legs)
    assert (flip_flop["14"], flip_flop["7"]) == ("supply", "0V")
    assert (flip_flop["11"], flip_flop["9"], flip_flop["12"]) == ("clock", "drive", "drive")
    assert {flip_flop[pin] for pin in ("8", "10", "3", "4", "5", "6")} == {"0V"}
    assert (flip_flop["13"], flip_flop["1"], flip_flop["2"]) == ("", "", "")
    switch = dict(_chip(_parts("gated-swept", "octave"), pins=16).legs)
    assert (switch["16"], switch["8"], switch["7"], switch["6"]) == ("supply", "0V", "0V", "0V")
    assert (switch["11"], switch["13"], switch["12"], switch["14"]) == ("drive", "note", "bias", "octave.switched")
    assert {switch[pin] for pin in ("1", "2", "3", "4", "5", "9", "10", "15")} == {"0V"}  # the spare two, as drawn


def test_the_transconductance_chip_has_the_pins_of_its_data_sheet() -> None:
    """Texas Instruments LM13700, connection diagram: 1 amp bias A, 3 and 4 inputs, 5 output, 6 V−, 11 V+ (memory)."""
    legs = dict(_chip(_parts("pair", "octave"), pins=16).legs)
    assert (legs["1"], legs["3"], legs["4"], legs["5"]) == (
        *("octave.control", "octave.plus", "octave.minus", "octave.current"),
    )
    assert (legs["6"], legs["11"], legs["8"], legs["9"], legs["12"]) == ("0V", "supply", "", "", "")
    assert {legs[pin] for pin in ("2", "7", "10", "13", "14", "15", "16")} == {"0V"}  # diodes, buffers, spare half


def test_perfboard_is_proved_too() -> None:
    layout = layout_of(swept_filter(), edge=SWEPT_EDGE, effort=Effort(2, 20_000), strips=False)
    assert (layout.kind, layout.cuts, layout.proved) == ("perfboard", (), True)
    check_bodies(layout)


def test_a_block_that_is_not_there_is_told_with_those_that_are() -> None:
    with pytest.raises(CircuitError, match=r"no block 'fliter' \(known: input, supply"):
        block_layout(board(circuit_of("gated-swept")), "fliter")


@pytest.mark.parametrize(("text", "sides"), [("15x25mm", (15.0, 25.0)), ("15mm x 25.4 mm", (15.0, 25.4))])
def test_a_room_is_read(text: str, sides: tuple[float, float]) -> None:
    assert read_room(text) == Room(*sides)


@pytest.mark.parametrize("text", ["15", "15x25", "0x3mm", "9999x3mm", "ax3mm"])
def test_what_is_no_room_is_refused(text: str) -> None:
    with pytest.raises(UnitError, match="room"):
        read_room(text)


def test_a_room_holds_boards_lengthwise_and_crosswise() -> None:
    assert Room(15.0, 25.0).holds(6, 10)  # 15.24 × 25.4 mm, a quarter of a millimetre filed off all round
    assert Room(15.0, 25.0).holds(10, 6)
    assert not Room(15.0, 25.0).holds(7, 10)


def _parts(case: str, block: str) -> dict[str, Soldered]:
    """Return what is soldered of one block, by reference."""
    parts, edge = block_components(board(circuit_of(case)), block)
    return {part.reference: part for part in soldered(parts, edge=edge)}


def _chip(parts: dict[str, Soldered], *, pins: int | None = None) -> Soldered:
    """Return the one chip among what is soldered, or the one with so many pins."""
    (chip,) = (one for one in parts.values() if one.body.outline == "chip" and (pins is None or one.body.pins == pins))
    return chip
