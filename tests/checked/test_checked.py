"""Errors of checked data: the file, the key in dotted form, what must hold with its unit, what came, and a hint."""

from __future__ import annotations

from typing import Annotated, Literal

import pytest
from pydantic import BeforeValidator, Field

from sublatch import units
from sublatch.checked import Checked, Unit, check, parse_toml, shown
from sublatch.errors import PlanError

Volts = Annotated[float, BeforeValidator(units.volts), Unit("V"), Field(ge=0.0, le=100.0)]
Seconds = Annotated[float, BeforeValidator(units.seconds), Unit("s"), Field(ge=0.0)]


class Round(Checked):
    """One of two kinds."""

    kind: Literal["round"] = "round"
    width: Annotated[float, Field(gt=0.0, lt=0.5)] = 0.1
    level: Volts | None = None


class Square(Checked):
    """The other kind."""

    kind: Literal["square"] = "square"
    level: Volts = 1.0


Shape = Annotated[Round | Square, Field(discriminator="kind")]


class Box(Checked):
    """A record with everything in it."""

    title: str = Field(min_length=1)
    count: Literal[1, 2] = 1
    size: int = 3
    time: Seconds = Field(0.0, le=5e-3)
    shape: Shape = Round()
    shapes: list[Shape] = Field([], max_length=2)
    pair: tuple[str, str] = ("a", "b")


def problem(**data):
    with pytest.raises(PlanError) as caught:
        check(Box, {"title": "t", **data}, source="my.toml", error=PlanError)
    return str(caught.value)


def test_good_data_become_a_record():
    box = check(Box, {"title": " t ", "shape": {"kind": "square", "level": "500mV"}}, source="my.toml", error=PlanError)
    assert box == Box(title="t", shape=Square(level=0.5))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"titel": 1}, "unknown key 'titel'; did you mean 'title'? (known: title, count, size, time, shape"),
        ({"shape": {"kind": "square", "with": 1}}, "shape: unknown key 'with' (known: kind, level)"),
        ({"title": 5}, "title: must be a text in quotes, got 5"),
        ({"title": [1, 2]}, "title: must be a text in quotes, got [1, 2]"),
        ({"title": ""}, "title: must not be empty, got ''"),
        ({"count": 3}, "count: must be one of 1, 2, got 3"),
        ({"count": "2"}, "count: must be one of 1, 2, got '2'; leave out the quotes"),
        ({"size": "many"}, "size: must be a whole number, got 'many'"),
        ({"size": 1.5}, "size: must be a whole number, got 1.5"),
        ({"time": "20ms"}, "time: must be at most 5 ms, got '20ms'"),
        ({"time": 1}, "time: must be at most 5 ms, got 1"),
        ({"time": "1V"}, "time: a time is written like 20us, 5ms or 2s, got '1V'; that reads as a voltage"),
        ({"shape": 3}, "shape: must be a table of keys and values, got 3"),
        ({"shape": {"level": 3}}, "shape.kind: this key is needed and is not there"),
        ({"shape": {"kind": "sqare"}}, "shape.kind: must be one of round, square, got 'sqare'; did you mean 'square'?"),
        ({"shape": {"kind": "square", "level": "200V"}}, "shape.level: must be at most 100 V, got '200V'"),
        ({"shape": {"kind": "round", "level": "-2V"}}, "shape.level: must be at least 0 V, got '-2V'"),
        ({"shape": {"kind": "round", "width": 0.7}}, "shape.width: must be less than 0.5, got 0.7"),
        ({"shape": {"kind": "round", "width": True}}, "shape.width: must be less than 0.5, got true"),
        ({"shapes": {"kind": "round"}}, "shapes: must be a list, got a table; write [[shapes]] with two brackets"),
        ({"shapes": "round"}, "shapes: must be a list, got 'round'; write it in brackets: shapes = ['round']"),
        ({"shapes": [{"kind": "round"}] * 3}, "shapes: must have at most 2 entries"),
        ({"shapes": [{"kind": "round"}, {"kind": "oval"}]}, "shapes[2].kind: must be one of round, square, got 'oval'"),
        ({"pair": ["a"]}, "pair[2]: one more entry is needed here"),
    ],
)
def test_a_problem_is_told_with_key_unit_and_hint(data, words):
    assert problem(**data).startswith(f"my.toml: {words}")


def test_a_missing_key_is_named_and_nothing_is_shown_for_it():
    with pytest.raises(PlanError, match=r"^my\.toml: title: this key is needed and is not there$"):
        check(Box, {}, source="my.toml", error=PlanError)


def test_an_entry_with_a_name_is_told_by_it():
    class Part(Checked):
        name: str
        level: Volts

    class Board(Checked):
        parts: list[Part]

    data = {"parts": [{"name": "R1", "level": 1}, {"name": "R2", "level": "4k7k"}]}
    with pytest.raises(PlanError, match=r"^b: parts\[2\] \(R2\)\.level: a voltage is written"):
        check(Board, data, source="b", error=PlanError)


def test_every_problem_has_a_line():
    lines = problem(size="x", time=9).splitlines()
    assert [line.split(": ")[1] for line in lines] == ["size", "time"]


def test_a_record_does_not_change():
    with pytest.raises(ValueError, match="frozen"):
        Box(title="t").title = "u"


@pytest.mark.parametrize(
    ("value", "words"),
    [(True, "true"), (2.50, "2.5"), (7, "7"), ("a'b", '"a\'b"'), ({"a": 1}, "a table"), ("x" * 80, "'xxx")],
)
def test_values_are_shown_as_in_the_file(value, words):
    assert shown(value).startswith(words)
    assert len(shown(value)) < 70


@pytest.mark.parametrize("text", ["takes = [", "a = { b = 1", "?", "a = " + "[" * 5000, "a = " + "1" * 5000])
def test_what_is_no_toml_is_refused(text):
    with pytest.raises(PlanError, match=r"^a\.toml: must be a TOML file"):
        parse_toml(text, source="a.toml", error=PlanError)
