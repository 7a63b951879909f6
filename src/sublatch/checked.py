"""Data from files, checked: strict records, and errors that say which key, what came and what was meant."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError, model_validator
from pydantic_core import PydanticCustomError

from sublatch.errors import SublatchError, nearest_hint


class Checked(BaseModel):
    """A record whose keys are all known, whose values are all in range, and that does not change."""

    model_config = ConfigDict(extra="forbid", frozen=True, validate_default=True, str_strip_whitespace=True)

    @model_validator(mode="before")
    @classmethod
    def _refuse_unknown_keys(cls, data: Any) -> Any:
        """Refuse a key that is no field here, naming the nearest that is."""
        if isinstance(data, Mapping):
            for key in data:
                if key not in cls.model_fields:
                    raise PydanticCustomError(
                        "unknown_key",
                        "unknown key '{key}'{hint} (known: {known})",
                        {
                            "key": str(key),
                            "hint": nearest_hint(str(key), cls.model_fields),
                            "known": ", ".join(cls.model_fields),
                        },
                    )
        return data


C = TypeVar("C", bound=Checked)


def check(kind: type[C], data: Mapping[str, Any], *, source: str, error: type[SublatchError]) -> C:
    """Return `data` as a checked record.

    Parameters
    ----------
    kind
        The record's class.
    data
        Keys and values as they stand in the file.
    source
        Name of the file or built-in, for the message.
    error
        The error to raise.

    Raises
    ------
    SublatchError
        Of the kind `error`, one line a problem, when a key or value is wrong.
    """
    try:
        return kind.model_validate(data)
    except ValidationError as problem:
        raise error(explain(problem, data, source=source)) from None


def explain(problem: ValidationError, data: Any, *, source: str) -> str:
    """Return one line for each thing that is wrong: key, what must hold, what came, and the file."""
    lines = []
    for item in problem.errors(include_url=False):
        path = _dotted(item, data)
        message = _plain(item)
        came = item["input"]
        shown = isinstance(came, (str, int, float)) and item["type"] != "missing" and repr(came) not in message
        lines.append(f"{source}: {path + ': ' if path else ''}{message}{f', got {came!r}' if shown else ''}")
    return "\n".join(lines)


def _dotted(item: Any, data: Any) -> str:
    """Return the key in dotted form, without the kinds that the checker puts in between."""
    words = ""
    here = data
    for step in item["loc"]:
        found = here[step] if _has(here, step) else None
        if found is None and not (item["type"] == "missing" and step == item["loc"][-1]):
            continue
        here = found
        words += f"[{step + 1}]" if isinstance(step, int) else f"{'.' if words else ''}{step}"
    return words


def _has(here: Any, step: int | str) -> bool:
    """Return whether `step` is a key or an index of `here`."""
    if isinstance(here, Mapping):
        return step in here
    return isinstance(here, (list, tuple)) and isinstance(step, int) and step < len(here)


LIMITS = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}


def _plain(item: Any) -> str:
    """Return what must hold, in plain words."""
    kind, context = item["type"], item.get("ctx", {})
    if kind == "value_error":
        return str(context["error"])
    if kind == "missing":
        return "this key is needed and is not there"
    if kind in LIMITS:
        words, key = LIMITS[kind]
        return f"must be {words} {context[key]:g} (in SI units)"
    if kind == "literal_error":
        return "must be " + _choice(str(context["expected"]).replace(" or ", ", ").split(", "), item["input"])
    if kind == "union_tag_invalid":
        return "kind must be " + _choice(str(context["expected_tags"]).split(", "), context["tag"])
    if kind == "union_tag_not_found":
        return f"needs the key {context['discriminator']}"
    if kind in {"model_type", "model_attributes_type", "dict_type"}:
        return "must be a table of keys and values"
    return str(item["msg"])


def _choice(allowed: list[str], came: Any) -> str:
    """Return the allowed values, what came, and the nearest."""
    names = [name.strip("'") for name in allowed]
    return f"one of {', '.join(names)}, got {came!r}{nearest_hint(str(came), names)}"
