"""``sublatch audition``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sublatch.cli.options import json_option, note, overwrite_option, print_json

if TYPE_CHECKING:
    from sublatch.audition.results import AuditionResult, TakeResult


@click.command()
@click.argument("plan", type=click.Path(path_type=Path))
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Folder to write [default: as the plan says].")
@click.option("--jobs", type=click.IntRange(min=1), help="Candidates worked on at once [default: one a processor].")
@overwrite_option
@json_option
@click.pass_context
def audition(
    ctx: click.Context, plan: Path, output: Path | None, jobs: int | None, overwrite: bool, as_json: bool
) -> None:
    """Render the takes of PLAN through its candidates, match their levels, and lay them out for listening."""
    from sublatch.audition.plan import load_audition
    from sublatch.audition.run import audition as run

    ready = load_audition(plan)
    steps = len(ready.plan.takes) * len(ready.candidates)
    with click.progressbar(length=steps, label="Rendering", file=click.get_text_stream("stderr")) as bar:
        result = run(ready, output=output, jobs=jobs, overwrite=overwrite, progress=lambda _: bar.update(1))
    if as_json:
        print_json(result.to_dict())
    else:
        for take in result.takes:
            if take.error is None:
                _print(take)
    _notes(result)
    page = (output if output is not None else ready.output) / "index.html"
    click.echo(f"Open {page}", err=as_json)
    for failure in result.failures:
        click.echo(f"sublatch: {failure}", err=True)
    ctx.exit(1 if result.failures else 0)


def _print(take: TakeResult) -> None:
    """Print one take's table."""
    width = max(len(candidate.name) for candidate in take.candidates)
    click.echo(f"{take.name}, {take.seconds:.1f} s, matched by {take.matched_by}")
    heads = ("loudness LUFS", "RMS dBFS", "< 200 Hz dBFS", "gain dB", "peak dBFS", "at limits %")
    click.echo(f"  {'candidate':<{width}}  " + "  ".join(f"{head:>13}" for head in heads))
    for candidate in take.candidates:
        levels = candidate.levels
        cells = [_number(levels.loudness_lufs), _number(levels.rms_dbfs), _number(levels.low_band_dbfs)]
        cells += [_number(candidate.gain_db), _number(levels.peak_dbfs), f"{100 * candidate.at_limit_share:.2f}"]
        click.echo(f"  {candidate.name:<{width}}  " + "  ".join(f"{cell:>13}" for cell in cells))
    click.echo()


def _number(value: float | None) -> str:
    """Return a level for the table."""
    return "–" if value is None else f"{value:.1f}"


def _notes(result: AuditionResult) -> None:
    """Print what the user should know of the takes."""
    for take in result.takes:
        for remark in take.remarks:
            note(f"{take.name}: {remark}")
    if any(take.full_scale_assumed for take in result.takes):
        note("0 dBFS is taken for 1 V peak; say otherwise with full_scale in the plan")
