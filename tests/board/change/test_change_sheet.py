"""What the change sheet says, against figures worked out by hand from the two circuits' values."""

from __future__ import annotations

import re
from html import unescape
from math import pi, sqrt

import pytest

from board_cases import circuit_of
from sublatch.board import board
from sublatch.board.change.find import find_change
from sublatch.board.change.page.checks import checks, joints
from sublatch.board.change.page.page import page, parts_to_buy
from sublatch.board.change.page.readings import bench
from sublatch.board.change.page.words import steps
from sublatch.board.change.points import points
from sublatch.board.change.small_board import SmallBoard
from sublatch.units import volts

NO_BOARD = SmallBoard(None, "no room for it")


@pytest.fixture(scope="module")
def change():
    return find_change(*(board(circuit_of(case)) for case in ("gated-first-order", "hardwired")))


@pytest.fixture(scope="module")
def html(change):
    return page(change, board=NO_BOARD)


@pytest.fixture(scope="module")
def text(html):
    plain = re.sub(r"<style>.*?</style>|<svg.*?</svg>", " ", html, flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", plain)).split())


@pytest.fixture(scope="module")
def readings(change):
    found = checks(change, points(change), bench(change.before), bench(change.changed))
    return {check.letter or check.leads: check for check in found}


def middle(told: str) -> float:
    """Return the voltage ahead of the range in brackets."""
    number, unit = re.fullmatch(r"([\d.]+) \(.*\)\s(\w+)", told).groups()
    return volts(number + unit)


def test_single_operations_are_told_in_one_sentence(change) -> None:
    told = [step.what for step in steps(change)]
    assert told[3] == (
        "Hardwire the drive switch SW2 (changeover) at inverted, put the peak switch SW3 (two-pole changeover) into "
        "its hole"
    )
    assert told[4] == (
        "Take out the direct pot RV1 (10k linear), put the tone pot RV3 (100k reverse-log 15 % dual-gang) into its hole"
    )
    assert "the end of R41 that was on it hangs loose: sleeve it" in steps(change)[4].where
    assert all(step.where and step.back for step in steps(change))


def test_readings_before_work_begins_are_those_of_the_circuit_before(readings) -> None:
    """100 mV through 22n into 1M, then 39k and 15n; half of it at the mix."""
    front = 0.1 / sqrt(1.0 + (1.0 / (2 * pi * 1e6 * 22e-9) / 100.0) ** 2)
    filtered = front / sqrt(1.0 + (100.0 * 2 * pi * 39e3 * 15e-9) ** 2)
    assert middle(readings["C"].before.tone) == pytest.approx(front, rel=2e-3)
    assert middle(readings["D"].before.tone) == pytest.approx(filtered, rel=2e-3)
    assert middle(readings["F"].before.tone) == pytest.approx(filtered / 2, rel=2e-3)
    assert readings["G"].before.at_rest.startswith("4.50")
    assert readings["A"].before.at_rest.startswith("0 V or 9.00")


def test_readings_afterwards_are_those_of_the_circuit_after(readings) -> None:
    """The filter passes 100 Hz, nothing divides it at the mix; behind the trim of 75k are 100k in parallel with 1M."""
    lower = 1.0 / (1.0 / 100e3 + 1.0 / 1e6)
    front = 0.1 / sqrt(1.0 + (1.0 / (2 * pi * 1e6 * 22e-9) / 100.0) ** 2)
    mixed = middle(readings["F"].after.tone)
    assert mixed == pytest.approx(front, rel=5e-3)
    assert middle(readings["Q"].after.tone) == pytest.approx(mixed * lower / (lower + 75e3), rel=5e-3)
    assert readings["Q"].before is None
    assert (readings["B"].after, readings["B"].joined) == (None, "A")


def test_joints_are_checked_before_power(change) -> None:
    assert joints(change, points(change)) == ["U8B CLK to A: below 1 Ω"]


def test_only_the_change_is_bought(change) -> None:
    bought = sorted(value for line in parts_to_buy(change) for value in [line.value] * line.quantity)
    wanted = ["3k", "3k", "75k", "12n", "5n6", "22n", "47n", "100k log", "100k reverse-log dual-gang"]
    assert bought == sorted([*wanted, "two-pole changeover"])


def test_corners_loads_and_cautions_are_on_the_page(text) -> None:
    assert "272 Hz" in text  # 1 / (2π 39k 15n)
    assert "Corner of output.coupling, volume at 0, 5 and 10 1.59 Hz, 1.63 Hz, 1.75 Hz" in text
    assert "Least load of U6B out (“octave”), 20 Hz to 20 kHz 39k" in text
    assert "A battery and an external supply must never feed the board together" in text
    assert "The supply jack’s switch has to take the battery off" in text
    assert "Battery plus (BT1) goes to its switch contact and nowhere else, the board (D4) to its plus contact" in text
    assert "volume before off" in text


@pytest.mark.long
def test_the_same_circuits_give_the_same_page(change, html) -> None:
    assert page(find_change(change.before, change.after), board=NO_BOARD) == html


def test_a_switch_of_as_many_poles_takes_over_the_job() -> None:
    """A filter with one switched capacitor has a peak switch of one pole, as the drive switch is."""
    own = circuit_of("own-networks").filter
    before = circuit_of("gated-open")
    hardwired = circuit_of("gated-open", hardwired=["drive"], switches__drive="inverted")
    change = find_change(board(before), board(hardwired.model_copy(update={"filter": own})))
    told = [step.what for step in steps(change) if step.kind == "hardwire"]
    assert told == ["Hardwire the drive switch SW2 (changeover) at inverted, use it for the peak"]
    assert "changeover" not in {line.value for line in parts_to_buy(change)}


def test_where_no_small_board_is_found_the_sheet_says_why_and_has_all_else(text) -> None:
    assert text.endswith("No board for it: no room for it.")
    assert "Where it ties in, and what is to be found there" in text
