"""Records as plain values for JSON."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from sublatch.json_data import plain_values, record_from


@dataclass(frozen=True)
class Point:
    """A record as it comes."""

    name: str
    at: tuple[float, float]


@dataclass(frozen=True)
class Line:
    """A record whose keys are not its fields."""

    points: tuple[Point, ...]

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells."""
        return {"count": len(self.points), "points": self.points}


def test_a_record_gives_its_fields_in_their_order():
    assert json.dumps(plain_values(Point("a", (1.0, 2.5)))) == '{"name": "a", "at": [1.0, 2.5]}'


def test_where_keys_differ_from_fields_the_record_says_so_inside_others_too():
    wanted = {"line": {"count": 1, "points": [{"name": "a", "at": [0.0, 1.0]}]}}
    assert plain_values({"line": Line((Point("a", (0.0, 1.0)),))}) == wanted


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf, np.float64(math.nan), np.float32(math.inf)])
def test_a_number_that_is_not_finite_is_not_hidden_and_no_document_takes_it(number):
    told = plain_values([number, 1.0])
    assert not math.isfinite(told[0])
    with pytest.raises(ValueError, match="Out of range float"):
        json.dumps(told, allow_nan=False)


def test_numpy_arrays_and_numbers_become_lists_and_numbers():
    told = plain_values({"a": np.array([[1.0, 2.5]]), "b": np.int64(3), "c": np.bool_(True), "d": np.float64(0.1)})
    assert told == {"a": [[1.0, 2.5]], "b": 3, "c": True, "d": 0.1}
    assert json.loads(json.dumps(told, allow_nan=False)) == told


def test_whole_numbers_truths_texts_and_none_stay():
    assert plain_values((1, True, "x", None)) == [1, True, "x", None]


def test_anything_else_is_refused():
    with pytest.raises(TypeError, match="JSON knows no complex, got 1j"):
        plain_values({"gain": [1j]})


@dataclass(frozen=True)
class Polygon:
    """A record of records."""

    points: tuple[Point, ...]
    area: float | None = None


@pytest.mark.parametrize("area", [None, 0.1 + 0.2])
def test_a_record_comes_back_from_json_as_it_was(area):
    polygon = Polygon((Point("a", (1.0, 1 / 3)), Point("b", (-0.0, 5e-324))), area)
    assert record_from(Polygon, json.loads(json.dumps(plain_values(polygon)))) == polygon


@pytest.mark.parametrize(
    "values",
    [None, {}, {"points": [{"name": "a"}]}, {"points": [], "area": "1"}, {"points": [], "area": 1.0, "more": 1}],
)
def test_other_values_are_no_record(values):
    assert record_from(Polygon, values) is None
