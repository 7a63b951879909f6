"""``sublatch track``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sublatch.cli.options import json_option, note, overwrite_option, print_json, read_changes, read_volts, take_options
from sublatch.errors import AudioFileError

if TYPE_CHECKING:
    from sublatch.circuit.model import Circuit
    from sublatch.take import Take
    from sublatch.tracking.track import TrackedNote, Tracking


@click.command(short_help="Show where circuits hold on to the notes, and where not.")
@click.argument("takes", nargs=-1, required=True, metavar="TAKE...")
@click.option(
    "-c",
    "--circuit",
    "circuits",
    multiple=True,
    required=True,
    help="A built-in circuit (see 'sublatch circuits') or a .toml file. May be given again.",
)
@click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="PATH=VALUE",
    help="Change one setting in every circuit, such as switches.drive=inverted. May be given again.",
)
@click.option(
    "--tuning", default="bass-4", show_default=True, help="Open strings: bass-5, guitar-6, …, or notes: 'D1 A1 D2 G2'."
)
@click.option("--plot", type=click.Path(path_type=Path), help="PNG file to draw pitch and dropouts into.")
@take_options
@overwrite_option
@json_option
@click.pass_context
def track(
    ctx: click.Context,
    takes: tuple[str, ...],
    circuits: tuple[str, ...],
    changes: tuple[str, ...],
    tuning: str,
    plot: Path | None,
    full_scale: str | None,
    channel: int | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Show, note by note, where circuits hold on to recordings and where they lose lock."""
    from sublatch.circuit.load import load_circuit
    from sublatch.take import read_take
    from sublatch.tracking.plot_file import guard_picture, write_picture
    from sublatch.tracking.tunings import open_strings

    settings = read_changes(changes)
    chosen = {name: load_circuit(name, changes=settings) for name in circuits}
    open_strings(tuning)
    volts = read_volts(full_scale)
    if plot is not None:
        guard_picture(plot, inputs=takes, overwrite=overwrite)
    results: list[Tracking] = []
    failed = False
    for file in takes:
        try:
            take = read_take(file, full_scale_volts=volts, channel=channel)
        except AudioFileError as problem:
            click.echo(f"sublatch: {problem}", err=True)
            failed = True
            continue
        results += _tracked(take, chosen, tuning)
    if volts is None:
        note("0 dBFS is taken for 1 V peak; say otherwise with --full-scale")
    if as_json:
        print_json({"results": [result.to_dict() for result in results]})
    else:
        _print(results, chosen)
    if plot is not None and results:
        write_picture(plot, results)
        click.echo(f"Drawn {plot}", err=True)
    ctx.exit(1 if failed else 0)


def _tracked(take: Take, circuits: dict[str, Circuit], tuning: str) -> list[Tracking]:
    """Return how each circuit tracks a take."""
    from sublatch.signal.stages import StageCache
    from sublatch.tracking.track import track as track_one

    cache = StageCache()
    return [track_one(take, circuit, name=name, tuning=tuning, cache=cache) for name, circuit in circuits.items()]


def _print(results: list[Tracking], circuits: dict[str, Circuit]) -> None:
    """Print every note, open strings apart, and a line for each circuit."""
    from sublatch.tracking.track import mean_share

    for result in results:
        click.echo(f"{result.take}, {result.circuit}")
        for remark in result.remarks:
            click.echo(f"  {remark}")
        for title, wanted in (("open strings", True), ("other notes", False)):
            chosen = [item for item in result.notes if item.note.open_string is wanted]
            if chosen:
                click.echo(f"  {title:<14}  start s  locked %  first dropout s  lost by")
                for item in chosen:
                    click.echo(_line(item))
        click.echo()
    width = max(len(name) for name in circuits)
    click.echo(f"{'circuit':<{width}}  locked %  open strings %")
    for name in circuits:
        own = [result for result in results if result.circuit == name]
        shares = _percent(mean_share(own)), _percent(mean_share(own, open_strings=True))
        click.echo(f"{name:<{width}}  {shares[0]:>8}  {shares[1]:>14}")


def _line(item: TrackedNote) -> str:
    """Return one note's line."""
    first = item.lock.first_dropout_s
    kinds = [dropout.kind for dropout in item.lock.dropouts]
    lost = ", ".join(f"{kinds.count(kind)} {kind}" for kind in dict.fromkeys(kinds))
    when = "–" if first is None else f"{first:.3f}"
    share = _percent(item.lock.locked_share)
    return f"    {item.note.name:<12}  {item.note.start_s:>7.3f}  {share:>8}  {when:>15}  {lost}".rstrip()


def _percent(share: float | None) -> str:
    """Return a share in per cent; it says 100 only where nothing is missing."""
    if share is None:
        return "–"
    return "100" if share == 1.0 else f"{min(100 * share, 99.9):.1f}"
