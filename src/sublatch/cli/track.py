"""``sublatch track``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sublatch.cli.manual import Manual
from sublatch.cli.options import (
    circuits_options,
    json_option,
    note,
    overwrite_option,
    print_json,
    read_changes,
    read_volts,
    take_options,
    tuning_option,
)
from sublatch.errors import AudioFileError

if TYPE_CHECKING:
    from sublatch.circuit.model import Circuit
    from sublatch.take import Take
    from sublatch.tracking.playing_levels import LevelLock
    from sublatch.tracking.track import Tracking


@click.command(
    cls=Manual,
    short_help="Show where circuits hold on to the notes, and where not.",
    examples=(
        "sublatch track groove.wav -c gated-swept --full-scale 2V",
        "sublatch track groove.wav -c gated-swept -c mine.toml --tuning bass-5 --plot lock.png",
    ),
)
@click.argument("takes", nargs=-1, required=True, metavar="TAKE...")
@circuits_options
@tuning_option
@click.option("--levels", is_flag=True, help="Also play the takes from 24 dB softer to 12 dB louder.")
@click.option(
    "--plot",
    type=click.Path(path_type=Path),
    help="PNG file to draw pitch and dropouts into, and with --levels a map of lock over note and level.",
)
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
    levels: bool,
    plot: Path | None,
    full_scale: str | None,
    channel: int | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Show, note by note, where circuits hold on to recordings and where they lose lock."""
    from sublatch.circuit.load import load_circuit
    from sublatch.cli.track_tables import print_tables
    from sublatch.picture_file import MAKER, guard_picture, write_picture
    from sublatch.take import read_take
    from sublatch.tracking.tunings import open_strings

    settings = read_changes(changes)
    chosen = {name: load_circuit(name, changes=settings) for name in circuits}
    open_strings(tuning)
    volts = read_volts(full_scale)
    if plot is not None:
        guard_picture(plot, inputs=takes, overwrite=overwrite)
    results: list[Tracking] = []
    played: list[LevelLock] = []
    failed = False
    for file in takes:
        try:
            take = read_take(file, full_scale_volts=volts, channel=channel)
        except AudioFileError as problem:
            click.echo(f"sublatch: {problem}", err=True)
            failed = True
            continue
        tracked, over_level = _tracked(take, chosen, tuning, levels=levels)
        results, played = results + tracked, played + over_level
    if volts is None:
        note("0 dBFS is taken for 1 V peak; say otherwise with --full-scale")
    if as_json:
        told = [one.to_dict() for one in played] or [{} for _ in results]
        print_json({"results": [result.to_dict() | more for result, more in zip(results, told, strict=True)]})
    else:
        print_tables(results, played, list(chosen))
    if plot is not None and results:
        from sublatch.tracking.pictures.page import tracking_png

        write_picture(plot, tracking_png(results, levels=played, software=MAKER))
        click.echo(f"Drawn {plot}", err=True)
    ctx.exit(1 if failed else 0)


def _tracked(
    take: Take, circuits: dict[str, Circuit], tuning: str, *, levels: bool
) -> tuple[list[Tracking], list[LevelLock]]:
    """Return how each circuit tracks a take, and where asked for how that depends on its level."""
    from sublatch.signal.stages import StageCache
    from sublatch.tracking.playing_levels import lock_over_level
    from sublatch.tracking.track import track as track_one

    cache = StageCache()
    named = circuits.items()
    tracked = [track_one(take, one, name=name, tuning=tuning, cache=cache) for name, one in named]
    if not levels:
        return tracked, []
    return tracked, [lock_over_level(take, one, name=name, tuning=tuning, cache=cache) for name, one in named]
