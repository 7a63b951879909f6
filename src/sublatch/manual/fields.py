"""A field of a circuit file or plan in words: its unit, its range, and its default as the file would have it."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf
from typing import Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from sublatch import units
from sublatch.checked import Checked, Unit, nested, records_in
from sublatch.circuit.components.quantities import Position, Share

TAGS = ("kind", "part")
"""Fields that tell one record from another."""
NEEDED, NONE = "needed", "none"
"""In place of a default: the file must say it, or it is absent until the file says it."""
PREFIXES = ((1e6, 1e6, "M"), (1e3, 1e3, "k"), (0.1, 1.0, ""), (1e-3, 1e-3, "m"), (1e-6, 1e-6, "µ"), (0.0, 1e-12, "p"))
"""From which value on, the step, and its prefix: from a tenth on the plain unit."""
SHARE, POSITION = get_args(Share)[1], get_args(Position)[1]
WRITTEN = {
    "Ω": units.format_ohms,
    "F": units.format_farads,
    "A": units.format_amperes,
    "H": units.format_henries,
    "V": units.format_volts,
    "s": units.format_seconds,
    "dB": units.format_decibels,
}


def bounds(field: FieldInfo) -> tuple[tuple[float, bool], tuple[float, bool]]:
    """Return the lowest and the highest value of a field, each with whether it is itself left out."""
    parts = list(_parts(field))
    if POSITION in parts:
        return (0.0, False), (10.0, False)
    low = [(part.ge, False) for part in parts if hasattr(part, "ge")]
    low += [(part.gt, True) for part in parts if hasattr(part, "gt")]
    high = [(part.le, False) for part in parts if hasattr(part, "le")]
    high += [(part.lt, True) for part in parts if hasattr(part, "lt")]
    highest = min(((value, not out) for value, out in high), default=(inf, True))
    return max(low, default=(-inf, False)), (highest[0], not highest[1])


def unit_of(field: FieldInfo) -> str:
    """Return a field's unit, "%" for a share, an empty text for none."""
    parts = list(_parts(field))
    return "%" if SHARE in parts else next((part.symbol for part in parts if isinstance(part, Unit)), "")


def range_of(field: FieldInfo) -> str:
    """Return what a field takes, in words; what a file would have stands between backquotes."""
    choices = [choice for part in nested(field.annotation) if get_origin(part) is Literal for choice in get_args(part)]
    if choices:
        positions = ["0 to 10"] if POSITION in _parts(field) else []
        return ", ".join([*positions, *(f"`{toml_value(choice)}`" for choice in choices)])
    if records_in(field):
        return "tables" if get_origin(field.annotation) in (list, tuple) else "table"
    (low, low_out), (high, high_out) = bounds(field)
    if low == -inf:
        plain = {bool: "`true` or `false`", dict: "table", list: "list", tuple: "list", str: "text", Any: "value"}
        return next(word for kind, word in plain.items() if kind in nested(field.annotation))
    lowest = f"above {_limit(low, field)}" if low_out else _limit(low, field)
    if high == inf:
        return f"{lowest} or more"
    return f"{lowest} to {'below ' if high_out else ''}{_limit(high, field)}"


def default_of(field: FieldInfo) -> str:
    """Return a field's default as a file would have it, or `NEEDED` or `NONE`."""
    if field.default is PydanticUndefined:
        return NEEDED
    return NONE if field.default is None else written(field, field.default)


def written(field: FieldInfo, value: Any) -> str:
    """Return a field's value as a file would have it."""
    symbol = unit_of(field)
    if symbol == "%":
        return f'"{100 * value:g}%"'
    if symbol:
        return f'"{WRITTEN[symbol](value).replace(" ", "")}"'
    return toml_value(value)


def toml_value(value: Any) -> str:
    """Return a value as TOML has it; of a table, the keys that were given."""
    if isinstance(value, Checked):
        fields = type(value).model_fields
        given = [key for key in fields if key in value.model_fields_set or key in TAGS]
        pairs = [f"{key} = {written(fields[key], getattr(value, key))}" for key in given]
        return "{ " + ", ".join(pairs) + " }" if pairs else "{}"
    if isinstance(value, str):
        return f'"{value}"'
    return f"{value:g}" if isinstance(value, (int, float)) else str(value)


def _limit(value: float, field: FieldInfo) -> str:
    """Return a limit with its unit, such as "100 MΩ"."""
    symbol = unit_of(field)
    if symbol == "%":
        return f"{100 * value:g} %"
    if symbol in ("", "dB") or not value or (symbol == "s" and value >= 1):
        return f"{value:g} {symbol}".strip()
    step, prefix = next((step, prefix) for least, step, prefix in PREFIXES if abs(value) >= least)
    return f"{value / step:g} {prefix}{symbol}"


def _parts(field: FieldInfo) -> Iterator[Any]:
    """Give all that is said of a field's values, within optional ones too."""
    yield from field.metadata
    for part in nested(field.annotation):
        if isinstance(part, FieldInfo):
            yield from part.metadata
        else:
            yield part
