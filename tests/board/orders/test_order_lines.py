"""Every line of every built-in circuit's order list: all that a shop asks for, and as many as the netlist has.

What a shop asks for of each sort of part is common practice, no source.
"""

from __future__ import annotations

import re
from collections import Counter

import pytest

from board_cases import circuit_of, every_case
from sublatch.board.assemble import board
from sublatch.board.netlist import Board
from sublatch.board.orders.lines import OrderLine, order_lines
from sublatch.board.packages.pins import PINOUTS
from sublatch.board.stripboard.bodies import body_of
from sublatch.board.stripboard.records import Layout, Placed
from sublatch.board.stripboard.soldered import OFF_BOARD, block_components
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.units import farads, ohms

OHMS, FARADS = r"[\d.]+ (k|M)?Ω", r"[\d.]+ (p|n|µ)F"
PERCENT, VOLTS, MM = r"\d+ %", r"at least [\d.]+ V", r"[\d.]+ mm"
AXIAL = r"7\.62 mm or more lying, 2\.54 mm standing"
BUSH = r".*\(\d+(\.\d+)? mm hole\).*"
DIP = r"2\.54 mm, rows 7\.62 mm apart"
ASKED: dict[str, tuple[str, str, str, str, str, str]] = {
    "resistor, metal film": (OHMS, PERCENT, r"0\.25 W", r"axial, body .*", AXIAL, r""),
    "film capacitor": (FARADS, PERCENT, VOLTS, r"polyester box .* × .* mm", r"(2\.5|5) mm", r""),
    "ceramic capacitor, (C0G|X7R)": (FARADS, PERCENT, VOLTS, r".* × .* mm", r"(2\.5|5) mm", r""),
    "electrolytic capacitor, polarised": (FARADS, PERCENT, VOLTS, r"radial can, .* mm across", MM, r""),
    "bipolar electrolytic capacitor": (FARADS, PERCENT, VOLTS, r"radial can, .* mm across", MM, r""),
    "potentiometer, (linear|log|reverse-log), (one gang|dual-gang)": (
        *(OHMS, PERCENT, r"0\.05 W", r".*16 mm body, round 6 mm shaft.*" + BUSH, r"solder lugs", r""),
    ),
    "diode": (r"1N\d+", r"", r".* V", r"DO-(35|41), .*", AXIAL, r"1N\d+( or 1N\d+)?"),
    "light-emitting diode": (r"red", r"", r"2 V at 1 mA", r"5 mm, .*", r"2\.54 mm", r""),
    "integrated circuit, .*": (r"\w+", r"", r"\d+ V to \d+ V supply", r"DIP-(8|14|16)", DIP, r"\w+.*"),
    "toggle switch, on-on": (r"changeover, (one pole|two poles)", r"", r".* V", BUSH, r"solder lugs", r""),
    "footswitch, latching, on-on": (r"changeover, three poles", r"", r".* V", BUSH, r"solder lugs", r""),
    "jack": (r"6\.35 mm, (mono|stereo)", r"", r"", BUSH, r"solder lugs", r""),
    "supply jack": (r"5\.5 mm × 2\.1 mm, with switch contact", r"", r"1 A", r".*hole, plastic.*", r"solder lugs", r""),
    "battery": (r"9 V", r"", r"alkaline", r"6LR61", r"snap contacts", r""),
}
"""By part: value, tolerance, rating, package, lead pitch and types, each as a pattern for the whole cell."""
HARDWARE = (
    *("chip socket", "knob", "lamp holder", "battery clip", "stripboard", "stranded wire", "bare wire", "enclosure"),
)


@pytest.mark.parametrize("name", circuit_names())
def test_no_line_of_a_built_in_circuit_leaves_a_shops_question_open(name: str) -> None:
    for line in order_lines(board(load_circuit(name))):
        item = line.item
        if not line.designators:
            assert item.kind in HARDWARE
            assert all((line.quantity, item.value, item.package, item.note))
            continue
        asked = next(cells for kind, cells in ASKED.items() if re.fullmatch(kind, item.kind))
        given = (item.value, item.tolerance, item.rating, item.package, item.pitch, item.types)
        for cell, pattern in zip(given, asked, strict=True):
            assert re.fullmatch(pattern, cell), (line.designators, cell, pattern)


@every_case
def test_there_are_as_many_of_each_as_the_netlist_has(case: str) -> None:
    made = board(circuit_of(case))
    lines = order_lines(made)
    listed = Counter(reference for line in lines for reference in line.designators)
    assert set(listed.values()) == {1}
    assert set(listed) == {part.package or part.reference for part in made.components}
    for line in lines:
        if line.designators and line.item.kind != "battery":
            assert line.quantity == len(line.designators)
    values = {reference: line.item.value for line in lines for reference in line.designators}
    for reference, value in values.items():
        part = next(one for one in made.components if (one.package or one.reference) == reference)
        read = {"resistor": ohms, "pot": ohms, "capacitor": farads, "electrolytic": farads}.get(part.kind)
        if read is not None and part.amount is not None:
            assert read(value) == pytest.approx(part.amount, rel=5e-4)


