"""``sublatch take``."""

from __future__ import annotations

from typing import Any

import click

from sublatch.cli.manual import Manual
from sublatch.cli.options import json_option, level, print_json, read_volts, take_options
from sublatch.errors import AudioFileError


@click.command(
    cls=Manual,
    short_help="Say whether recordings are fit to use.",
    examples=(
        "sublatch take groove.wav --full-scale 2V",
        "sublatch take *.wav",
    ),
)
@click.argument("files", nargs=-1, required=True, type=click.Path(), metavar="FILE...")
@take_options
@json_option
@click.pass_context
def take(
    ctx: click.Context, files: tuple[str, ...], full_scale: str | None, channel: int | None, as_json: bool
) -> None:
    """Say whether recordings are fit to use: level, noise, clipping, channels, pitch range."""
    from sublatch.take_report import report

    volts = read_volts(full_scale)
    reports, failed = [], False
    for file in files:
        try:
            reports.append(report(file, full_scale_volts=volts, channel=channel).to_dict())
        except AudioFileError as problem:
            click.echo(f"sublatch: {problem}", err=True)
            failed = True
    if as_json:
        print_json({"takes": reports})
    else:
        for found in reports:
            _print(found, assumed=volts is None)
    ctx.exit(1 if failed else 0)


def _print(found: dict[str, Any], *, assumed: bool) -> None:
    """Print one report; that full scale is assumed is a remark, but none against the take."""
    click.echo(found["file"])
    channels = "1 channel" if found["channels"] == 1 else f"{found['channels']} channels"
    click.echo(f"  {found['seconds']:.2f} s at {found['sample_rate']} Hz, {channels}")
    click.echo(f"  peak   {level(found['peak_dbfs'], 'dBFS')}, {found['peak_volts']:.3g} V")
    click.echo(f"  noise  {level(found['noise_dbfs'], 'dBFS')}")
    if found["lowest_pitch_hz"] is not None:
        click.echo(f"  pitch  {found['lowest_pitch_hz']:.1f} to {found['highest_pitch_hz']:.1f} Hz")
    if len(found["remarks"]) == assumed:
        click.echo("  fit to use")
    for remark in found["remarks"]:
        click.echo(f"  {remark}")
