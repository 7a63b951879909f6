"""Data from files, checked: strict records, and errors that say which key, what came and what was meant."""

from __future__ import annotations

import reprlib
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import log10
from typing import Any, TypeVar, get_args, get_origin

from pydantic import BaseModel, ConfigDict, ValidationError, model_validator
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError

from sublatch.checked.toml_faults import fault
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
                            "hint": _elsewhere(cls, str(key)) or nearest_hint(str(key), cls.model_fields),
                            "known": ", ".join(cls.model_fields),
                        },
                    )
        return data


@dataclass(frozen=True)
class Unit:
    """The unit of a field, told in its annotation so that messages can name it."""

    symbol: str


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
    except ValidationError as failure:
        problems = failure.errors(include_url=False)
        raise error("\n".join(_line(problem, kind, data, source) for problem in problems)) from None


def parse_toml(
    text: str, *, source: str, error: type[SublatchError], kind: type[Checked] | None = None
) -> dict[str, Any]:
    """Return the tables of a TOML document.

    Parameters
    ----------
    text
        The document.
    source
        Name of the file or built-in, for the message.
    error
        The error to raise.
    kind
        The record that it is meant to hold, so that the message knows which of its tables are lists.

    Raises
    ------
    SublatchError
        Of the kind `error`, when it is no TOML.
    """
    try:
        return tomllib.loads(text)
    except ValueError as problem:  # TOMLDecodeError, and numbers of thousands of digits
        description = fault(text, problem, is_list=lambda name: kind is not None and _is_list(kind, name))
        if description is not None:
            raise error(f"{source}: {description}") from None
        raise error(f"{source}: must be a TOML file: {str(problem)[:1].lower()}{str(problem)[1:]}") from None
    except RecursionError:
        raise error(f"{source}: must be a TOML file, got brackets nested too deeply") from None


def _line(problem: Any, kind: type[Checked], data: Any, source: str) -> str:
    """Return one problem as a line: the file, the key, what must hold, what came."""
    key, value = _key_and_value(problem, data)
    message = _rule(problem, _unit(kind, problem["loc"]))
    value = value if isinstance(value, (str, int, float)) else problem["input"]
    got = "" if problem["type"] in COMPLETE or ", got " in message else f", got {shown(value)}"
    return f"{source}: {key + ': ' if key else ''}{message}{got}{_hint(problem)}"


def _key_and_value(problem: Any, data: Any) -> tuple[str, Any]:
    """Return the key in dotted form, without the kinds that the checker puts in between, and what is there."""
    key, value = "", data
    for step in problem["loc"]:
        if _has(value, step):
            value = value[step]
        elif problem["type"] != "missing" or step != problem["loc"][-1]:
            continue
        key += _index(step, value) if isinstance(step, int) else f"{'.' if key else ''}{step}"
    if problem["type"] in {"union_tag_invalid", "union_tag_not_found"}:
        key += f"{'.' if key else ''}{problem['ctx']['discriminator']}".replace("'", "")
    return key, value


def _has(value: Any, step: int | str) -> bool:
    """Return whether `step` is a key or an index of a value."""
    if isinstance(value, Mapping):
        return step in value
    return isinstance(value, (list, tuple)) and isinstance(step, int) and step < len(value)


def _index(step: int, entry: Any) -> str:
    """Return the position in a list, counted from 1, and the name of what is there if it has one."""
    name = entry.get("name") if isinstance(entry, Mapping) else None
    return f"[{step + 1}]{f' ({name})' if isinstance(name, str) and name.strip() else ''}"


def _unit(kind: type[Checked], steps: tuple[int | str, ...]) -> str:
    """Return the unit of the field that the steps lead to, an empty text where it has none."""
    records, unit = [kind], ""
    for step in steps:
        fields = [record.model_fields[step] for record in records if step in record.model_fields]
        if not fields:  # the position in a list, or one of several kinds
            records = [record for record in records if step in _tags(record)] or records
            continue
        records = [record for field in fields for record in records_in(field)]
        parts = (part for field in fields for part in (*field.metadata, *nested(field.annotation)))
        unit = next((part.symbol for part in parts if isinstance(part, Unit)), "")
    return unit


def _elsewhere(kind: type[Checked], key: str) -> str:
    """Return a hint where a key is none of a record's own but one of a table in it, an empty text otherwise."""
    for name, field in kind.model_fields.items():
        if key != "kind" and any(key in record.model_fields for record in records_in(field)):
            return f"; did you mean '{name}.{key}', {key} in the table {name}?"
    return ""


