"""``sublatch mybox``."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sublatch.cli.help import Manual
from sublatch.cli.mybox_facts import ask, fact_options, facts_from, recorded
from sublatch.cli.options import (
    json_option,
    note,
    note_assumed,
    overwrite_option,
    path_option,
    print_json,
    quantity_option,
    scale_words,
    take_options,
)
from sublatch.json_data import plain_values

if TYPE_CHECKING:
    from sublatch.parts.mybox.contradiction import Contradiction
    from sublatch.parts.mybox.job import Box
    from sublatch.takes.take import Take


@click.command(
    cls=Manual,
    short_help="Make a circuit file from what one knows of a box.",
    examples=(
        "sublatch mybox -o box.toml",
        "sublatch mybox --octave gated --filter 6dB --corner 275Hz --volume-pot 10k --taper linear --unity-at 3 "
        "--in-hand 10.5dB -o box.toml",
        "sublatch mybox --octave polarity --read filter.resistor=33k --read filter.capacitor=22n --no-ask",
    ),
    groups={
        "How it makes the octave, and its filter": ("--octave", "--filter", "--corner", "--low", "--high", "--peak"),
        "Volume knob": ("--volume-pot", "--taper", "--unity-at", "--in-hand", "--at-5", "--load"),
        "Measured": ("--recording", "--tone"),
        "Board": ("--supply", "--mix-resistor", "--read"),
        "What to trust": ("--doubt", "--ask"),
    },
)
@fact_options
@click.option("--read", multiple=True, metavar="PATH=VALUE", help="A value read on the board. May be given again.")
@click.option("--doubt", multiple=True, metavar="FACT", help="A fact that gives way to the others. May be given again.")
@click.option("--ask/--no-ask", "asks", default=None, help="Ask for the rest [default: on a terminal].")
@path_option("--recording", help="The box's output alone while a steady tone is played into it.")
@quantity_option("--tone", "hertz", "That tone.", default="110Hz")
@path_option("--take", help="Recording with which unity was found [default: a sine].")
@take_options
@path_option("-o", "--output", help="Circuit file (.toml) to write.")
@overwrite_option
@json_option
@click.pass_context
def mybox(
    context: click.Context,
    answers: dict[str, str],
    read: tuple[str, ...],
    doubt: tuple[str, ...],
    asks: bool | None,
    recording: Path | None,
    tone: float,
    take: Path | None,
    full_scale: float | None,
    channel: int | None,
    output: Path | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Make a circuit file from what one knows of a box that is already built.

    What is not known is fitted to what is, or taken from the nearest built-in circuit. Each value is marked as known,
    fitted or assumed, here, in the file and wherever it is shown. Where facts contradict each other, it is said what
    each would have to be for the others to hold, and --doubt names the one that gives way.
    """
    from sublatch.circuit.save import CIRCUIT_FILES
    from sublatch.cli.mybox_tables import print_box
    from sublatch.parts.mybox.save import save_box
    from sublatch.parts.mybox.tone_recording import read_tone
    from sublatch.takes.take import read_take

    if take is None and (full_scale is not None or channel is not None):
        raise click.UsageError("--full-scale, --calibration and --channel belong to a --take, and there is none")
    inputs = [path for path in (take, recording) if path is not None]
    if output is not None:
        CIRCUIT_FILES.guard(output, inputs=inputs, overwrite=overwrite)
    line = _read_take(take, full_scale, channel)
    given = answers if recording is None else recorded(answers, read_tone(read_take(recording), tone))
    is_asked = _is_terminal() if asks is None else asks
    given, read = ask(given, read) if is_asked else (given, read)
    box, doubted = _settled(given, read, doubt, line, is_asked=is_asked)
    command = _command(context, given, read, doubted, output)
    if output is not None:
        save_box(box, output, command=command, inputs=inputs, overwrite=overwrite)
    if as_json:
        print_json({**plain_values(box), "command": command, "output": None if output is None else str(output)})
    else:
        print_box(box, command=command)
    if output is not None:
        click.echo(f"Written {output}", err=True)


def _is_terminal() -> bool:
    """Return whether somebody is there to answer."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def _read_take(path: Path | None, full_scale: float | None, channel: int | None) -> Take | None:
    """Return the recording that unity was found with, and say what is to be said of it."""
    from sublatch.takes.take import read_take

    if path is None:
        return None
    take = read_take(path, full_scale_volts=full_scale, channel=channel)
    for remark in take.remarks:
        note(remark.text)
    if take.full_scale_assumed:
        note_assumed()
    return take


def _settled(
    answers: Mapping[str, str], read: Sequence[str], doubt: Sequence[str], take: Take | None, *, is_asked: bool
) -> tuple[Box, list[str]]:
    """Return the box, and which facts gave way; where somebody is there, as they choose."""
    from sublatch.parts.mybox.contradiction import ContradictionError
    from sublatch.parts.mybox.job import my_box

    doubted: list[str] = list(doubt)
    trusted: set[str] = set()
    while True:
        facts = facts_from(answers, read, doubted)
        try:
            box = my_box(facts, take=take)
        except ContradictionError as problem:
            if not is_asked or not problem.contradiction.alternatives:
                raise
            doubted.append(_chosen(problem.contradiction))
            continue
        open_ones = [one for one in box.doubtful if one.text not in trusted]
        if not is_asked or not open_ones:
            return box, doubted
        chosen = _chosen(open_ones[0], all_hold=True)
        trusted.add(open_ones[0].text)
        doubted += [chosen] if chosen else []


def _chosen(contradiction: Contradiction, *, all_hold: bool = False) -> str:
    """Return the fact that gives way, as somebody chooses; nothing where all of them are trusted."""
    click.echo(f"\n{contradiction.text}", err=True)
    if all_hold:
        click.echo("  0  trust all of it", err=True)
    for number, way in enumerate(contradiction.alternatives, start=1):
        click.echo(f"  {number}  {way.words}", err=True)
    least = 0 if all_hold else 1
    numbers = click.IntRange(least, len(contradiction.alternatives))
    number = click.prompt("Which is it", type=numbers, default=0 if all_hold else None, err=True)
    return contradiction.alternatives[number - 1].doubt if number else ""


def _command(
    context: click.Context, answers: Mapping[str, str], read: Sequence[str], doubt: Sequence[str], output: Path | None
) -> str:
    """Return the command line that makes the same box without a question."""
    words = ["sublatch", "mybox"]
    for key, text in answers.items():
        words += [f"--{key}", text]
    for option, values in (("--read", read), ("--doubt", doubt)):
        words += [word for value in values for word in (option, value)]
    take, channel = context.params["take"], context.params["channel"]
    words += ["--take", str(take), *scale_words(context)] if take is not None else []
    words += ["--channel", str(channel)] if channel is not None else []
    return shlex.join([*words, "--no-ask", *(["-o", str(output)] if output else [])])
