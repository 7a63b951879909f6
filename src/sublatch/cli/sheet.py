"""``sublatch sheet``."""

from __future__ import annotations

from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

import click

from sublatch.cli.changes import read_changes
from sublatch.cli.help import Manual
from sublatch.cli.options import (
    circuit_options,
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
    short_help="Write a circuit's build sheet for the bench.",
    examples=(
        "sublatch sheet -c mine.toml",
        "sublatch sheet -c gated-swept --set supply=12V -o sheet.html",
        "sublatch sheet -c mine.toml --parts parts.csv --netlist netlist.csv",
    ),
)
@circuit_options
@path_option("-o", "--output", help="HTML file to write [default: CIRCUIT-sheet.html here].")
@click.option("--layouts", is_flag=True, help="Add a board layout of each block; takes a few minutes.")
@order_options
@overwrite_option
@json_option
def sheet(
    circuit: str,
    changes: tuple[str, ...],
    output: Path | None,
    layouts: bool,
    orders: OrderFiles,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Write a circuit's build sheet: one printable page with schematic, parts, wiring, bench table and cautions."""
    from sublatch.board.sheet.write import write_sheet
    from sublatch.circuit.load import load_circuit

    chosen = load_circuit(circuit, changes=read_changes(changes))
    target = output or Path(f"{Path(circuit).stem}-sheet.html")
    inputs = [circuit] if Path(circuit).exists() else []
    report = write_sheet(chosen, target, inputs=inputs, overwrite=overwrite, layouts=layouts, orders=orders)
    note_orders(orders)
    if as_json:
        print_json(report)
        return
    click.echo(f"{report.output}: {report.title}, {report.parts} parts to buy")
    for kind, amps in report.supply_amps.items():
        hours = report.battery_hours.get(kind)
        lasts = "" if hours is None else f", {hours:.0f} h from a 9 V battery"
        click.echo(f"  with {kind} op-amps  about {1000 * amps:.1f} mA{lasts}")
    for remark in report.supply_remarks:
        click.echo(fill(remark, 120, initial_indent="  ", subsequent_indent="    "))
