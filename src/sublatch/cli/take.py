"""``sublatch take``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sublatch.cli.help import Manual
from sublatch.cli.options import (
    json_option,
    level,
    note,
    overwrite_option,
    path_option,
    print_json,
    read_positive_volts,
    take_options,
)
from sublatch.errors import AudioFileError
from sublatch.json_data import plain_values

if TYPE_CHECKING:
    from sublatch.take_report import TakeReport
    from sublatch.takes.calibration import Calibration


@click.command(
    cls=Manual,
    short_help="Say whether recordings are fit to use; find full scale.",
    examples=(
        "sublatch take groove.wav --full-scale 2V",
        "sublatch take *.wav --calibration interface.toml",
        "sublatch take tone.wav --meter 0.31V -o interface.toml",
    ),
)
@click.argument("files", nargs=-1, required=True, type=click.Path(), metavar="FILE...")
@click.option(
    "--meter",
    metavar="VOLTS",
    help="FILE is a steady tone of which a meter reads so many volts RMS: find what full scale stands for.",
)
@path_option("-o", "--output", help="With --meter: .toml file to keep full scale in.")
@click.option(
    "--second-opinion",
    is_flag=True,
    help="Tell the pitch range that the library librosa finds beside ours. It compiles for seconds on its first use.",
)
@take_options
@overwrite_option
@json_option
@click.pass_context
def take(
    ctx: click.Context,
    files: tuple[str, ...],
    meter: str | None,
    output: Path | None,
    second_opinion: bool,
    full_scale: float | None,
    channel: int | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Say whether recordings are fit to use: level, noise, hum, clipping, lows, channels, pitch range.

    The exit status is 1 where one is unfit. With --meter, find instead how many volts full scale stands for.
    """
    if meter is not None:
        if second_opinion:
            raise click.UsageError("--second-opinion tells pitches of notes; leave it out with --meter")
        _calibrate(files, meter, output, full_scale, channel, overwrite=overwrite, as_json=as_json)
        return
    if output is not None or overwrite:
        raise click.UsageError("-o and --overwrite belong to --meter, and there is none")
    reports, failed = _reports(files, full_scale, channel, second_opinion=second_opinion)
    if as_json:
        print_json({"takes": reports})
    else:
        for report in reports:
            _print(report)
    ctx.exit(1 if failed or not all(report.fit for report in reports) else 0)


def _reports(
    files: tuple[str, ...], volts: float | None, channel: int | None, *, second_opinion: bool
) -> tuple[list[TakeReport], bool]:
    """Return the reports on those files that can be read, and whether there are others."""
    from sublatch.take_report import report as report_on

    reports, failed = [], False
    for file in files:
        try:
            reports.append(report_on(file, full_scale_volts=volts, channel=channel, second_opinion=second_opinion))
        except AudioFileError as problem:
            click.echo(f"sublatch: {problem}", err=True)
            failed = True
    return reports, failed


def _print(report: TakeReport) -> None:
    """Print one report."""
    click.echo(report.file)
    channels = "1 channel" if report.channels == 1 else f"{report.channels} channels"
    click.echo(f"  {report.seconds:.2f} s at {report.sample_rate} Hz, {channels}")
    click.echo(f"  peak   {level(report.peak_dbfs, 'dBFS')}, {report.peak_volts:.3g} V")
    click.echo(f"  noise  {level(report.noise_dbfs, 'dBFS')}")
    if report.lowest_pitch_hz is not None:
        click.echo(f"  pitch  {report.lowest_pitch_hz:.1f} to {report.highest_pitch_hz:.1f} Hz")
    if report.second_opinion is not None:
        low_hz, high_hz = report.second_opinion.lowest_pitch_hz, report.second_opinion.highest_pitch_hz
        click.echo("         librosa: " + ("no pitch" if low_hz is None else f"{low_hz:.1f} to {high_hz:.1f} Hz"))
    click.echo("  fit to use" if report.fit else "  unfit")
    for remark in report.remarks:
        click.echo(f"  {remark.text}")


def _calibrate(
    files: tuple[str, ...],
    meter: str,
    output: Path | None,
    full_scale: float | None,
    channel: int | None,
    *,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Find full scale from a tone and a meter's reading, and write it where asked to."""
    from sublatch.takes.calibration import CALIBRATION_FILES, calibrate, write_calibration

    if full_scale is not None:
        raise click.UsageError("--meter finds full scale; leave out --full-scale and --calibration")
    if len(files) != 1:
        raise click.UsageError(f"--meter takes one recording of a tone, got {len(files)}")
    volts = read_positive_volts("--meter", meter)
    if output is not None:
        CALIBRATION_FILES.guard(output, inputs=files, overwrite=overwrite)
    calibration = calibrate(files[0], meter_volts=volts, channel=channel)
    for remark in calibration.tone.remarks:
        note(remark.text)
    if output is not None:
        write_calibration(calibration, output, overwrite=overwrite)
    if as_json:
        print_json({**plain_values(calibration), "output": None if output is None else str(output)})
    else:
        _print_full_scale(calibration, output)


def _print_full_scale(calibration: Calibration, output: Path | None) -> None:
    """Print what was found."""
    from sublatch.takes.take import level_dbfs
    from sublatch.units import format_volts

    tone = calibration.tone
    click.echo(calibration.file)
    click.echo(
        f"  tone   {tone.hz:.1f} Hz, {level_dbfs(tone.peak):.2f} dBFS peak, steady from {tone.start_s:.1f} to "
        f"{tone.end_s:.1f} s"
    )
    click.echo(f"  meter  {format_volts(calibration.meter_volts)} RMS")
    click.echo(f"  full scale is {format_volts(calibration.full_scale_volts)}")
    if output is not None:
        click.echo(f"Written {output}: give it as --calibration, or in a plan as calibration")
