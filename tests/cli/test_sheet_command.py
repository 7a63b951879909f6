"""``sublatch sheet``: what it writes, tells and refuses."""

from __future__ import annotations

import json

import pytest

from command_line import sublatch
from sublatch.board.assemble import board
from sublatch.board.orders.files import order_text, pins_text
from sublatch.board.sheet.write import build_sheet
from sublatch.circuit.load import circuit_text, load_circuit


def test_a_sheet_is_written_under_the_circuits_name(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = sublatch("sheet", "-c", "gated-open")
    assert (result.exit_code, result.stderr) == (0, "")
    text = (tmp_path / "gated-open-sheet.html").read_text(encoding="utf-8")
    assert text == build_sheet(load_circuit("gated-open"))
    first = result.stdout.splitlines()[0]
    assert first.startswith("gated-open-sheet.html: Gain-gated octave, no output filter")
    assert first.endswith("parts to buy")
    assert "h from a 9 V battery" in result.stdout


def test_settings_are_changed_and_told_as_json(tmp_path):
    path = tmp_path / "mine.html"
    result = sublatch("sheet", "-c", "gated-first-order", "--set", "supply=12V", "-o", path, "--json")
    told = json.loads(result.stdout)
    assert list(told) == ["output", "title", "parts", "supply_amps", "battery_hours", "supply_remarks"]
    assert told["supply_remarks"] == []
    assert told["output"] == str(path)
    assert told["battery_hours"] == {}
    assert "supply 12 V" in path.read_text(encoding="utf-8")


def test_a_board_that_cannot_work_is_refused_by_part_and_net(tmp_path):
    """A bias of 2.7 V is below what inputs of the 072 type need, 3 V (data sheet)."""
    path = tmp_path / "mine.html"
    settings = ("--set", "output.bias=30%", "--set", "output.low_margin=1V")
    result = sublatch("sheet", "-c", "gated-open", *settings, "-o", path)
    assert result.exit_code == 2
    assert "must pass its electrical check" in result.stderr
    assert "input out of range at U1A on net 'input.a'" in result.stderr
    assert not path.exists()
    other = sublatch("sheet", "-c", "gated-open", *settings, "--set", "devices.op_amp=single-supply", "-o", path)
    assert (other.exit_code, path.exists()) == (0, True)


def test_only_a_sheet_of_its_own_is_replaced(tmp_path):
    path = tmp_path / "sheet.html"
    assert sublatch("sheet", "-c", "gated-open", "-o", path).exit_code == 0
    assert sublatch("sheet", "-c", "gated-open", "-o", path).exit_code == 0
    path.write_text(path.read_text(encoding="utf-8") + "<p>my notes</p>\n", encoding="utf-8")
    refused = sublatch("sheet", "-c", "gated-open", "-o", path)
    assert refused.exit_code == 1
    assert "--overwrite" in refused.stderr
    assert "my notes" in path.read_text(encoding="utf-8")
    assert sublatch("sheet", "-c", "gated-open", "-o", path, "--overwrite").exit_code == 0
    assert "my notes" not in path.read_text(encoding="utf-8")


def test_the_circuit_file_itself_is_never_replaced(tmp_path):
    path = tmp_path / "box.html"
    path.write_text(circuit_text("gated-open"), encoding="utf-8")
    result = sublatch("sheet", "-c", path, "-o", path, "--overwrite")
    assert result.exit_code in (1, 2)
    assert path.read_text(encoding="utf-8") == circuit_text("gated-open")


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["-c", "gated-opn"], 2, "did you mean 'gated-open'?"),
        (["-c", "gated-open", "--set", "detector.floor=5V"], 2, "is the supply too low"),
        (["-c", "gated-open", "--set", "supply=18.9V"], 2, "supply must be at most 18 V for this board, got 18.9 V"),
        (["-c", "gated-open", "-o", "sheet.pdf"], 1, "must end in .html"),
        ([], 2, "Missing option '-c'"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(tmp_path, monkeypatch, arguments, status, words):
    monkeypatch.chdir(tmp_path)
    result = sublatch("sheet", *arguments)
    assert (result.exit_code, result.stdout) == (status, "")
    assert words in result.stderr
    assert not list(tmp_path.iterdir())


def test_what_its_battery_does_to_the_parts_is_told_and_on_the_sheet(tmp_path):
    path = tmp_path / "mine.html"
    told = json.loads(sublatch("sheet", "-c", "gated-open", "-o", path, "--json").stdout)["supply_remarks"]
    assert [remark.split(" need ")[0] for remark in told] == ["op-amps of class fet-input (TL072, TL082, LF353)"]
    assert f"<strong>Supply voltage.</strong> O{told[0][1:]}." in path.read_text(encoding="utf-8")
    assert told[0] in " ".join(sublatch("sheet", "-c", "gated-open", "-o", path).stdout.split())


def test_order_list_and_netlist_are_written_beside_the_sheet(tmp_path):
    paths = [tmp_path / name for name in ("mine.html", "parts.csv", "netlist.csv")]
    result = sublatch("sheet", "-c", "gated-open", "-o", paths[0], "--parts", paths[1], "--netlist", paths[2])
    assert result.exit_code == 0
    assert result.stderr == f"Written {paths[1]}\nWritten {paths[2]}\n"
    made = board(load_circuit("gated-open"))
    assert paths[1].read_bytes().decode().startswith(order_text(made))
    assert paths[2].read_bytes().decode().startswith(pins_text(made))


def test_an_order_list_of_the_users_own_stops_the_sheet_too(tmp_path):
    parts = tmp_path / "parts.csv"
    parts.write_text("my prices\n", encoding="utf-8")
    result = sublatch("sheet", "-c", "gated-open", "-o", tmp_path / "mine.html", "--parts", parts)
    assert result.exit_code == 1
    assert "was not made by sublatch" in result.stderr
    assert [path.read_text(encoding="utf-8") for path in tmp_path.iterdir()] == ["my prices\n"]
