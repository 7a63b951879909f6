"""``sublatch response``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sublatch.cli.changes import read_changes
from sublatch.cli.help import Manual
from sublatch.cli.options import (
    circuit_files,
    circuits_options,
    columns,
    json_option,
    note,
    number,
    overwrite_option,
    path_option,
    print_json,
)

if TYPE_CHECKING:
    from sublatch.circuit.model import Circuit
    from sublatch.circuit.networks.corners import Response

TABLE_HZ = (20, 31.5, 41.2, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 2000, 4000, 8000, 16000)
WIDEST = 28
"""Characters of a circuit's name in a table."""


@click.command(
    cls=Manual,
    short_help="Show the output filter's gain, corner and peak.",
    examples=(
        "sublatch response -c gated-swept --set knobs.tone=3.5 --set switches.peak=peaked",
        "sublatch response -c gated-first-order -c mine.toml --plot curves.png",
    ),
)
@circuits_options
@path_option("--plot", help="PNG file to draw the curves into, with tolerance bands.")
@overwrite_option
@json_option
def response(
    circuits: tuple[str, ...], changes: tuple[str, ...], plot: Path | None, overwrite: bool, as_json: bool
) -> None:
    """Show output filters' responses: gain over frequency, corner, peak."""
    from sublatch.circuit.load import load_circuit
    from sublatch.circuit.response import response as respond
    from sublatch.pictures.file import guard_picture

    settings = read_changes(changes)
    chosen = {name: load_circuit(name, changes=settings) for name in circuits}
    if plot is not None:
        guard_picture(plot, inputs=circuit_files(*chosen), overwrite=overwrite)
    if as_json:
        responses = {name: respond(circuit) for name, circuit in chosen.items()}
        several = {"responses": [{"circuit": name, **vars(each)} for name, each in responses.items()]}
        print_json(several if len(responses) > 1 else next(iter(responses.values())))
    elif len(chosen) == 1:
        _print_one(*chosen.values())
    else:
        _print_several({name: respond(circuit, frequency_hz=TABLE_HZ) for name, circuit in chosen.items()})
    if plot is not None:
        _draw(chosen, plot)


def _print_one(circuit: Circuit) -> None:
    """Print one circuit's response."""
    from sublatch.circuit.response import response as respond

    measured = respond(circuit, frequency_hz=TABLE_HZ)
    click.echo(circuit.title)
    for line in _marked_parts(circuit):
        click.echo(line)
    for name, figure in _figures(measured).items():
        click.echo(f"{name:<13}  {figure}{' (3.01 dB down)' if name == 'corner' and figure != 'none' else ''}")
    for frequency, gain in zip(measured.frequency_hz, measured.gain_db, strict=True):
        click.echo(f"{frequency:>8g} Hz  {number(float(gain), places=2):>8} dB")


def _marked_parts(circuit: Circuit) -> list[str]:
    """Return the output filter's parts with their marks in lines; none where nothing is marked."""
    from sublatch.circuit.origins import marked
    from sublatch.circuit.save import settings_of

    if not any(path.startswith("filter.") for path in circuit.origins):
        return []
    parts = {path: setting.text for path, setting in settings_of(circuit).items() if path.startswith("filter.")}
    words = (f"{path.removeprefix('filter.')} {marked(text, circuit.origins, path)}" for path, text in parts.items())
    return [click.wrap_text("parts: " + "; ".join(words), 100, subsequent_indent="  ")]


def _print_several(responses: dict[str, Response]) -> None:
    """Print responses side by side."""
    names = [name if len(name) <= WIDEST else f"…{name[1 - WIDEST :]}" for name in responses]
    figures = [_figures(response) for response in responses.values()]
    rows = [["", *names]] + [[what, *(each[what] for each in figures)] for what in figures[0]]
    for index, frequency in enumerate(TABLE_HZ):
        gains = (f"{number(float(response.gain_db[index]), places=2)} dB" for response in responses.values())
        rows.append([f"{frequency:>8g} Hz  ", *gains])
    click.echo(columns(rows, right_from=1, indent=""))


def _figures(response: Response) -> dict[str, str]:
    """Return what is told of a response above its table."""
    from sublatch.units import format_hertz

    no_gain = f"no gain at 0 Hz; {number(response.reference_db, places=2)} dB at most"
    corners = [format_hertz(corner) for corner in (response.low_corner_hz, response.corner_hz) if corner is not None]
    return {
        "gain at 0 Hz": no_gain if response.dc_gain_db is None else f"{number(response.dc_gain_db, places=2)} dB",
        "corner": " and ".join(corners) or "none",
        "peak": "none"
        if response.peak_hz is None
        else f"{response.peak_db:.2f} dB at {format_hertz(response.peak_hz)}",
    }


def _draw(chosen: dict[str, Circuit], plot: Path) -> None:
    """Draw responses with their tolerance bands."""
    from sublatch.circuit.response import response as respond
    from sublatch.parts.tolerance import BAND_BOARDS, Wanted, spread
    from sublatch.parts.variation import POT_END_OHM
    from sublatch.pictures.file import MAKER, write_picture
    from sublatch.pictures.responses import Curve, responses_png

    bands = {
        name: spread(circuit, boards=BAND_BOARDS, wanted=(Wanted(circuit.tone, circuit.peak, None, 0.0),))
        for name, circuit in chosen.items()
    }
    curves = [Curve(name, respond(circuit), bands[name]) for name, circuit in chosen.items()]
    write_picture(plot, responses_png(curves, software=MAKER))
    note(
        "shaded: nine boards of ten, parts uniform within their tolerance, capacitors 10 %, resistors 5 %, pots 20 % "
        f"and up to {POT_END_OHM:g} Ω left at their ends"
    )
    click.echo(f"Drawn {plot}", err=True)
