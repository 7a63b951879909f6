"""The netlist pin by pin, and both files: as a spreadsheet reads them, and never in place of another's."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from board_cases import circuit_of, every_case
from sublatch.board.assemble import board
from sublatch.board.netlist import Board
from sublatch.board.orders.files import OrderFiles, order_text, pins_text
from sublatch.board.orders.pins import pin_rows
from sublatch.errors import OutputError
from sublatch.files.tables import plain_cell, table_text


@every_case
def test_each_pin_of_the_board_has_one_row_on_its_net(case: str) -> None:
    made = board(circuit_of(case))
    rows = pin_rows(made)
    pins = Counter((designator, pin) for _, designator, pin, _ in rows)
    assert set(pins.values()) == {1}
    assert len(rows) == sum(len(part.pins) for part in made.components)
    joined = Counter(net for part in made.components for _, net in part.pins)
    assert Counter(net for net, *_ in rows) == joined


def test_pins_have_the_numbers_of_data_sheets_and_lugs() -> None:
    """072 type: 1 output, 2 inverting, 3 non-inverting, 4 V−, 8 V+ (data sheet, from memory); a wiper is lug 2."""
    made = board(circuit_of("gated-swept"))
    at = {(designator, pin): (net, name) for net, designator, pin, name in pin_rows(made)}
    assert at["U1", "1"] == ("note", "A out")
    assert at["U1", "2"] == ("note", "A in−")
    assert at["U1", "3"] == ("input.a", "A in+")
    assert (at["U1", "4"], at["U1", "8"]) == (("0V", "V-"), ("supply", "V+"))
    volume = made.component("output.pot").reference
    assert at[volume, "2"] == ("output.wiper", "wiper")
    bulk = made.component("supply.bulk").reference
    assert (at[bulk, "1"], at[bulk, "2"]) == (("supply", "plus"), ("0V", "minus"))
    drive = made.component("switches.drive").reference
    assert [at[drive, pin] for pin in "123"] == [("latch", "normal"), ("clock", "common"), ("not latch", "inverted")]


def test_a_spreadsheet_reads_the_order_list_as_it_is_meant() -> None:
    text = order_text(board(circuit_of("gated-open")))
    assert text.encode().startswith(b"\xef\xbb\xbf")  # by it spreadsheets know UTF-8 (common practice, no source)
    rows = list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"), newline="")))
    assert list(rows[0]) == [
        *("quantity", "part", "value", "tolerance", "rating", "package", "lead pitch", "types", "designators", "note"),
    ]
    assert {"470 Ω", "1 µF"} <= {row["value"] for row in rows}
    assert all(row["quantity"].isdigit() for row in rows)


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@SUM(1)", "\t=1", "\r=1"])
def test_no_cell_is_worked_out_as_a_formula(cell: str) -> None:
    """The characters that spreadsheets begin a formula with (OWASP, CSV Injection, from memory)."""
    assert plain_cell(cell) == f"'{cell}"
    made = _with_net(board(circuit_of("gated-open")), cell)
    (row,) = (row for row in csv.reader(io.StringIO(pins_text(made), newline="")) if row[1:3] == ["R1", "1"])
    assert row[0] == f"'{cell}"


def test_numbers_stay_numbers_and_line_ends_are_those_of_the_standard() -> None:
    """RFC 4180, section 2: lines end in CR LF; fields with commas or quotes are quoted, quotes doubled."""
    assert table_text(("a", "b"), [(1, 'x, "y"')]) == '\ufeffa,b\r\n1,"x, ""y"""\r\n'


def test_only_files_of_their_own_are_replaced(tmp_path: Path) -> None:
    made = board(circuit_of("gated-open"))
    files = OrderFiles(tmp_path / "parts.csv", tmp_path / "netlist.csv")
    for _ in range(2):
        files.guard()
        files.write(made)
    (tmp_path / "parts.csv").write_text("mine\n", encoding="utf-8")
    with pytest.raises(OutputError, match=r"parts\.csv exists and was not made by sublatch"):
        files.guard()
    with pytest.raises(OutputError, match=r"netlist\.csv exists and was not made"):
        OrderFiles(parts=tmp_path / "netlist.csv").guard()  # a netlist is no order list


@pytest.mark.parametrize(
    ("parts", "netlist", "told"),
    [
        ("parts.txt", None, r"must end in \.csv, as order lists do, got '\.txt'"),
        (None, "netlist.html", r"must end in \.csv, as netlists do"),
        ("one.csv", "one.csv", "must be two files"),
        ("mine.csv", None, "is read, so it cannot be written"),
    ],
)
def test_what_must_not_be_written_is_refused_ahead(
    tmp_path: Path, parts: str | None, netlist: str | None, told: str
) -> None:
    files = OrderFiles(*(None if name is None else tmp_path / name for name in (parts, netlist)))
    with pytest.raises(OutputError, match=told):
        files.guard(inputs=[tmp_path / "mine.csv"])
    assert not list(tmp_path.iterdir())


def _with_net(made: Board, name: str) -> Board:
    """Return a board with its first resistor's first leg on a net with this name."""
    parts = (
        replace(part, pins=(("a", name), *part.pins[1:])) if part.reference == "R1" else part
        for part in made.components
    )
    return replace(made, components=tuple(parts))
