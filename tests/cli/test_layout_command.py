"""``sublatch layout``: what it writes, tells and refuses, with the smallest block there is."""

from __future__ import annotations

import json

import pytest

from command_line import sublatch
from sublatch.board.stripboard import search
from sublatch.circuit.load import circuit_text

SMALL = ("layout", "-c", "gated-open", "--block", "mix", "--runs", 1)


@pytest.fixture(autouse=True)
def _few_steps(monkeypatch):
    """Search briefly: so small a block is found all the same."""
    monkeypatch.setattr(search, "STEPS", 10_000)
    monkeypatch.setattr(search, "MORE_STEPS", 0)


def test_a_layout_is_told_and_its_page_written(tmp_path):
    path = tmp_path / "mix.html"
    result = sublatch(*SMALL, "-o", path)
    assert (result.exit_code, result.stderr) == (0, f"Written {path}\n")
    first, *rest = result.stdout.splitlines()
    assert first.startswith("mix, stripboard: ")
    assert first.endswith("the smallest found")
    assert sum(line.split()[0].startswith("R") for line in rest) == 2
    html = path.read_text(encoding="utf-8")
    assert first.partition(": ")[2] in html
    assert "no output filter: mix" in html


def test_json_has_places_and_the_same_seed_the_same_board(tmp_path):
    once, again = (json.loads(sublatch(*SMALL, "--seed", 3, "--json").stdout) for _ in range(2))
    assert once == again
    layout = once["layout"]
    assert once["output"] is None
    assert list(layout) == [
        *("block", "kind", "columns", "rows", "width_mm", "height_mm", "cuts", "links", "parts", "proved", "seed"),
    ]
    assert (layout["block"], layout["kind"], layout["proved"], layout["seed"]) == ("mix", "stripboard", True, 3)
    assert layout["width_mm"] == pytest.approx(2.54 * layout["columns"], abs=0.01)
    legs = [hole for part in layout["parts"] for hole in part["legs"].values()]
    assert len(set(legs)) == len(legs)


@pytest.mark.parametrize(("ending", "start"), [("svg", b"<svg "), ("png", b"\x89PNG")])
def test_both_sides_are_drawn_by_the_files_ending(tmp_path, ending, start):
    path = tmp_path / f"mix.{ending}"
    assert sublatch(*SMALL, "-o", path).exit_code == 0
    assert path.read_bytes().startswith(start)


def test_a_perfboard_is_laid_out_where_it_is_asked_for():
    result = sublatch(*SMALL, "--perfboard")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith("mix, perfboard: ")
    assert " wires below" in result.stdout


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["--block", "fliter"], 2, "the circuit has no block 'fliter' (known: input, supply"),
        (["--block", "mix", "--room", "15"], 2, "a room must be two lengths in mm, such as 15x25mm, got '15'"),
        (["--block", "mix", "--room", "3x3mm", "--runs", "1"], 2, "in a room of 3 × 3 mm; the nearest found is"),
        (["--block", "mix", "-o", "mix.pdf"], 1, "must end in .html"),
        (["--block", "mix", "--runs", "0"], 2, "--runs"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(tmp_path, monkeypatch, arguments, status, words):
    monkeypatch.chdir(tmp_path)
    result = sublatch("layout", "-c", "gated-open", *arguments)
    assert (result.exit_code, result.stdout) == (status, "")
    assert words in " ".join(result.stderr.split())
    assert not list(tmp_path.iterdir())


def test_a_file_of_the_users_own_is_never_replaced(tmp_path):
    circuit, picture = tmp_path / "mine.toml", tmp_path / "photo.png"
    circuit.write_text(circuit_text("gated-open"), encoding="utf-8")
    picture.write_bytes(b"\x89PNG mine")
    for path in (picture, circuit):
        assert sublatch("layout", "-c", circuit, "--block", "mix", "-o", path).exit_code == 1
    assert picture.read_bytes() == b"\x89PNG mine"
    assert circuit.read_text(encoding="utf-8") == circuit_text("gated-open")
