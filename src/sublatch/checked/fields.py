"""What a field of a checked record holds: the records in it, and all that its annotation is made of."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, get_args, get_origin

from pydantic.fields import FieldInfo

from sublatch.checked import Checked


def records_in(field: FieldInfo) -> list[type[Checked]]:
    """Return the kinds of record that a field holds."""
    return [part for part in nested(field.annotation) if isinstance(part, type) and issubclass(part, Checked)]


def nested(annotation: Any) -> Iterator[Any]:
    """Give an annotation, and everything it is made of with where that comes from."""
    yield annotation
    yield get_origin(annotation)
    for part in get_args(annotation):
        yield from nested(part)
