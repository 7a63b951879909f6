"""``sublatch tune``."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any

import click

from sublatch.cli.board_options import BOARDS, boards_options, selection_line
from sublatch.cli.changes import read_changes
from sublatch.cli.exit_status import INTERRUPTED
from sublatch.cli.help import Manual
from sublatch.cli.options import (
    circuit_options,
    json_option,
    note,
    note_assumed,
    notes_options,
    overwrite_option,
    print_json,
    take_options,
    tuning_option,
)
from sublatch.errors import AudioDataError, AudioFileError, UnitError
from sublatch.json_data import plain_values

if TYPE_CHECKING:
    from sublatch.circuit.boards import BoardDraws
    from sublatch.circuit.model import Circuit
    from sublatch.pitch.given.notes import GivenNotes
    from sublatch.takes.take import Take
    from sublatch.tracking.tune.fast_lock import TuneNote
    from sublatch.tracking.tune.job import TuneAim, TuneResult
    from sublatch.tracking.tune.notes import TuneNotes
    from sublatch.tracking.tune.outcome import Tuned

WIDTH = 120
FEW = 8
"""Fewer notes than this are few to tune on."""


@click.command(
    cls=Manual,
    short_help="Search the detector that holds on best to your own notes.",
    examples=(
        "sublatch tune groove.wav open-strings.wav -c gated-swept --full-scale 2V -o better.toml",
        "sublatch tune groove.wav -c gated-swept --full-scale 2V --notes groove.mid -o better.toml",
        "sublatch tune groove.wav -c gated-swept --full-scale 2V --boards 60 --battery-down-to 7V -o better.toml",
    ),
    groups=BOARDS,
)
@click.argument("takes", nargs=-1, required=True, type=click.Path(), metavar="TAKE...")
@circuit_options
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), help="Circuit file (.toml) to write the better one to."
)
@tuning_option
@notes_options
@click.option("--trials", type=click.IntRange(min=1), default=500, show_default=True, help="How many circuits to try.")
@click.option(
    "--seed", type=click.IntRange(min=0), default=0, show_default=True, help="Another seed, another way of searching."
)
@click.option(
    "--held-out",
    metavar="SHARE",
    default="25%",
    show_default=True,
    help="Share of the notes that is kept out of the search, to check what it found.",
)
@click.option(
    "--edges",
    metavar="SHARE",
    default="0%",
    show_default=True,
    help="Lock to give up for edges near the note's zero crossings, where nothing jumps: what a note loses whose every "
    "edge makes a step as large as its peak.",
)
@boards_options(
    text="Measure the result on so many boards, their parts and devices off by what is usual; others are searched on.",
    count=30,
)
@take_options
@overwrite_option
@json_option
@click.pass_context
def tune(
    ctx: click.Context,
    takes: tuple[str, ...],
    circuit: str,
    changes: tuple[str, ...],
    output: Path | None,
    tuning: str,
    given: GivenNotes | None,
    trials: int,
    seed: int,
    held_out: str,
    edges: str,
    boards: BoardDraws,
    full_scale: float | None,
    channel: int | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Search the detector that holds on best to the notes of recordings, over parts that can be bought.

    Every steady note of the takes counts alike, open strings twice. What is sought is good lock on nine boards
    in ten, whose parts and devices are off by lot. The step is the note's value where the octave switches, as a
    share of its peak: none at the note's zero crossings. Ctrl-C ends the search early and keeps the best.
    """
    from sublatch.circuit.load import load_circuit
    from sublatch.circuit.save import CIRCUIT_FILES
    from sublatch.pitch.open_strings import open_strings
    from sublatch.tracking.tune.job import TuneAim
    from sublatch.tracking.tune.outcome import Tuned, write_tuned

    start = load_circuit(circuit, changes=read_changes(changes))
    open_strings(tuning)
    share, step_weight = _held_out_share(held_out), _share("--edges", edges)
    is_file = circuit.lower().endswith(".toml")
    others = [ctx.params[name] for name in ("calibration", "notes") if ctx.params[name]]
    inputs = [*takes, *([circuit] if is_file else []), *others]
    if output is not None:
        CIRCUIT_FILES.guard(output, inputs=inputs, overwrite=overwrite)
    boards.board(start, boards.first)  # a battery that cannot be is refused before anything is heard
    heard, failed = _read(takes, full_scale, channel)
    if not heard:
        ctx.exit(1)
    found = _notes_of(heard, tuning, given)
    how = {"trials": trials, "seed": seed, "held_out_share": share}
    result = _search(found.notes, start, TuneAim(step_weight, boards), how)
    origin = " with ".join([circuit, *([", ".join(changes)] if changes else [])])
    tuned = Tuned(start, origin, found, result, trials, seed, step_weight)
    written = output if result.changes else None
    if written is not None:
        write_tuned(tuned, written, inputs=inputs, overwrite=overwrite)
    if as_json:
        print_json({**plain_values(tuned), "output": None if written is None else str(written)})
    else:
        _print(tuned)
    _say_how_it_ended(tuned, output, comments_of=circuit if is_file else None)
    ctx.exit(INTERRUPTED if tuned.stopped_early else 1 if failed else 0)


