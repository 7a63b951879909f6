"""Files that a page saved: JSON with each key once and finite numbers alone, and the fields that such files share."""

from __future__ import annotations

import json
from datetime import datetime
from math import isfinite
from typing import Annotated, Any, NoReturn

from pydantic import AfterValidator, BeforeValidator, ConfigDict

from sublatch.checked import Checked, shown
from sublatch.errors import SublatchError

MOST_LEVELS = 8
"""Tables and lists within one another in a candidate's settings at most."""


def _list(value: Any) -> Any:
    """Refuse what is no list."""
    if not isinstance(value, list):
        raise ValueError(f"must be a list, got {shown(value)}")
    return value


def _instant(value: str) -> str:
    """Refuse what is no instant with its zone."""
    try:
        if datetime.fromisoformat(value).tzinfo is not None:
            return value
    except ValueError:
        pass
    raise ValueError(f"must be an instant such as 2030-01-31T18:30:00.000Z, got {shown(value)}")


def _shallow(value: dict[Any, Any], levels: int = MOST_LEVELS) -> dict[Any, Any]:
    """Refuse tables within tables without end."""
    if not levels:
        raise ValueError(f"must be settings, got more than {MOST_LEVELS} tables within one another")
    for inner in value.values():
        if isinstance(inner, (dict, list)):
            _shallow(inner if isinstance(inner, dict) else dict(enumerate(inner)), levels - 1)
    return value


def _digits(value: str) -> str:
    """Refuse what is no session's own digits."""
    if len(value) == 16 and set(value) <= set("0123456789abcdef"):
        return value
    raise ValueError(f"must be 16 of the digits 0 to 9 and a to f, got {shown(value)}")


Listed = BeforeValidator(_list)
Digits = Annotated[str, AfterValidator(_digits)]
Settings = Annotated[dict[str, Any], AfterValidator(_shallow)]
Instant = Annotated[str, AfterValidator(_instant)]
Names = Annotated[list[str], Listed]


class Strict(Checked):
    """A record whose values are of their kind already: no text is taken for a number."""

    model_config = ConfigDict(strict=True)


def parsed_json(text: str, *, source: str, error: type[SublatchError]) -> Any:
    """Return a JSON document, in which every key stands once and every number is one.

    Parameters
    ----------
    text
        The document.
    source
        Name of the file, for the message.
    error
        The error to raise.

    Raises
    ------
    SublatchError
        Of the kind `error`, when it is none.
    """
    if not text.strip():
        raise error(f"{source}: must be a JSON file, got an empty one")
    try:
        return json.loads(text, object_pairs_hook=_unique_keys, parse_constant=_not_finite, parse_float=_finite)
    except json.JSONDecodeError as problem:
        at_end = problem.pos >= len(text.rstrip()) - 1 or problem.msg.startswith("Unterminated string")
        hint = "; is the file cut short?" if at_end else ""
        position = f"line {problem.lineno}, column {problem.colno}"
        raise error(f"{source}: must be a JSON file: {problem.msg} ({position}){hint}") from None
    except ValueError as problem:
        raise error(f"{source}: must be a JSON file: {problem}") from None
    except RecursionError:
        raise error(f"{source}: must be a JSON file, got brackets nested too deeply") from None


def _unique_keys(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return a table, unless a key stands in it twice."""
    table = dict(pairs)
    if len(table) < len(pairs):
        keys = [key for key, _ in pairs]
        raise ValueError(f"the key {next(key for key in keys if keys.count(key) > 1)!r} stands there twice")
    return table


def _finite(text: str) -> float:
    """Return a number, unless it is larger than any."""
    return float(text) if isfinite(float(text)) else _not_finite(text)


def _not_finite(constant: str) -> NoReturn:
    """Refuse what is no finite number."""
    raise ValueError(f"{constant} is no finite number")
