"""``sublatch circuits``."""

from __future__ import annotations

import click

from sublatch.cli.completion import complete_built_in
from sublatch.cli.help import Manual
from sublatch.cli.options import columns, json_option, print_json


@click.command(
    cls=Manual,
    short_help="List the built-in circuits, or print one.",
    examples=(
        "sublatch circuits",
        "sublatch circuits gated-swept > mine.toml",
    ),
)
@click.argument("name", required=False, shell_complete=complete_built_in)
@json_option
def circuits(name: str | None, as_json: bool) -> None:
    """List the built-in circuits, or print the one called NAME, or a .toml file, with all of its settings."""
    from sublatch.circuit.load import circuit_names, circuit_text, is_circuit_file, load_circuit
    from sublatch.circuit.save import circuit_toml

    if name is not None:
        circuit = load_circuit(name)
        if as_json:
            marks = {"origins": circuit.origins} if circuit.origins else {}
            print_json({**circuit.model_dump(mode="json"), **marks})
        else:
            click.echo(circuit_toml(circuit) if is_circuit_file(name) else circuit_text(name), nl=False)
        return
    titles = [(known, load_circuit(known).title) for known in circuit_names()]
    if as_json:
        print_json({"circuits": [{"name": known, "title": title} for known, title in titles]})
    else:
        click.echo(columns(titles, indent=""))