@every_case
def test_each_chip_has_a_socket_and_each_pot_on_the_panel_a_knob(case: str) -> None:
    made = board(circuit_of(case))
    lines = order_lines(made)
    packages = Counter(
        line.item.package for line in lines for _ in line.designators if line.item.kind.startswith("integrated")
    )
    assert packages == {line.item.value: line.quantity for line in lines if line.item.kind == "chip socket"}
    pots = [shaft for shaft in made.ganged("pot") if shaft[0].on_panel]
    assert [line.quantity for line in lines if line.item.kind == "knob"] == [len(pots)]


@pytest.mark.parametrize(("supply", "batteries"), [("9V", 1), ("18V", 2)])
def test_batteries_and_clips_give_the_supply(supply: str, batteries: int) -> None:
    lines = order_lines(board(load_circuit("gated-open", changes={"supply": supply})))
    assert [line.quantity for line in lines if line.item.kind in ("battery", "battery clip")] == [batteries] * 2


def test_a_supply_that_no_battery_gives_is_told() -> None:
    lines = order_lines(board(load_circuit("gated-open", changes={"supply": "12V"})))
    (battery,) = (line for line in lines if line.item.kind == "battery")
    assert "use a supply instead" in battery.item.note


def test_a_board_laid_out_by_hand_has_room_on_the_stripboard() -> None:
    (line,) = (one for one in order_lines(board(circuit_of("pair"))) if one.item.kind == "stripboard")
    assert line.quantity == 1
    assert int(line.item.note.split()[0]) < 39 * 62  # holes of a piece of 100 × 160 mm


def test_a_capacitor_is_ordered_with_the_lead_pitch_that_its_layout_has() -> None:
    made = board(circuit_of("gated-swept"))
    own = made.component("filter.ground_capacitor.flat")
    assert _line(order_lines(made), own.reference).item.pitch == "5 mm"
    layout = _laid_out(made, own.reference, span=1)
    line = _line(order_lines(made, layouts=[layout]), own.reference)
    assert line.item.pitch == "2.5 mm"
    assert line.item.package.endswith("body at most 4.6 × 2.5 mm")
    assert line.designators == (own.reference,)


def test_a_chip_whose_sections_stand_on_several_boards_is_ordered_for_each() -> None:
    """Every block on a board of its own: of each chip, its socket and its capacitors one for each block it serves."""
    made = board(load_circuit("gated-swept"))
    blocks = [name for name in dict.fromkeys(part.block for part in made.components) if name != "packages"]
    served: Counter[str] = Counter()
    for block in blocks:
        served.update({str(part.package) for part in made.of_block(block) if part.kind in PINOUTS})
    assert max(served.values()) > 1
    capacitors = {part.reference: str(part.role).split(".")[1] for part in made.components if "decoupling" in part.role}
    on_boards = [
        {part.package or part.reference for part in block_components(made, block)[0] if part.kind not in OFF_BOARD}
        for block in blocks
        if any(part.kind not in OFF_BOARD for part in made.of_block(block))
    ]
    layouts = [
        Layout("stripboard", 1, 1, tuple(Placed(one, "", "rod", False, (), ()) for one in names), (), (), (), True, 0)
        for names in on_boards
    ]
    lines = order_lines(made, layouts=layouts)
    for line in lines:
        wanted = [served.get(capacitors.get(name, name), 1) for name in line.designators]
        is_chip = line.item.kind.startswith("integrated circuit")
        if is_chip or (line.designators and set(line.designators) <= capacitors.keys()):
            assert line.quantity == sum(wanted), line
            for name, count in zip(line.designators, wanted, strict=True):
                assert (f"{name} on {count} boards" in line.note) == (count > 1)
    sockets = sum(line.quantity for line in lines if line.item.kind == "chip socket")
    assert sockets == sum(served.values())


def test_a_pot_that_is_hard_to_buy_says_so() -> None:
    lines = order_lines(board(load_circuit("gated-open", changes={"output.pot.value": "33k"})))
    (pot,) = (line for line in lines if line.item.value == "33 kΩ" and line.item.kind.startswith("potentiometer"))
    assert "hard to buy: a 33k" in pot.item.note


def _line(lines: list[OrderLine], reference: str) -> OrderLine:
    """Return the line of a designator."""
    return next(line for line in lines if reference in line.designators)


def _laid_out(made: Board, reference: str, *, span: int) -> Layout:
    """Return a layout with one capacitor whose legs stand so many holes apart."""
    part = next(one for one in made.components if one.reference == reference)
    legs = (("a", (0, 0)), ("b", (span, 0)))
    placed = Placed(reference, part.value, body_of(part).outline, False, legs, ())
    return Layout("stripboard", 4, 2, (placed,), (), (), (), True, 0)
