"""Options that several commands share, and how their values are read and results printed."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from typing import Any, TypeVar

import click

F = TypeVar("F", bound=Callable[..., Any])


def circuit_options(function: F) -> F:
    """Add -c and --set."""
    function = click.option(
        "--set",
        "changes",
        multiple=True,
        metavar="PATH=VALUE",
        help="Change one setting, such as knobs.tone=3.5 or filter.kind=first-order. May be given again.",
    )(function)
    return click.option(
        "-c", "--circuit", required=True, help="A built-in circuit (see 'sublatch circuits') or a .toml file."
    )(function)


def take_options(function: F) -> F:
    """Add --full-scale and --channel."""
    function = click.option("--channel", type=click.IntRange(min=1), help="Channel to use, from 1, when they differ.")(
        function
    )
    return click.option(
        "--full-scale", metavar="VOLTS", help="Volts at the instrument that 0 dBFS stands for, such as 2V. Assumed 1 V."
    )(function)


json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON document on standard output.")
overwrite_option = click.option(
    "--overwrite", is_flag=True, help="Replace files even where sublatch did not make them."
)


def read_changes(changes: tuple[str, ...]) -> dict[str, Any]:
    """Return PATH=VALUE texts as settings; a value is read as TOML has it, and as plain text otherwise."""
    settings: dict[str, Any] = {}
    for change in changes:
        path, equals, value = change.partition("=")
        if not equals or not path.strip() or not value.strip():
            raise click.UsageError(f"--set takes PATH=VALUE, such as knobs.tone=3.5, got {change!r}")
        settings[path.strip()] = _value(value.strip())
    return settings


def _value(text: str) -> Any:
    """Return one value: a number, a table or a quoted text as TOML reads it, anything else as it stands."""
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except tomllib.TOMLDecodeError:
        return text


def read_volts(text: str | None) -> float | None:
    """Return the volts of --full-scale."""
    from sublatch.units import volts

    return None if text is None else volts(text)


def print_json(document: Any) -> None:
    """Print one JSON document."""
    click.echo(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False))


def note(text: str) -> None:
    """Print a remark on standard error."""
    click.echo(f"note: {text}", err=True)


def level(value: float | None, unit: str) -> str:
    """Return a level for a table."""
    return f"{value:.1f} {unit}" if value is not None else "–"
