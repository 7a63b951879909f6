"""``sublatch change``."""

from __future__ import annotations

from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

import click

from sublatch.cli.changes import read_changes
from sublatch.cli.completion import complete_circuit, complete_setting
from sublatch.cli.help import Manual
from sublatch.cli.options import (
    circuit_files,
    json_option,
    note_orders,
    order_options,
    overwrite_option,
    path_option,
    print_json,
    search_bar,
)

if TYPE_CHECKING:
    from sublatch.board.change.small_board import SmallBoard
    from sublatch.board.orders.files import OrderFiles


@click.command(
    cls=Manual,
    short_help="Write how to change one circuit into another.",
    examples=(
        "sublatch change gated-first-order mine.toml -o change.html",
        "sublatch change gated-first-order gated-swept --set mix.direct_pot=none --set hardwired=drive",
    ),
)
@click.argument("before", shell_complete=complete_circuit)
@click.argument("after", shell_complete=complete_circuit)
@click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="PATH=VALUE",
    help="Change one setting of AFTER, such as hardwired=drive. May be given again.",
    shell_complete=complete_setting,
)
@path_option("-o", "--output", help="HTML file to write [default: BEFORE-to-AFTER.html here].")
@click.option("--room", metavar="WIDTHxHEIGHT", help="What the small board must fit into, such as 15x25mm.")
@click.option("--seed", type=click.IntRange(min=0), default=0, show_default=True, help="The same finds the same board.")
@order_options
@overwrite_option
@json_option
def change(
    before: str,
    after: str,
    changes: tuple[str, ...],
    output: Path | None,
    room: str | None,
    seed: int,
    orders: OrderFiles,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Write the change sheet from one circuit to another: what to lift, cut, hardwire, replace and add, and the checks.

    BEFORE is the box as it is, AFTER what it shall be: built-in circuits (see 'sublatch circuits') or .toml files.
    """
    from sublatch.board.change.page.write import write_change
    from sublatch.board.change.small_board import RUNS, Wanted
    from sublatch.board.stripboard.records import read_room
    from sublatch.circuit.load import load_circuit

    old, new = load_circuit(before), load_circuit(after, changes=read_changes(changes))
    target = output or Path(f"{Path(before).stem}-to-{Path(after).stem}.html")
    inputs, fits = circuit_files(before, after), None if room is None else read_room(room)
    with search_bar("Laying out", steps=RUNS + 1) as progress:
        board = Wanted(fits, seed, progress)
        report = write_change(old, new, target, inputs=inputs, overwrite=overwrite, orders=orders, board=board)
    note_orders(orders)
    if as_json:
        print_json(report)
        return
    click.echo(f"{report.output}: {report.before} → {report.after}")
    for number, step in enumerate(report.operations, start=1):
        click.echo(fill(f"{number:2}  {step.what}", 118, initial_indent="  ", subsequent_indent="      "))
        for one in step.singly:
            click.echo(fill(one.what, 118, initial_indent="        ", subsequent_indent="          "))
    bought = sum(line.quantity for line in report.parts)
    to_buy = "1 part" if bought == 1 else f"{bought} parts"
    click.echo(f"  {to_buy} to buy; {report.kept} parts stay as they are, {report.altered} are touched")
    _print_board(report.small_board)


def _print_board(board: SmallBoard | None) -> None:
    """Print how large the small board is, or why there is none; nothing where nothing is added."""
    from sublatch.board.stripboard.words import size_words

    if board is not None:
        told = board.why_none if board.layout is None else f"{board.layout.kind}, {size_words(board.layout)}"
        click.echo(fill(f"small board: {told}", 118, initial_indent="  ", subsequent_indent="    "))