def _held_out_share(text: str) -> float:
    """Return the share of --held-out."""
    from sublatch.tracking.tune.job import MOST_HELD_OUT

    value = _share("--held-out", text)
    if value > MOST_HELD_OUT:
        raise UnitError(f"--held-out must be at most {100 * MOST_HELD_OUT:g}%, got {text!r}; the rest is searched on")
    return value


def _share(option: str, text: str) -> float:
    """Return the share that an option gives."""
    from sublatch.units import fraction

    try:
        return fraction(text)
    except UnitError as problem:
        raise UnitError(f"{option}: {problem}") from None


def _read(files: tuple[str, ...], volts: float | None, channel: int | None) -> tuple[list[Take], bool]:
    """Return the takes that can be read, each file once, and whether there are others."""
    from sublatch.takes.take import read_take

    takes: dict[str, Take] = {}
    failed = False
    for file in files:
        if os.path.realpath(file) in takes:
            note(f"{file} is given more than once; it is used once")
            continue
        try:
            takes[os.path.realpath(file)] = read_take(file, full_scale_volts=volts, channel=channel)
        except AudioFileError as problem:
            click.echo(f"sublatch: {problem}", err=True)
            failed = True
    return list(takes.values()), failed


def _notes_of(takes: list[Take], tuning: str, given: GivenNotes | None) -> TuneNotes:
    """Return the takes' notes, having said what of them is left out."""
    from sublatch.tracking.tune.notes import tune_notes

    found = tune_notes(takes, tuning=tuning, notes=given)
    for one in found.takes:
        for remark in one.remarks:
            note(f"{one.take.name}: {remark.text}")
    if any(take.full_scale_assumed for take in takes):
        note_assumed()
    if not found.notes:
        raise AudioDataError("there must be a note with one steady pitch to tune on, and no take has any")
    return found


def _search(notes: Sequence[TuneNote], start: Circuit, aim: TuneAim, how: dict[str, Any]) -> TuneResult:
    """Return the best circuit, a bar showing how far search and measurement are."""
    from sublatch.tracking.tune.job import tune as search

    with click.progressbar(length=how["trials"], label="Tuning", file=sys.stderr) as bar:

        def show(done: int, count: int) -> None:
            bar.length = count
            bar.update(done - bar.pos)

        return search(notes, start, aim=aim, progress=show, **how)


def _print(tuned: Tuned) -> None:
    """Print the figures, which part to select, and each change."""
    from sublatch.tracking.tune.outcome import gained, old_and_new, stepped

    result = tuned.result
    click.echo(
        f"{'':<12}  notes  {'locked %':<13}  {'open strings %':<14}  {'step %':<8}  {'median board %':<14}  "
        "10th percentile %"
    )
    sets = ((result.before, result.after), (result.held_out.before, result.held_out.after))
    for name, count, (before, after) in zip(("searched on", "held out"), tuned.counts, sets, strict=True):
        everything = gained(before.locked_share, after.locked_share)
        opened = gained(before.open_string_locked_share, after.open_string_locked_share)
        steps = stepped(before.step_share, after.step_share)
        median, low = gained(before.locked_median, after.locked_median), gained(before.locked_p10, after.locked_p10)
        click.echo(f"{name:<12}  {count:>5}  {everything:<13}  {opened:<14}  {steps:<8}  {median:<14}  {low}")
    click.echo()
    if said := selection_line(result.selection, result.circuit):
        click.echo(fill(said, WIDTH, subsequent_indent="  ") + "\n")
    if not result.changes:
        click.echo(f"Nothing better was found: {tuned.origin} is best left as it is.")
        return
    click.echo("changes")
    changes = old_and_new(tuned)
    width = max(len(path) for path in changes)
    for path, (old, new) in changes.items():
        click.echo(f"  {path:<{width}}  {'–' if old is None else old} → {new}")


def _say_how_it_ended(tuned: Tuned, output: Path | None, *, comments_of: str | None) -> None:
    """Say on standard error what is worth knowing of a result."""
    result = tuned.result
    if sum(tuned.counts) < FEW:
        note(f"{sum(tuned.counts)} notes are few: what suits them may suit no others")
    elif tuned.counts[1] == 0:
        note("no notes were held out, so nothing tells how well this suits other notes")
    if tuned.stopped_early:
        click.echo(f"sublatch: stopped early, after {result.trials} of {tuned.trials} trials", err=True)
    if output is not None and result.changes:
        if comments_of is not None:
            note(f"the comments in {comments_of} are not carried over")
        click.echo(f"Written {output}", err=True)
    elif output is not None:
        click.echo(f"Nothing written to {output}", err=True)
