"""``sublatch demo``."""

from __future__ import annotations

import shlex
from pathlib import Path

import click

from sublatch.cli.help import Manual
from sublatch.cli.options import json_option, overwrite_option, print_json


@click.command(
    cls=Manual,
    short_help="Write invented takes and plans to start from.",
    examples=("sublatch demo my-sounds",),
)
@click.argument("directory", type=click.Path(path_type=Path))
@overwrite_option
@json_option
def demo(directory: Path, overwrite: bool, as_json: bool) -> None:
    """Write invented takes, a backing, two plans and a circuit to start from into DIRECTORY."""
    from sublatch.demo.write import write_demo

    click.echo("Plucking strings …", err=True)
    written = write_demo(directory, overwrite=overwrite)
    if as_json:
        print_json({"written": [str(path) for path in written]})
        return
    for path in written:
        click.echo(str(path))
    click.echo(f"Now: sublatch audition {shlex.quote(str(written[-1]))}")
