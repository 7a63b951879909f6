"""What the manual says of settings and remarks, and the table of published checks, is what there is."""

from __future__ import annotations

import sys
import tomllib
from importlib.util import module_from_spec, spec_from_file_location
from math import inf, isfinite, nextafter
from pathlib import Path
from typing import Annotated, Any

import pytest
from pydantic import TypeAdapter, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from sublatch.checked import nested
from sublatch.circuit.load import load_circuit
from sublatch.errors import CircuitError
from sublatch.manual.fields import bounds, written
from sublatch.manual.reference import tables

ROOT = Path(__file__).parent.parent
_spec = spec_from_file_location("make_reference", ROOT / "scripts" / "make_reference.py")
assert _spec is not None
assert _spec.loader is not None
reference = sys.modules["make_reference"] = module_from_spec(_spec)
_spec.loader.exec_module(reference)

FIELDS = {
    f"{table.record.__name__}.{name}": field for table in tables() for name, field in table.record.model_fields.items()
}
LIMITED = [name for name, field in FIELDS.items() if isfinite(bounds(field)[0][0])]


def test_the_documents_are_up_to_date() -> None:
    stale = [path.name for path, text in reference.documents().items() if path.read_text(encoding="utf-8") != text]
    assert not stale, f"{' and '.join(stale)} must follow the code; run: python scripts/make_reference.py"


def test_every_setting_explains_itself() -> None:
    rows = [(table.record, row) for table in tables() for row in table.rows]
    assert len(rows) > 60
    faults = [f"{kind.__name__}.{row.name}" for kind, row in rows if not (row.description.endswith(".") and row.range)]
    assert not faults


@pytest.mark.parametrize("name", LIMITED)
def test_limits_are_those_that_hold(name: str) -> None:
    (low, low_out), (high, high_out) = bounds(FIELDS[name])
    number = int if int in {FIELDS[name].annotation, *nested(FIELDS[name].annotation)} else float
    step = 1 if number is int else 0
    assert _accepts(FIELDS[name], number(low)) is not low_out
    assert not _accepts(FIELDS[name], low - step if step else nextafter(low, -inf))
    if isfinite(high):
        assert _accepts(FIELDS[name], number(high)) is not high_out
        assert not _accepts(FIELDS[name], high + step if step else nextafter(high, inf))


@pytest.mark.parametrize("name", FIELDS)
def test_defaults_read_back_as_what_they_are(name: str) -> None:
    field = FIELDS[name]
    if field.default in (PydanticUndefined, None):
        assert field.is_required() is (field.default is PydanticUndefined)
        return
    text = written(field, field.default)
    assert _adapter(field).validate_python(tomllib.loads(f"x = {text}")["x"]) == field.default


CAPACITOR = {"part": "capacitor", "name": "C", "value": "10n", "between": ["out", "ground"]}
LEAK = {"part": "resistor", "name": "L", "value": "1M", "between": ["out", "ground"]}
RHEOSTAT = {"part": "rheostat", "pot": {"value": "10k"}, "end_resistor": "1k"}
SWITCHED = {"part": "switched-capacitor", "value": {"flat": "1n", "peaked": "2n"}}


@pytest.mark.parametrize(
    "worked",
    [
        {"kind": "swept-second-order"},
        {"kind": "network", "parts": [{**RHEOSTAT, "name": "V", "between": ["in", "out"]}, CAPACITOR]},
        {"kind": "network", "parts": [{**SWITCHED, "name": "S", "between": ["in", "out"]}, CAPACITOR, LEAK]},
    ],
)
def test_what_a_knob_or_switch_works_is_refused_in_a_detector(worked: dict[str, Any]) -> None:
    """The reference leaves these out there."""
    load_circuit("gated-open", changes={"filter": worked})
    with pytest.raises(CircuitError, match="has no knob or switch"):
        load_circuit("gated-open", changes={"detector.filter": worked})


def test_every_published_check_is_in_the_table() -> None:
    text = (ROOT / "tests" / "published" / "README.md").read_text(encoding="utf-8")
    files = [path.name for path in (ROOT / "tests" / "published").glob("test_*.py")]
    assert len(files) > 5
    assert not [name for name in files if f"| `{name}` |" not in text]


def test_only_what_stands_between_the_marks_is_replaced() -> None:
    text = "a\n<!-- x -->\nold\n<!-- end of x -->\nb\n"
    once = reference._between(text, "x", "new\n")
    assert once == "a\n<!-- x -->\n\nnew\n\n<!-- end of x -->\nb\n"
    assert reference._between(once, "x", "new\n") == once


@pytest.mark.parametrize("text", ["", "<!-- x -->\n", "<!-- end of x -->\n<!-- x -->\n"])
def test_missing_marks_are_told(text: str) -> None:
    with pytest.raises(SystemExit, match="must be there"):
        reference._between(text, "x", "new\n")


def _adapter(field: FieldInfo) -> TypeAdapter[Any]:
    """Return what checks one field's value."""
    return TypeAdapter(Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation)


def _accepts(field: FieldInfo, value: float) -> bool:
    """Return whether a field takes a value."""
    try:
        _adapter(field).validate_python(value)
    except ValidationError:
        return False
    return True
