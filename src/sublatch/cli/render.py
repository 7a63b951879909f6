"""``sublatch render``."""

from __future__ import annotations

from pathlib import Path

import click

from sublatch.cli.changes import read_changes
from sublatch.cli.help import Manual
from sublatch.cli.options import (
    circuit_options,
    json_option,
    level,
    note,
    note_assumed,
    overwrite_option,
    path_option,
    print_json,
    share,
    take_options,
)


@click.command(
    cls=Manual,
    short_help="Write a take as a circuit gives it.",
    examples=("sublatch render groove.wav -c gated-swept --full-scale 2V --set knobs.tone=3.5 -o heard.wav",),
)
@click.argument("take", type=click.Path(path_type=Path))
@circuit_options
@path_option("-o", "--output", help="WAV or FLAC file to write [default: TAKE-CIRCUIT.wav here].")
@take_options
@overwrite_option
@json_option
def render(
    take: Path,
    circuit: str,
    changes: tuple[str, ...],
    output: Path | None,
    full_scale: float | None,
    channel: int | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Write TAKE, a recording, as a circuit gives it."""
    from sublatch.circuit.load import load_circuit
    from sublatch.rendering import render_file
    from sublatch.takes.take import read_take

    settings = read_changes(changes)
    chosen = load_circuit(circuit, changes=settings)
    recording = read_take(take, full_scale_volts=full_scale, channel=channel)
    target = output or Path(f"{take.stem}-{Path(circuit).stem}.wav")
    report = render_file(recording, chosen, target, settings=settings, overwrite=overwrite)
    for remark in (*recording.remarks, *report.remarks):
        note(remark.text)
    if recording.full_scale_assumed:
        note_assumed()
    if report.written_gain_db:
        note(f"the output would not fit the file, so the file is turned down by {-report.written_gain_db:.1f} dB")
    if as_json:
        print_json(report)
        return
    click.echo(f"{report.output}: {report.seconds:.2f} s at {report.sample_rate} Hz")
    click.echo(f"  loudness  {level(report.loudness_lufs, 'LUFS')}")
    click.echo(f"  RMS       {level(report.rms_dbfs, 'dBFS')}, below 200 Hz {level(report.low_band_dbfs, 'dBFS')}")
    click.echo(f"  peak      {level(report.peak_dbfs, 'dBFS')}")
    click.echo(f"  against the bypassed take  {level(report.effect_gain_db, 'dB', signed=True)}")
    click.echo(f"  at the supply limits       {share(report.at_limit_share)} % of the time")
