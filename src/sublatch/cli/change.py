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
)

if TYPE_CHECKING:
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
@order_options
@overwrite_option
@json_option
def change(
    before: str,
    after: str,
    changes: tuple[str, ...],
    output: Path | None,
    orders: OrderFiles,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Write the change sheet from one circuit to another: what to lift, cut, hardwire, replace and add, and the checks.

    BEFORE is the box as it is, AFTER what it shall be: built-in circuits (see 'sublatch circuits') or .toml files.
    """
    from sublatch.board.change.page.write import write_change
    from sublatch.circuit.load import load_circuit

    old, new = load_circuit(before), load_circuit(after, changes=read_changes(changes))
    target = output or Path(f"{Path(before).stem}-to-{Path(after).stem}.html")
    report = write_change(old, new, target, inputs=circuit_files(before, after), overwrite=overwrite, orders=orders)
    note_orders(orders)
    if as_json:
        print_json(report)
        return
    click.echo(f"{report.output}: {report.before} → {report.after}")
    for number, step in enumerate(report.operations, start=1):
        click.echo(fill(f"{number:2}  {step.what}", 118, initial_indent="  ", subsequent_indent="      "))
    bought = sum(line.quantity for line in report.parts)
    to_buy = "1 part" if bought == 1 else f"{bought} parts"
    click.echo(f"  {to_buy} to buy; {report.kept} parts stay as they are, {report.altered} are touched")