def _is_list(kind: type[Checked], name: str) -> bool:
    """Return whether a table of this name, in dotted form, is one of several."""
    records, fields = [kind], list[FieldInfo]()
    for step in name.split("."):
        fields = [record.model_fields[step] for record in records if step in record.model_fields]
        records = [record for field in fields for record in records_in(field)]
    return any(get_origin(field.annotation) in (list, tuple) for field in fields)


def records_in(field: FieldInfo) -> list[type[Checked]]:
    """Return the kinds of record that a field holds."""
    return [part for part in nested(field.annotation) if isinstance(part, type) and issubclass(part, Checked)]


def nested(annotation: Any) -> Iterator[Any]:
    """Give an annotation, and everything it is made of with where that comes from."""
    yield annotation
    yield get_origin(annotation)
    for part in get_args(annotation):
        yield from nested(part)


def _tags(kind: type[Checked]) -> set[Any]:
    """Return the texts that tell a record of this kind from others."""
    return {tag for field in kind.model_fields.values() for tag in get_args(field.annotation) if isinstance(tag, str)}


COMPLETE = {"missing", "union_tag_not_found", "unknown_key", "value_error"}
"""Problems whose message leaves nothing to add."""
LIMITS = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}
PREFIXES = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))
RULES = {
    "missing": "this key is needed and is not there",
    "union_tag_not_found": "this key is needed and is not there",
    "string_type": "must be a text in quotes",
    "string_too_short": "must not be empty",
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "float_type": "must be a number",
    "float_parsing": "must be a number",
    "list_type": "must be a list",
    "tuple_type": "must be a list",
    "too_short": "must not be empty",
    "model_type": "must be a table of keys and values",
    "model_attributes_type": "must be a table of keys and values",
    "dict_type": "must be a table of keys and values",
}
"""What must hold, by the checker's own name for the problem."""


def _rule(problem: Any, unit: str) -> str:
    """Return what must hold, in plain words."""
    kind, context = problem["type"], problem.get("ctx", {})
    if kind == "value_error":
        return str(context["error"])
    if kind == "missing" and isinstance(problem["loc"][-1], int):
        return "one more entry is needed here"
    if kind in RULES:
        return RULES[kind]
    if kind in {"too_long", "string_too_long"}:
        return f"must have at most {context['max_length']} {'entries' if kind == 'too_long' else 'characters'}"
    if kind in LIMITS:
        comparison, key = LIMITS[kind]
        return f"must be {comparison} {_with_unit(context[key], unit)}"
    if kind == "literal_error":
        return _choice(str(context["expected"]).replace(" or ", ", ").split(", "), problem["input"])
    if kind == "union_tag_invalid":
        return _choice(str(context["expected_tags"]).split(", "), context["tag"])
    return str(problem["msg"])


def _with_unit(value: float, unit: str) -> str:
    """Return a limit with its unit, such as "5 ms"."""
    if not unit or unit == "dB" or not value:
        return f"{value:g} {unit}".rstrip()
    factor, prefix = next((entry for entry in PREFIXES if abs(value) >= 0.999 * entry[0]), PREFIXES[-1])
    return f"{value / factor:g} {prefix}{unit}"


def _choice(allowed: list[str], value: Any) -> str:
    """Return the allowed values, what came, and the nearest."""
    names = [name.strip("'") for name in allowed]
    hint = "; leave out the quotes" if value in allowed else nearest_hint(shown(value), names)
    return f"must be one of {', '.join(names)}, got {shown(value)}{hint}"


def _hint(problem: Any) -> str:
    """Return what was probably meant where a list is asked for and a table or a single value came."""
    if problem["type"] not in {"list_type", "tuple_type"}:
        return ""
    key = next((step for step in reversed(problem["loc"]) if isinstance(step, str)), "")
    if isinstance(problem["input"], Mapping):
        return f"; write [[{key}]] with two brackets, once for each"
    return f"; write it in brackets: {key} = [{shown(problem['input'])}]"


LONGEST = 10**30
"""A whole number of more digits is told by how many it has."""


def _digits(value: int) -> int:
    """Return how many digits a whole number has, or nearly; Python writes out no more than 4300 of them."""
    return int(abs(value).bit_length() * log10(2)) + 1


def shown(value: Any) -> str:
    """Return a value much as the file has it, cut where it is long."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, int):
        return str(value) if abs(value) < LONGEST else f"{'−' * (value < 0)}a whole number of {_digits(value)} digits"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, str):
        return repr(value) if len(value) <= 60 else repr(value[:57] + "…")
    return str(value) if hasattr(value, "isoformat") else reprlib.repr(value)
