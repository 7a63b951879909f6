"""IEC 60063:2015, preferred number series for resistors and capacitors (edition from memory).

The tables below are the published members; an independent library, `eseries`, holds all seven series.
Tolerance: exact.
"""

import eseries
import pytest

from sublatch.circuit.components import preferred

E6 = "10 15 22 33 47 68"
E12 = "10 12 15 18 22 27 33 39 47 56 68 82"
E24 = "10 11 12 13 15 16 18 20 22 24 27 30 33 36 39 43 47 51 56 62 68 75 82 91"
E48 = (
    "100 105 110 115 121 127 133 140 147 154 162 169 178 187 196 205 215 226 237 249 261 274 287 301 "
    "316 332 348 365 383 402 422 442 464 487 511 536 562 590 619 649 681 715 750 787 825 866 909 953"
)
E96_BETWEEN_E48 = (
    "102 107 113 118 124 130 137 143 150 158 165 174 182 191 200 210 221 232 243 255 267 280 294 309 "
    "324 340 357 374 392 412 432 453 475 499 523 549 576 604 634 665 698 732 768 806 845 887 931 976"
)
NAMES = ["E3", "E6", "E12", "E24", "E48", "E96", "E192"]


def _numbers(table: str) -> list[int]:
    return [int(word) for word in table.split()]


@pytest.mark.parametrize(("name", "table"), [("E6", E6), ("E12", E12), ("E24", E24)])
def test_two_digit_series(name, table):
    assert preferred.series(name) == tuple(number / 10 for number in _numbers(table))


@pytest.mark.parametrize(("name", "table"), [("E48", E48), ("E96", f"{E48} {E96_BETWEEN_E48}")])
def test_three_digit_series(name, table):
    assert preferred.series(name) == tuple(number / 100 for number in sorted(_numbers(table)))


@pytest.mark.parametrize("name", NAMES)
def test_every_series_agrees_with_the_library(name):
    members = list(eseries.series(eseries.ESeries[name]))
    assert preferred.series(name) == tuple(member / members[0] for member in members)
    assert len(preferred.series(name)) == int(name[1:])


def test_e192_departs_from_its_rule_once():
    rule = [round(100 * 10 ** (i / 192)) / 100 for i in range(192)]
    differing = [(a, b) for a, b in zip(rule, preferred.E192, strict=True) if a != b]
    assert differing == [(9.19, 9.20)]


def test_e24_departs_from_the_rule_at_eight_members():
    rule = [round(10 * 10 ** (i / 24)) / 10 for i in range(24)]
    differing = {b: a for a, b in zip(rule, preferred.E24, strict=True) if a != b}
    assert differing == {2.7: 2.6, 3.0: 2.9, 3.3: 3.2, 3.6: 3.5, 3.9: 3.8, 4.3: 4.2, 4.7: 4.6, 8.2: 8.3}


def test_series_contain_one_another_only_within_their_family():
    assert set(preferred.E3) < set(preferred.E6) < set(preferred.E12) < set(preferred.E24)
    assert set(preferred.E48) < set(preferred.E96) < set(preferred.E192)
    assert set(preferred.E24) & set(preferred.E96) == {1.0, 1.1, 1.3, 1.5, 2.0, 7.5}
