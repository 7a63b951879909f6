"""``sublatch decide``: verdicts in words and as JSON, the circuit of what won, the plan of what was kept."""

from __future__ import annotations

import json

import pytest

from command_line import sublatch
from sublatch.audition.plan.load import load_audition
from sublatch.circuit.load import load_circuit
from verdict_files import PLAN, verdicts, write

ANN = verdicts("walk: swept: keep", "slide: swept: keep: warm\x1b", "walk: as built: out")
BEN = verdicts("walk: swept: out", "walk: volume 2: keep", listener="Ben", session=2)


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    """Give a folder with a plan and the verdicts of two."""
    monkeypatch.chdir(tmp_path)
    write(tmp_path / "plan.toml", PLAN)
    write(tmp_path / "ann.json", ANN)
    write(tmp_path / "ben.json", BEN)
    return tmp_path


def test_verdicts_are_told_in_words():
    lines = sublatch("decide", "ann.json", "ben.json").stdout.splitlines()
    assert lines[0] == "Which filter, heard by Ann, Ben"
    assert lines[1].split() == ["candidate", "keep", "maybe", "out"]
    assert [line.split()[-3:] for line in lines[2:4]] == [["1", "0", "0"], ["2", "0", "1"]]
    assert lines[7] == "  volume 2 won: keep 1, maybe 0, out 0."
    assert lines[8] == "  swept on walk: kept by Ann, out for Ben"
    assert lines[9] == "  swept on slide, Ann: warm�"


def test_verdicts_are_told_as_json():
    told = json.loads(sublatch("decide", "ann.json", "--json").stdout)
    assert (told["first"], told["kept"], told["listeners"]) == (["swept"], ["swept"], ["Ann"])
    assert told["candidates"][0]["settings"] == {"knobs.tone": 3.5}


def test_what_won_and_what_was_kept_are_written(folder):
    done = sublatch("decide", "ann.json", "-o", "won.toml", "--plan", "next.toml", "--around", "knobs.tone")
    assert done.exit_code == 0, done.stderr
    assert "Written won.toml: swept" in done.stderr
    assert load_circuit("won.toml") == load_circuit("gated-swept", changes={"knobs.tone": 3.5})
    assert "keep 2, maybe 0, out 0; heard by Ann" in (folder / "won.toml").read_text(encoding="utf-8")
    again = load_audition(folder / "next.toml")
    assert [one.circuit.tone for one in again.candidates] == [3.5, 2.5, 3.5, 4.5]
    other = sublatch("decide", "ann.json", "-o", "own.toml", "--of", "volume 2")
    assert other.exit_code == 0, other.stderr
    assert load_circuit("own.toml").knobs.volume == 2.0


def test_a_wish_that_won_is_told_with_what_finds_its_parts(folder):
    wish = {"low_hz": 97.6, "high_hz": 1200, "peak_db": 3.5}
    own = {"name": "soft", "base": "swept", "circuit": "gated-swept", "settings": {"knobs.tone": 4}, "wish": wish}
    write(folder / "cem.json", verdicts("walk: soft: keep", "walk: swept: keep", "slide: soft: keep", by_hand=[own]))
    words = "'soft' has a filter by wish; 'sublatch choose --low 98Hz --high 1200Hz --peak 3.5dB' finds parts for it"
    told = sublatch("decide", "cem.json", "--plan", "next.toml")
    assert f"  note: {words}" in told.stdout
    assert [one.name for one in load_audition(folder / "next.toml").candidates] == ["swept"]
    refused = sublatch("decide", "cem.json", "-o", "won.toml")
    assert refused.exit_code == 1
    assert f"a circuit needs parts, but {words}" in refused.stderr
    assert json.loads(sublatch("decide", "cem.json", "--json").stdout)["candidates"][0]["wish"] == wish
    write(folder / "cem.json", verdicts(by_hand=[own | {"wish": wish | {"low_hz": -1}}]))
    assert "by_hand[1] (soft).wish.low_hz: must be more than 0, got -1" in sublatch("decide", "cem.json").stderr


def test_nothing_is_written_where_something_is_wrong(folder):
    (folder / "next.toml").write_text("my own", encoding="utf-8")
    done = sublatch("decide", "ann.json", "-o", "won.toml", "--plan", "next.toml")
    assert done.exit_code == 1
    assert "next.toml" in done.stderr
    assert not (folder / "won.toml").exists()
    assert (folder / "next.toml").read_text(encoding="utf-8") == "my own"
    done = sublatch("decide", "ann.json", "-o", "plan.toml", "--overwrite")
    assert done.exit_code == 1
    assert (folder / "plan.toml").read_text(encoding="utf-8") == PLAN


@pytest.mark.parametrize(
    ("words", "status", "told"),
    [
        (("gone.json",), 1, "gone.json: no such file"),
        (("ann.json", "--around", "knobs.tone"), 2, "--around is for the next plan; say where with --plan"),
        (("ann.json", "--of", "swept"), 2, "--of is for the circuit file; say where with -o"),
        (("ann.json", "-o", "won.toml", "--of", "swep"), 1, "--of must be one of the candidates, got 'swep'; did you"),
        (("ann.json", "-o", "won.toml", "--from", "other.toml"), 2, "other.toml: no such plan"),
        (("tie.json", "-o", "won.toml"), 1, "one candidate must have won, got 'swept', 'volume 2' alike"),
        (("none.json", "-o", "won.toml"), 1, "a circuit needs a candidate that won, got none"),
        (("far.json", "-o", "won.toml"), 2, "got none at far.toml; say where with --from"),
    ],
)
def test_what_cannot_be_done_is_said(folder, words, status, told):
    write(folder / "tie.json", verdicts("walk: swept: keep", "walk: volume 2: keep"))
    write(folder / "none.json", verdicts("walk: swept: out"))
    write(folder / "far.json", verdicts("walk: swept: keep", plan="far.toml"))
    done = sublatch("decide", *words)
    assert (done.exit_code, told in done.stderr) == (status, True), done.stderr
    assert not (folder / "won.toml").exists()
