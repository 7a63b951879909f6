"""``sublatch layout``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sublatch.cli.changes import read_changes
from sublatch.cli.help import Manual
from sublatch.cli.options import (
    circuit_files,
    circuit_options,
    columns,
    json_option,
    note,
    overwrite_option,
    path_option,
    print_json,
    search_bar,
)

if TYPE_CHECKING:
    from sublatch.board.stripboard.records import Layout


@click.command(
    cls=Manual,
    short_help="Find a stripboard layout for a block.",
    examples=(
        "sublatch layout -c gated-swept",
        "sublatch layout -c mine.toml --block output --room 20x25mm -o output.html",
    ),
)
@circuit_options
@click.option("--block", default="filter", show_default=True, help="The part of the circuit to lay out.")
@click.option("--room", metavar="WIDTHxHEIGHT", help="What the board must fit into, such as 15x25mm.")
@click.option("--seed", type=click.IntRange(min=0), default=0, show_default=True, help="The same finds the same board.")
@click.option(
    "--runs",
    type=click.IntRange(1, 1000),
    default=16,
    show_default=True,
    help="Searches; more may find a smaller board.",
)
@click.option("--perfboard", is_flag=True, help="A board of single holes, joined by wires below.")
@path_option("-o", "--output", help="HTML page to write; .svg or .png for both sides at 1:1.")
@overwrite_option
@json_option
def layout(
    circuit: str,
    changes: tuple[str, ...],
    output: Path | None,
    overwrite: bool,
    as_json: bool,
    **asked: Any,
) -> None:
    """Find a small stripboard for one block of a circuit: where each part stands, cuts, links, and proof of them."""
    from sublatch.board.stripboard.page import guard_layout, write_layout
    from sublatch.board.stripboard.words import layout_document
    from sublatch.circuit.load import load_circuit

    chosen = load_circuit(circuit, changes=read_changes(changes))
    if output is not None:
        guard_layout(output, inputs=circuit_files(circuit), overwrite=overwrite)
    found = _found(chosen, asked)
    if output is not None:
        write_layout(found, output, title=f"{chosen.title}: {asked['block']}")
    if as_json:
        document = {"block": asked["block"], **layout_document(found)}
        print_json({"output": output and str(output), "layout": document})
    else:
        _print(found, asked["block"])
        if output is not None:
            click.echo(f"Written {output}", err=True)


def _found(circuit: Any, asked: dict[str, Any]) -> Layout:
    """Return the layout that is asked for."""
    from sublatch.board.assemble import board
    from sublatch.board.stripboard.records import read_room
    from sublatch.board.stripboard.search import Effort, block_layout

    room = None if asked["room"] is None else read_room(asked["room"])
    with search_bar("Laying out", steps=asked["runs"] + 1) as progress:
        found = block_layout(
            board(circuit),
            asked["block"],
            room=room,
            seed=asked["seed"],
            effort=Effort(asked["runs"], progress=progress),
            strips=not asked["perfboard"],
        )
    if found.kind == "perfboard" and not asked["perfboard"]:
        note("no stripboard was found, so this is a perfboard with wires; more --runs or more room may find one")
    return found


def _print(found: Layout, block: str) -> None:
    """Print a layout in words."""
    from sublatch.board.stripboard.words import cut_rows, link_rows, part_rows, size_words

    click.echo(f"{block}, {found.kind}: {size_words(found)}")
    if found.kind == "stripboard":
        click.echo(f"  cuts   {' '.join(cut_rows(found)) or 'none'}")
    click.echo(f"  links  {' '.join(link_rows(found)) or 'none'}")
    click.echo(columns(part_rows(found)))
