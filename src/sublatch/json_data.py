"""Records as plain values for JSON, and back: one way for all that the program tells to other programs or keeps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar, cast

if TYPE_CHECKING:
    from pydantic import TypeAdapter

T = TypeVar("T")


def plain_values(value: Any) -> Any:
    """Return a record, or what is in one, as plain values for JSON.

    Parameters
    ----------
    value
        A record of this package, a number, a text, None, or mappings and sequences of them.

    Returns
    -------
    Any
        A record as a dict of its fields, or of what its method ``json_fields`` gives where keys and fields differ;
        tuples and arrays as lists, NumPy's numbers as Python's. JSON has no infinite numbers: where one can be, the
        record's ``json_fields`` says what stands for it.

    Raises
    ------
    TypeError
        When there is something else in it.
    """
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        return float(value)
    if hasattr(value, "json_fields"):
        return plain_values(value.json_fields())
    if is_dataclass(value):
        return {field.name: plain_values(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {key: plain_values(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain_values(item) for item in value]
    if hasattr(value, "tolist"):  # NumPy's arrays and numbers
        return plain_values(value.tolist())
    raise TypeError(f"JSON knows no {type(value).__name__}, got {value!r}")


def record_from(kind: type[T], values: Any) -> T | None:
    """Return the record that plain values were made from.

    Parameters
    ----------
    kind
        The record's class, whose JSON has its own fields as keys, or that of a single value.
    values
        From `plain_values`, as JSON gives them back; None where there are none.

    Returns
    -------
    T or None
        None where there are no values, or they are none of such a record.
    """
    from pydantic import ValidationError

    try:
        record: T = _reader(cast(Any, kind)).validate_python(values)
    except ValidationError:
        return None
    return record if plain_values(record) == values else None  # a key too many, or a text for a number


@cache
def _reader(kind: Any) -> TypeAdapter[Any]:
    """Return what reads a record, built once for each class."""
    from pydantic import TypeAdapter

    return TypeAdapter(kind)
