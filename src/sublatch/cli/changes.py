"""The settings that an option such as --set gives as PATH=VALUE."""

from __future__ import annotations

import re
import tomllib
from typing import Any

import click

PLAIN_NUMBER = re.compile(r"[+-]?([0-9]{1,30}\.?[0-9]{0,30}|\.[0-9]{1,30})")


def read_changes(changes: tuple[str, ...], *, option: str = "--set") -> dict[str, Any]:
    """Return PATH=VALUE texts as settings; a value is read as TOML has it, and as plain text otherwise."""
    settings: dict[str, Any] = {}
    for change in changes:
        path, equals, value = change.partition("=")
        if not equals or not path.strip() or not value.strip():
            raise click.UsageError(f"{option} takes PATH=VALUE, such as knobs.tone=3.5, got {change!r}")
        settings[path.strip()] = _value(value.strip())
    return settings


def _value(text: str) -> Any:
    """Return one value: a number, a table or a quoted text as TOML reads it, anything else as it stands."""
    if PLAIN_NUMBER.fullmatch(text):  # TOML has no .5 and no 05
        return float(text) if "." in text else int(text)
    try:
        value = tomllib.loads(f"value = {text}")["value"]
    except (ValueError, RecursionError):
        return text
    return text if hasattr(value, "isoformat") else value  # no setting is a date
