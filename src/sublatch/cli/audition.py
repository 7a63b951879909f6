"""``sublatch audition``."""

from __future__ import annotations

import sys
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sublatch.cli.help import Manual
from sublatch.cli.options import columns, json_option, note, number, overwrite_option, path_option, print_json, share
from sublatch.json_data import plain_values

if TYPE_CHECKING:
    from sublatch.audition.listen.results import AuditionResult, CandidateResult, TakeResult
    from sublatch.audition.plan.records import Audition

HEADS = (
    "candidate",
    " LUFS",  # as wide as what stands below it
    "gain dB",
    "peak dBFS",
    "at limits %",
    "at unity %",
    "RMS dBFS",
    "below 200 Hz dBFS",
    "locked %",
    "open strings %",
)
MATCHED = {"loudness": "matched by loudness", "rms": "matched by RMS", "peak": "matched by peak", "none": "not matched"}
LONGEST_NAME = 40
"""Characters of a name that the table shows."""


@click.command(
    cls=Manual,
    short_help="Render takes through candidates, matched, for listening.",
    examples=(
        "sublatch audition my-sounds/audition.toml",
        "sublatch audition filters.toml -o monday",
        "sublatch audition filters.toml --pocket for-the-band.html --only walking-line",
    ),
)
@click.argument("plan", type=click.Path(path_type=Path))
@path_option("-o", "--output", help="Folder to write [default: as the plan says].")
@path_option("--pocket", help="Also write one file to send to others, under 10 MB, with compressed sound inside.")
@click.option(
    "--only", multiple=True, metavar="NAME", help="Take or candidate for the pocket edition. May be given again."
)
@click.option("--jobs", type=click.IntRange(min=1), help="Candidates worked on at once [default: one a processor].")
@overwrite_option
@json_option
@click.pass_context
def audition(
    ctx: click.Context,
    plan: Path,
    output: Path | None,
    pocket: Path | None,
    only: tuple[str, ...],
    jobs: int | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Render the takes of PLAN through its candidates, match their levels, and lay them out for listening."""
    from sublatch.audition.plan.load import load_audition
    from sublatch.audition.pocket import POCKET_FILES
    from sublatch.audition.run import run_audition
    from sublatch.files.whole_files import resolved

    if only and pocket is None:
        raise click.UsageError("--only is for the pocket edition; say where with --pocket")
    ready = load_audition(plan)
    if pocket is not None:
        POCKET_FILES.guard(pocket, inputs=map(str, ready.inputs), overwrite=overwrite)
    folder = ready.output if output is None else resolved(output)
    steps = len(ready.plan.takes) * len(ready.candidates)
    with click.progressbar(length=steps, label="Rendering", file=sys.stderr) as bar:
        result = run_audition(ready, output=folder, jobs=jobs, overwrite=overwrite, progress=lambda _: bar.update(1))
    page = folder / "index.html"
    if as_json:
        print_json({"page": str(page), **plain_values(result)})
    else:
        for take in result.takes:
            if take.error is None:
                _print(take)
    _notes(result)
    click.echo(f"Open {page}", err=as_json)
    if pocket is not None:
        _write_pocket(ready, result, pocket, folder=folder, only=only, overwrite=overwrite)
    for failure in result.failures:
        click.echo(f"sublatch: {failure}", err=True)
    ctx.exit(1 if result.failures else 0)


def _write_pocket(
    ready: Audition, result: AuditionResult, path: Path, *, folder: Path, only: tuple[str, ...], overwrite: bool
) -> None:
    """Write the pocket edition and say how large it is."""
    from sublatch.audition.pocket import write_pocket

    written = write_pocket(ready, result, path, folder=folder, only=only, overwrite=overwrite)
    click.echo(f"Written {path}: {written.size / 1e6:.1f} MB, to send as it is", err=True)


def _print(take: TakeResult) -> None:
    """Print one take's table."""
    click.echo(f"{_short(take.name)}, {take.seconds:.1f} s, {MATCHED[take.matched_by]}; levels are before the gain")
    click.echo(columns([HEADS, *map(_row, take.candidates)], right_from=1))
    for candidate in take.candidates:
        for remark in candidate.remarks:
            click.echo(f"  {_short(candidate.name)}: {remark.text}")
    click.echo()


def _row(candidate: CandidateResult) -> tuple[str, ...]:
    """Return a candidate's line of its take's table."""
    from sublatch.tracking.lock import locked_percent

    levels, unity = candidate.levels, candidate.at_limit_share_unity
    return (
        _short(candidate.name),
        *map(number, (levels.loudness_lufs, candidate.gain_db, levels.peak_dbfs)),
        share(candidate.at_limit_share),
        "–" if unity is None else share(unity),
        *map(number, (levels.rms_dbfs, levels.low_band_dbfs)),
        *map(locked_percent, (candidate.locked_share, candidate.open_string_locked_share)),
    )


def _short(name: str) -> str:
    """Return a name as one short line."""
    line = "".join(" " if unicodedata.category(character) == "Cc" else character for character in name)
    return line if len(line) <= LONGEST_NAME else line[: LONGEST_NAME - 1] + "…"


def _notes(result: AuditionResult) -> None:
    """Print what the user should know of the takes."""
    for take in result.takes:
        for remark in take.remarks:
            note(f"{take.name}: {remark.text}")
    if any(take.full_scale_assumed for take in result.takes):
        note("0 dBFS is taken for 1 V peak; say otherwise with full_scale or calibration in the plan")
