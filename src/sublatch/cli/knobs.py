"""``sublatch knobs``."""

from __future__ import annotations

from pathlib import Path

import click

from sublatch.cli.completion import complete_circuit
from sublatch.cli.manual import Manual
from sublatch.cli.options import (
    circuit_options,
    json_option,
    note,
    note_assumed,
    overwrite_option,
    print_json,
    read_changes,
    take_options,
)


@click.command(
    cls=Manual,
    short_help="Show what the knobs do, unity, trim and headroom.",
    examples=(
        "sublatch knobs -c gated-swept",
        "sublatch knobs -c mine.toml --take groove.wav --full-scale 2V --unity-at 6",
    ),
)
@circuit_options
@click.option("--take", "take", type=click.Path(path_type=Path), help="Recording to measure with [default: a sine].")
@click.option("--unity-at", type=float, metavar="P", help="Find the trim resistor that puts unity at 0 to 10.")
@click.option(
    "--same-as",
    metavar="CIRCUIT",
    help="Find the corner of this circuit's filter on the tone knob.",
    shell_complete=complete_circuit,
)
@click.option("--plot", type=click.Path(path_type=Path), help="PNG file to draw the knobs into.")
@take_options
@overwrite_option
@json_option
def knobs(
    circuit: str,
    changes: tuple[str, ...],
    take: Path | None,
    unity_at: float | None,
    same_as: str | None,
    plot: Path | None,
    full_scale: float | None,
    channel: int | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Show what each knob sets over its travel, where unity is, and how near the supply's limits a take comes.

    Unity is the position of the volume knob at which the effect is as loud as the bypassed take.
    """
    from sublatch.build.knobs import knobs as examine
    from sublatch.circuit.load import load_circuit
    from sublatch.cli.knob_tables import print_knobs
    from sublatch.picture_file import MAKER, guard_picture, write_picture
    from sublatch.take import read_take

    if take is None and (full_scale is not None or channel is not None):
        raise click.UsageError("--full-scale, --calibration and --channel belong to a --take, and there is none")
    chosen = load_circuit(circuit, changes=read_changes(changes))
    other = None if same_as is None else load_circuit(same_as)
    if plot is not None:
        files = [Path(name) for name in (circuit, same_as) if name and name.lower().endswith(".toml")]
        guard_picture(plot, inputs=[*files, *([take] if take else [])], overwrite=overwrite)
    heard = None if take is None else read_take(take, full_scale_volts=full_scale, channel=channel)
    found = examine(chosen, take=heard, unity_at=unity_at, same_as=other)
    if heard is not None:
        for remark in heard.remarks:
            note(remark.text)
        if heard.full_scale_assumed:
            note_assumed()
    if as_json:
        print_json(found.to_dict())
    else:
        print_knobs(found)
    if plot is not None:
        from sublatch.build.pictures.knobs import knobs_png

        write_picture(plot, knobs_png(found, software=MAKER))
        click.echo(f"Drawn {plot}", err=True)
