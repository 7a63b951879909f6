"""``sublatch knobs``."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sublatch.cli.changes import read_changes
from sublatch.cli.completion import complete_circuit
from sublatch.cli.help import Manual
from sublatch.cli.options import (
    circuit_files,
    circuit_options,
    json_option,
    note,
    note_assumed,
    overwrite_option,
    path_option,
    print_json,
    take_options,
)
from sublatch.json_data import plain_values

if TYPE_CHECKING:
    from sublatch.parts.knobs.report import Knobs


@click.command(
    cls=Manual,
    short_help="Show what the knobs do, unity, trim and headroom.",
    examples=(
        "sublatch knobs -c gated-swept",
        "sublatch knobs -c mine.toml --take groove.wav --full-scale 2V --unity-at 6",
        "sublatch knobs -c gated-swept --same-as gated-first-order -o as-before.toml",
    ),
    groups={"Output": ("--plan",)},
)
@circuit_options
@path_option("--take", help="Recording to measure with [default: a sine].")
@click.option("--unity-at", type=float, metavar="P", help="Find the trim resistor that puts unity at 0 to 10.")
@click.option(
    "--same-as",
    metavar="CIRCUIT",
    help="Find the tone, peak and direct that sound nearest to this circuit.",
    shell_complete=complete_circuit,
)
@path_option(
    "-o",
    "--output",
    help="Circuit file (.toml) to write with what was found: volume at unity, trim resistor, nearest setting.",
)
@path_option(
    "--plan",
    help="Plan (.toml) to write: the --same-as circuit beside the nearest sound, and tone a position less and more.",
)
@path_option("--plot", help="PNG file to draw the knobs into.")
@take_options
@overwrite_option
@json_option
def knobs(
    circuit: str,
    changes: tuple[str, ...],
    take: Path | None,
    unity_at: float | None,
    same_as: str | None,
    output: Path | None,
    plan: Path | None,
    plot: Path | None,
    full_scale: float | None,
    channel: int | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Show what each knob sets over its travel, where unity is, and how near the supply's limits a take comes.

    Unity is the position of the volume knob at which the effect is as loud as the bypassed take. How near two sounds
    are is told in thirds of an octave at matched level, each weighted as it is heard, with the take or a standard bass.
    """
    from sublatch.audition.plan.save import write_plan
    from sublatch.circuit.load import load_circuit
    from sublatch.cli.knob_tables import print_knobs
    from sublatch.cli.nearest_plan import nearest_plan, plan_heading
    from sublatch.parts.knobs.report import knobs as examine
    from sublatch.parts.knobs.save import save_knobs
    from sublatch.takes.take import read_take

    if take is None and (full_scale is not None or channel is not None):
        raise click.UsageError("--full-scale, --calibration and --channel belong to a --take, and there is none")
    if plan is not None and (same_as is None or take is None):
        raise click.UsageError("--plan needs the circuit to compare with, --same-as, and a recording to hear, --take")
    settings = read_changes(changes)
    chosen = load_circuit(circuit, changes=settings)
    other = None if same_as is None else load_circuit(same_as)
    inputs = [*map(Path, circuit_files(circuit, same_as)), *([take] if take else [])]
    _guard(output, plan, plot, inputs=inputs, overwrite=overwrite)
    recording = None if take is None else read_take(take, full_scale_volts=full_scale, channel=channel)
    report = examine(chosen, take=recording, unity_at=unity_at, same_as=other)
    if recording is not None:
        for remark in recording.remarks:
            note(remark.text)
        if recording.full_scale_assumed:
            note_assumed()
    if output is not None:
        origin = " with ".join([circuit, *([", ".join(changes)] if changes else [])])
        save_knobs(report, output, before=chosen, origin=origin, inputs=inputs, overwrite=overwrite)
    if plan is not None and recording is not None and take is not None and same_as is not None:
        circuits = circuit, same_as
        contents = nearest_plan(
            report, plan, file=take, take=recording, channel=channel, circuits=circuits, changes=settings
        )
        write_plan(contents, plan, heading=plan_heading(report), inputs=inputs, overwrite=overwrite)
    if as_json:
        print_json({**plain_values(report), "output": None if output is None else str(output)})
    else:
        print_knobs(report)
    _note_written(report, output, plan, comments_of=circuit)
    if plot is not None:
        from sublatch.parts.knobs.plot import knobs_png
        from sublatch.pictures.file import MAKER, write_picture

        write_picture(plot, knobs_png(report, software=MAKER))
        click.echo(f"Drawn {plot}", err=True)


def _guard(output: Path | None, plan: Path | None, plot: Path | None, *, inputs: list[Path], overwrite: bool) -> None:
    """Refuse, ahead of the work, files that would not be written."""
    from sublatch.audition.plan.save import PLAN_FILES
    from sublatch.circuit.save import CIRCUIT_FILES
    from sublatch.pictures.file import guard_picture

    if output is not None:
        CIRCUIT_FILES.guard(output, inputs=inputs, overwrite=overwrite)
    if plan is not None:
        PLAN_FILES.guard(plan, inputs=[*inputs, *([output] if output else [])], overwrite=overwrite)
    if plot is not None:
        guard_picture(plot, inputs=inputs, overwrite=overwrite)


def _note_written(report: Knobs, output: Path | None, plan: Path | None, *, comments_of: str) -> None:
    """Say on standard error what is written, and what to do with it."""
    if output is not None:
        if circuit_files(comments_of):
            note(f"the comments in {comments_of} are not carried over")
        if report.settled_position is None:
            note("unity lies beyond 10, so knobs.volume is 10")
        click.echo(f"Written {output}", err=True)
    if plan is not None:
        click.echo(f"Written {plan}; now: sublatch audition {shlex.quote(str(plan))}", err=True)
