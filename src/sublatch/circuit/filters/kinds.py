"""All kinds of filter there are: every module of this folder that says what one is."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING, Annotated, Union

from pydantic import Field

from sublatch.circuit import filters
from sublatch.circuit.filters.base import FilterKind


def _kinds() -> tuple[type[FilterKind], ...]:
    """Return the kinds in the modules of this folder, in the order of their ranks."""
    modules = [import_module(f"{filters.__name__}.{module.name}") for module in iter_modules(filters.__path__)]
    classes = [
        value
        for module in modules
        for value in vars(module).values()
        if isinstance(value, type) and issubclass(value, FilterKind) and value.__module__ == module.__name__
    ]
    return tuple(sorted((kind for kind in classes if kind is not FilterKind), key=lambda kind: kind.rank))


KINDS = _kinds()

if TYPE_CHECKING:
    Filter = FilterKind
else:
    Filter = Annotated[Union[KINDS], Field(discriminator="kind")]  # noqa: UP007 (a union of as many as there are)
    """Any of the filters, told apart by its kind."""


def kind_named(name: str) -> type[FilterKind]:
    """Return a kind of filter by its word in a circuit file, which must be one."""
    return next(kind for kind in KINDS if kind.model_fields["kind"].default == name)
