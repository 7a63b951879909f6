"""``sublatch response``."""

from __future__ import annotations

import click

from sublatch.cli.options import circuit_options, json_option, number, print_json, read_changes

TABLE_HZ = (20, 31.5, 41.2, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 2000, 4000, 8000, 16000)


@click.command(short_help="Show the output filter's gain, corner and peak.")
@circuit_options
@json_option
def response(circuit: str, changes: tuple[str, ...], as_json: bool) -> None:
    """Show the output filter's response: gain over frequency, corner, peak."""
    from sublatch.circuit.load import load_circuit
    from sublatch.circuit.response import response as respond
    from sublatch.units import format_hertz

    chosen = load_circuit(circuit, changes=read_changes(changes))
    if as_json:
        print_json(respond(chosen).to_dict())
        return
    found = respond(chosen, frequency_hz=TABLE_HZ)
    click.echo(chosen.title)
    click.echo(f"gain at 0 Hz   {number(found.dc_gain_db, places=2)} dB")
    corner = "none" if found.corner_hz is None else f"{format_hertz(found.corner_hz)} (3.01 dB down)"
    click.echo(f"corner         {corner}")
    peak = "none" if found.peak_hz is None else f"{found.peak_db:.2f} dB at {format_hertz(found.peak_hz)}"
    click.echo(f"peak           {peak}")
    for frequency, gain in zip(found.frequency_hz, found.gain_db, strict=True):
        click.echo(f"{frequency:>8g} Hz  {number(float(gain), places=2):>8} dB")
