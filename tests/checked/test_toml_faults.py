"""A file that is no TOML: the line, what is wrong with it, and how to write it."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from sublatch.audition.plan.records import Plan
from sublatch.checked import Checked, parse_toml
from sublatch.circuit.load import load_circuit
from sublatch.circuit.model import Circuit
from sublatch.errors import CircuitError, PlanError


def told(text: str, kind: type[Checked] = Plan) -> str:
    """Return what is said of a file."""
    with pytest.raises(PlanError) as caught:
        parse_toml(text, source="my.toml", error=PlanError, kind=kind)
    return str(caught.value)


TWO = '[candidates]\nname = "a"\n\n[candidates]\nname = "b"\n'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            TWO,
            "line 4: there are several candidates: write [[candidates]], with two brackets, for each, from line 1 on",
        ),
        ("title = 'x'\n[sweeps]\n[[sweeps]]\n", "line 3: there are several sweeps: write [[sweeps]]"),
        (
            "title = Which filter?",
            'line 1: a text, and a value with its unit, stand in quotation marks; write title = "',
        ),
        ("title = Which filter?", 'write title = "Which filter?"'),
        ("full_scale = 2V # measured", 'write full_scale = "2V"'),
        ("full_scale = .5V", 'write full_scale = ".5V"'),
        ("title = “Fuzz”", 'line 1: quotation marks must be straight ones; write title = "Fuzz"'),
        ('\ntitle = "Fuzz', 'line 2: the text has no quotation mark at its end; write title = "Fuzz"'),
        ('output = "C:\\Users\\me"', 'a backslash means something else; write output = "C:/Users/me"'),
        ("headroom = 1,5", "line 1: decimals come after a point; write headroom = 1.5"),
        ("reel = True", "line 1: true and false are written small; write reel = true"),
        ('title: "Fuzz"', 'line 1: a setting is written with an equals sign; write title = "Fuzz"'),
        ("title Fuzz", "my.toml: must be a TOML file"),
        ('title "Fuzz"', 'line 1: a setting is written with an equals sign; write title = "Fuzz"'),
        ("title =", "line 1: title must have a value after its equals sign, got nothing"),
        ("title = 'a'\nmatch = 'rms'\ntitle = 'b'", "line 3: title is there already, in line 1; keep one of them"),
        ("[[candidates]", "line 1: a table's name stands between brackets; write [[candidates]]"),
        ("takes = [\n", "my.toml: must be a TOML file"),
    ],
)
def test_a_slip_is_told_as_what_was_meant(text: str, words: str) -> None:
    assert words in told(text)
    assert told(text).startswith("my.toml: ")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[filter]\n[knobs]\n[filter]", "line 3: [filter] is there already, in line 1; put both under one [filter]"),
        ("[filter", "line 1: a table's name stands between brackets; write [filter]"),
        ("[filter]\nresistor = 4k7", 'write resistor = "4k7"'),
        ("supply = 9V", 'line 1: a text, and a value with its unit, stand in quotation marks; write supply = "9V"'),
    ],
)
def test_a_circuit_file_has_single_tables(text: str, words: str) -> None:
    assert words in told(text, Circuit)


def test_what_is_said_to_write_can_be_read() -> None:
    """The advice for each slip in one line is itself TOML."""
    for slip in ("title = Which filter?", "a = 1,5", "a = True", "a = “b”", 'a = "b', 'a = "C:\\Users"', "a: b", "[a"):
        advice = told(slip).partition("; write ")[2]
        assert advice
        tomllib.loads(advice)


def test_a_setting_in_the_wrong_table_is_told_its_place() -> None:
    with pytest.raises(CircuitError, match=r"unknown key 'tone'; did you mean 'knobs\.tone', tone in the table knobs"):
        load_circuit("gated-swept", changes={"tone": 3})
    with pytest.raises(CircuitError, match=r"filter: unknown key 'taper'; did you mean 'pot\.taper'"):
        load_circuit("gated-swept", changes={"filter.taper": "log"})


def test_a_mistyped_circuit_file_is_told_the_one_that_is_there(tmp_path: Path) -> None:
    (tmp_path / "mybox.toml").write_text("title = 'x'\n", encoding="utf-8")
    for wrong, words in (
        ("mybx.toml", r"mybx\.toml: no such circuit; did you mean 'mybox\.toml'\?"),
        ("mybox", r"no built-in circuit 'mybox'; did you mean the file 'mybox\.toml'\?"),
        ("mybox.tml", r"no built-in circuit 'mybox\.tml'; did you mean 'mybox\.toml'\?"),
        ("wholly-else.toml", r"no such circuit; built in are"),
    ):
        with pytest.raises(CircuitError, match=words):
            load_circuit(wrong, folder=tmp_path)
