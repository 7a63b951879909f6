"""``sublatch track``."""

from __future__ import annotations

import shlex
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sublatch.cli.board_options import BOARDS, boards_options, selection_line
from sublatch.cli.changes import read_changes
from sublatch.cli.help import Manual
from sublatch.cli.options import (
    circuits_options,
    json_option,
    note_assumed,
    notes_options,
    notes_words,
    overwrite_option,
    print_json,
    scale_words,
    take_options,
    tuning_option,
)
from sublatch.cli.tracked import Tracked
from sublatch.errors import AudioFileError
from sublatch.json_data import plain_values

if TYPE_CHECKING:
    from sublatch.circuit.boards import BoardDraws
    from sublatch.circuit.model import Circuit
    from sublatch.pitch.given.notes import GivenNotes
    from sublatch.takes.take import Take


@click.command(
    cls=Manual,
    short_help="Show where circuits hold on to the notes, and where not.",
    examples=(
        "sublatch track groove.wav -c gated-swept -c mine.toml --tuning bass-5 --each --plot lock.png",
        "sublatch track groove.wav -c gated-swept --full-scale 2V --notes groove.mid --second-opinion",
        "sublatch track groove.wav -c gated-swept --full-scale 2V --boards 30 --battery-down-to 7V",
    ),
    groups=BOARDS,
)
@click.argument("takes", nargs=-1, required=True, type=click.Path(), metavar="TAKE...")
@circuits_options
@tuning_option
@notes_options
@boards_options(text="Also look at so many boards, their parts and devices off by what is usual.")
@click.option("--each", is_flag=True, help="Show every single note, where it switches and how it is lost.")
@click.option("--levels", is_flag=True, help="Also play the takes from 24 dB softer to 12 dB louder.")
@click.option(
    "--second-opinion",
    is_flag=True,
    help="Say where the pitch tracker pYIN hears another pitch than that of the notes. It takes long.",
)
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
    given: GivenNotes | None,
    boards: BoardDraws | None,
    each: bool,
    levels: bool,
    second_opinion: bool,
    plot: Path | None,
    full_scale: float | None,
    channel: int | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Show, string by string, where circuits hold on to recordings and where they lose lock.

    Circuits with the same detector hold on alike, so that they are shown together. Where a note is held for less than
    85 % of its time, it names the built-in detector that would hold on for at least 2 % more of the take, if there is
    one. The notes are found, or those of --notes: a .mid file, or a line with start, length and note for each.
    """
    from sublatch.circuit.load import load_circuit
    from sublatch.cli.track_opinions import print_opinions
    from sublatch.cli.track_tables import print_tables
    from sublatch.pictures.file import MAKER, guard_picture, write_picture
    from sublatch.pitch.open_strings import open_strings
    from sublatch.takes.take import read_take

    settings = read_changes(changes)
    chosen = {name: load_circuit(name, changes=settings) for name in circuits}
    open_strings(tuning)
    if plot is not None:
        notes_file = ctx.params["notes"]
        guard_picture(plot, inputs=[*takes, *([notes_file] if notes_file else [])], overwrite=overwrite)
    found: list[Tracked] = []
    failed = False
    for file in takes:
        try:
            take = read_take(file, full_scale_volts=full_scale, channel=channel)
        except AudioFileError as problem:
            click.echo(f"sublatch: {problem}", err=True)
            failed = True
            continue
        own = _tracked(take, chosen, tuning, given, levels=levels)
        own = _over_boards(take, chosen, own, boards, tuning, given) if boards is not None else own
        found += _with_opinion(take, own) if second_opinion else own
    if full_scale is None:
        note_assumed()
    if as_json:
        print_json({"results": [told for one in found for told in _told(one, tuning)]})
    elif found:
        print_tables(found, tuning=tuning, each=each)
        print_opinions(found)
        _suggest_tuning(
            found, takes, changes=changes, tuning=tuning, more=[*scale_words(ctx), *notes_words(ctx)], channel=channel
        )
    if plot is not None and found:
        from sublatch.tracking.pictures.page import tracking_png

        played = [one.levels for one in found if one.levels is not None]
        picture = tracking_png(
            [one.tracking for one in found],
            levels=played,
            boards=[one.boards for one in found if one.boards is not None],
            software=MAKER,
        )
        write_picture(plot, picture)
        click.echo(f"Drawn {plot}", err=True)
    ctx.exit(1 if failed else 0)


def _tracked(
    take: Take, circuits: dict[str, Circuit], tuning: str, given: GivenNotes | None, *, levels: bool
) -> list[Tracked]:
    """Return how each detector tracks a take, and where asked for how that depends on its level."""
    from sublatch.signal.cache import StageCache
    from sublatch.tracking.hum import hum_remarks
    from sublatch.tracking.playing_levels import lock_over_level
    from sublatch.tracking.track import same_detectors
    from sublatch.tracking.track import track as track_one
    from sublatch.tracking.tune.lost import lost
    from sublatch.tracking.tune.out_of_range import range_remarks

    cache = StageCache()
    found = []
    for names in same_detectors(circuits):
        one, name = circuits[names[0]], ", ".join(names)
        tracking = track_one(take, one, name=name, tuning=tuning, notes=given, cache=cache)
        said = (*tracking.remarks, *range_remarks(tracking, one), *hum_remarks(take, one))
        tracking = replace(tracking, remarks=said)
        over_level = None
        if levels:
            over_level = lock_over_level(take, one, name=name, tuning=tuning, notes=given, cache=cache)
        loses = lost(take, one, tracking, tuning=tuning, notes=given, cache=cache)
        found.append(Tracked(names, tracking, loses, over_level))
    return found


def _over_boards(
    take: Take,
    circuits: dict[str, Circuit],
    found: list[Tracked],
    draws: BoardDraws,
    tuning: str,
    given: GivenNotes | None,
) -> list[Tracked]:
    """Return what was found on a take with the lock of many boards of each detector, a bar showing how far that is."""
    return [_with_boards(take, circuits[one.circuits[0]], one, draws, tuning, given) for one in found]


def _with_boards(
    take: Take, circuit: Circuit, found: Tracked, draws: BoardDraws, tuning: str, given: GivenNotes | None
) -> Tracked:
    """Return what was found of one detector with the lock of many boards, and with the part to select."""
    from sublatch.tracking.board_parts import hearings
    from sublatch.tracking.boards import lock_over_boards, with_selection

    name = found.tracking.circuit
    label = f"boards of {name} on {take.name}"
    count = draws.count + hearings(circuit, draws)
    with click.progressbar(length=count, label=label, file=sys.stderr) as bar:

        def step() -> None:
            bar.update(1)

        boards = lock_over_boards(take, circuit, name=name, draws=draws, tuning=tuning, notes=given, progress=step)
        if boards is not None:
            boards = with_selection(boards, take, circuit, tuning=tuning, notes=given, progress=step)
        bar.update(count - bar.pos)
    said = "" if boards is None else selection_line(boards.selection, circuit)
    return replace(found, boards=boards, selection=said)


def _with_opinion(take: Take, found: list[Tracked]) -> list[Tracked]:
    """Return what was found on a take with a second opinion on its notes, a bar showing how far that is."""
    from sublatch.pitch.second_opinion import opinion_blocks, pitch_opinions

    notes = [item.note for item in found[0].tracking.notes]
    with click.progressbar(length=opinion_blocks(take), label=f"pYIN on {take.name}", file=sys.stderr) as bar:
        opinions = pitch_opinions(take, notes, progress=lambda: bar.update(1))
    return [replace(one, opinions=opinions) for one in found]


def _told(found: Tracked, tuning: str) -> list[dict[str, Any]]:
    """Return what was found for JSON, once for each circuit."""
    from sublatch.tracking.strings import by_string

    more: dict[str, Any] = {"strings": by_string(found.tracking, tuning=tuning)}
    more |= plain_values(found.lost)
    if found.opinions is not None:
        more["second_opinion"] = found.opinions
    if found.levels is not None:
        levels = plain_values(found.levels)
        more |= {key: levels[key] for key in levels if key not in ("take", "circuit")}
    told = plain_values(found.tracking)
    if found.boards is not None:
        more["boards"] = plain_values(found.boards)
        for place, note in enumerate(told["notes"]):
            note |= found.boards.note_json_fields(place)
    return [told | {"circuit": name} | more for name in found.circuits]


def _suggest_tuning(
    found: list[Tracked],
    takes: tuple[str, ...],
    *,
    changes: tuple[str, ...],
    tuning: str,
    more: list[str],
    channel: int | None,
) -> None:
    """Say how to search a detector for these takes, where notes of them are lost."""
    losing = [one for one in found if one.lost.poor_notes]
    if not losing:
        return
    words = ["sublatch", "tune", *takes, "-c", losing[0].circuits[0]]
    words += [word for change in changes for word in ("--set", change)]
    words += ["--tuning", tuning] if tuning != "bass-4" else []
    words += more
    words += ["--channel", str(channel)] if channel is not None else []
    click.echo(f"to search a detector that suits your notes: {shlex.join([*words, '-o', 'better.toml'])}")
