"""``sublatch change``: what it writes, tells and refuses."""

from __future__ import annotations

import csv
import json

import pytest

from command_line import sublatch
from sublatch.board.change.page.write import change_sheet
from sublatch.board.stripboard import search
from sublatch.circuit.load import circuit_text, load_circuit

SMALL = ["gated-open", "gated-open", "--set", "output.trim_resistor=47k"]
"""A change of one part, soon worked out."""


def test_a_change_sheet_is_written_and_its_steps_are_told(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = sublatch("change", *SMALL)
    assert (result.exit_code, result.stderr) == (0, "")
    text = (tmp_path / "gated-open-to-gated-open.html").read_text(encoding="utf-8")
    after = load_circuit("gated-open", changes={"output.trim_resistor": "47k"})
    assert text == change_sheet(load_circuit("gated-open"), after)
    lines = result.stdout.splitlines()
    assert lines[1] == "   1  Put R46 (47k) in series with RV2 lug 3"
    assert lines[2].startswith("  1 part to buy; ")


def test_json_has_operations_parts_and_points(tmp_path):
    path = tmp_path / "change.html"
    told = json.loads(sublatch("change", *SMALL, "-o", path, "--json").stdout)
    assert list(told) == [
        *("output", "before", "after", "operations", "parts", "points", "kept", "altered", "layout", "why_no_layout"),
    ]
    assert (told["layout"], told["why_no_layout"]) == (None, None)  # what goes into a wire needs no board
    (operation,) = told["operations"]
    assert list(operation) == ["kind", "what", "where", "back", "singly"]
    assert operation["kind"] == "insert"
    assert operation["back"] == "take R46 out and join the wire again"
    assert [(part["quantity"], part["value"]) for part in told["parts"]] == [(1, "47k")]
    assert [point["letter"] for point in told["points"]] == ["A", "B"]
    assert told["altered"] == 1


def test_the_small_board_fits_the_room(tmp_path, monkeypatch):
    monkeypatch.setattr(search, "STEPS", 25_000)
    words = ("change", "gated-swept", "gated-first-order", "-o", tmp_path / "change.html")
    layout = json.loads(sublatch(*words, "--json", "--room", "12x20mm", "--seed", 2).stdout)["layout"]
    assert (layout["proved"], layout["seed"]) == (True, 2)
    assert min(layout["width_mm"], layout["height_mm"]) <= 12.5
    assert max(layout["width_mm"], layout["height_mm"]) <= 20.5
    _, _, section = (tmp_path / "change.html").read_text(encoding="utf-8").partition('<section id="small-board">')
    assert f"{layout['columns']} × {layout['rows']} holes" in section
    refused = sublatch(*words, "--room", "12mm")
    assert refused.exit_code == 2
    assert "a room must be two lengths in mm, such as 15x25mm, got '12mm'" in refused.stderr


def test_what_the_change_adds_alone_is_ordered(tmp_path):
    parts, netlist = tmp_path / "parts.csv", tmp_path / "netlist.csv"
    files = ("-o", tmp_path / "change.html", "--parts", parts, "--netlist", netlist)
    result = sublatch("change", *SMALL, *files)
    assert (result.exit_code, result.stderr) == (0, f"Written {parts}\nWritten {netlist}\n")
    (resistor,) = (line.partition("(")[2].partition(")")[0] for line in result.stdout.splitlines()[1:2])
    assert resistor == "47k"
    rows = list(csv.DictReader(parts.read_text(encoding="utf-8-sig").splitlines()))
    assert [(row["value"], row["tolerance"]) for row in rows if row["designators"]] == [("47 kΩ", "1 %")]
    assert not {"enclosure", "battery"} & {row["part"] for row in rows}
    pins = list(csv.DictReader(netlist.read_text(encoding="utf-8-sig").splitlines()))[:-1]
    assert [(pin["net"], pin["pin"]) for pin in pins] == [("output.coupled", "1"), ("output.trimmed", "2")]


def test_a_file_of_the_users_own_is_never_replaced(tmp_path):
    path = tmp_path / "box.html"
    path.write_text(circuit_text("gated-open"), encoding="utf-8")
    refused = sublatch("change", *SMALL, "-o", path)
    assert refused.exit_code == 1
    assert path.read_text(encoding="utf-8") == circuit_text("gated-open")


def test_the_circuit_files_are_never_replaced(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(circuit_text("gated-open"), encoding="utf-8")
    assert sublatch("change", path, "gated-swept", "-o", path, "--overwrite").exit_code in (1, 2)
    assert path.read_text(encoding="utf-8") == circuit_text("gated-open")


OTHER_VALUES = {
    "input.coupling": "33n",
    "input.resistance": "2M2",
    "output.coupling": "2u2",
    "output.pot": {"value": "50k", "taper": "linear"},
    "output.load": "2M2",
    "output.feedback_resistor": "220k",
    "output.ground_resistor": "18k",
    "mix.octave_resistor": "47k",
    "mix.direct_resistor": "47k",
    "mix.direct_pot": {"value": "50k", "taper": "linear"},
    "detector.kind": "zero-crossing",
    "detector.filter.kind": "none",
    "detector.hysteresis": 0.0,
    "switches.drive": "inverted",
    "hardwired": ["drive"],
}


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["gated-open", "gated-opn"], 2, "did you mean 'gated-open'?"),
        (["gated-open"], 2, "Missing argument 'AFTER'"),
        (["gated-open", "gated-open"], 2, "must be different boards"),
        (["gated-open", "gated-open", "--set", "knobs.volume=7"], 2, "That needs no iron"),
        (["gated-open", "gated-swept", "-o", "sheet.pdf"], 1, "must end in .html"),
        (["gated-open", "gated-open", "--set", "hardwired=tone"], 2, "must be one of drive, got"),
        (
            ["gated-open", "gated-open", "--set", "mix.direct_pot=none", "--set", "knobs.direct=3"],
            2,
            "mix.direct_pot = 'none'",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(tmp_path, monkeypatch, arguments, status, words):
    monkeypatch.chdir(tmp_path)
    result = sublatch("change", *arguments)
    assert (result.exit_code, result.stdout) == (status, "")
    assert words in " ".join(result.stderr.split())
    assert not list(tmp_path.iterdir())


def test_boxes_that_share_nothing_are_told_what_would_work(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    words = [word for path, value in OTHER_VALUES.items() for word in ("--set", f"{path}={_toml(value)}")]
    result = sublatch("change", "gated-open", "gated-open", *words)
    assert (result.exit_code, result.stdout) == (2, "")
    told = " ".join(result.stderr.split())
    assert "share none that their circuit files name" in told
    assert "Build AFTER as a new board, with 'sublatch sheet'" in told
    assert "the nearest that works is AFTER with BEFORE's [detector] in its file" in told
    assert not list(tmp_path.iterdir())
    before = load_circuit("gated-open")
    works = load_circuit("gated-open", changes=OTHER_VALUES).model_copy(update={"detector": before.detector})
    assert "Parts to buy" in change_sheet(before, works)


def _toml(value):
    """Return a value as --set takes it."""
    if isinstance(value, dict):
        return "{" + ", ".join(f'{key} = "{each}"' for key, each in value.items()) + "}"
    return ",".join(value) if isinstance(value, list) else str(value)
