"""``sublatch settings``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click
from click.shell_completion import CompletionItem

from sublatch.cli.help import Manual
from sublatch.cli.options import columns, json_option, print_json

if TYPE_CHECKING:
    from sublatch.manual.reference import Row, Table

UNITS = {
    "Ω": 'ohms, as "4k7"',
    "F": 'farads, as "47n"',
    "V": 'volts, as "9V"',
    "s": 'seconds, as "20us"',
    "dB": 'decibels, as "1dB"',
    "%": 'a share, as "85%"',
    "": "–",
}
"""Units in words, with how a value is written."""
FILES = {"circuit": "a circuit file", "plan": "a plan"}


def complete_path(_ctx: click.Context, _parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Return the paths of settings and tables."""
    from sublatch.manual.reference import setting_paths

    return [CompletionItem(path) for path in setting_paths() if path.startswith(incomplete)]


@click.command(
    cls=Manual,
    short_help="Look up a setting of a circuit or plan.",
    examples=(
        "sublatch settings",
        "sublatch settings detector.filter.capacitor",
        "sublatch settings output",
    ),
)
@click.argument("path", required=False, shell_complete=complete_path)
@json_option
def settings(path: str | None, as_json: bool) -> None:
    """Show what the setting or the table at PATH takes: unit, range, default and what it is; or list all tables."""
    from sublatch.manual.reference import answer, tables

    if path is None:
        if as_json:
            print_json({"tables": [_table_json(at.replace("[]", ""), each) for each in tables() for at in each.paths]})
        else:
            _print_tables(tables())
        return
    answered = answer(path)
    if as_json:
        rows = [{**_place_json(above, table), **_row_json(row)} for above, table, row in answered.settings]
        tables_there = [
            {**_table_json(at, table), "settings": [_row_json(row) for row in table.rows]}
            for at, table in answered.tables
        ]
        print_json({"settings": rows, "tables": tables_there})
        return
    paragraphs = [_setting_text(*each) for each in answered.settings] + [_table_text(*each) for each in answered.tables]
    click.echo("\n\n".join(paragraphs).replace("`", ""))


def _place_json(path: str, table: Table) -> dict[str, Any]:
    """Return where a table stands, for a program."""
    return {"file": table.file, "table": path, "tag": table.tag or None}


def _table_json(path: str, table: Table) -> dict[str, Any]:
    """Return where a table stands and what it is, for a program."""
    return {**_place_json(path, table), "description": table.description}


def _row_json(row: Row) -> dict[str, Any]:
    """Return a setting for a program."""
    return {**asdict(row), "unit": row.unit or None, "range": row.range.replace("`", "")}


def _print_tables(tables: Sequence[Table]) -> None:
    """Print every table with its sentence, file by file, and the keys of the file's own."""
    for file, title in FILES.items():
        click.echo(f"In {title}:\n")
        for table in (table for table in tables if table.file == file):
            names = [path.replace("[]", "") for path in table.paths if path] or [row.name for row in table.rows]
            click.echo(f"  {_heading(', '.join(names), table)}\n      {table.description}".replace("`", ""))
        click.echo()
    click.echo("One table with its settings: sublatch settings output; one setting: sublatch settings output.load.")


def _heading(path: str, table: Table) -> str:
    """Return a table's path with what tells it from others there."""
    return f"{path}, where {table.tag}" if table.tag else path


def _setting_text(above: str, table: Table, row: Row) -> str:
    """Return all that there is to say of one setting."""
    lines = (
        _heading(f"{f'{above}.{row.name}'.strip('.')} in {FILES[table.file]}", table),
        f"  {row.description}",
        f"  unit     {UNITS[row.unit]}",
        f"  range    {row.range}",
        f"  default  {row.default}",
    )
    return "\n".join(lines)


def _table_text(path: str, table: Table) -> str:
    """Return a table's settings, one a line."""
    rows = [(row.name, row.range.replace("`", ""), f"{row.description} Default: {row.default}.") for row in table.rows]
    lines = [_heading(f"{path} in {FILES[table.file]}", table), f"  {table.description}"]
    return "\n".join([*lines, *([columns(rows)] if rows else [])])
