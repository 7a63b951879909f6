"""The main job: every take through every candidate, matched, written and laid out for listening."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from sublatch.audition.boards import with_boards_found
from sublatch.audition.folder.layout import Layout
from sublatch.audition.folder.manifest import Manifest, digest
from sublatch.audition.listen.monitoring import Monitoring, read_bed, read_voicing
from sublatch.audition.listen.results import AuditionResult, TakeResult, results_csv, results_json
from sublatch.audition.plan.inputs import guard_all_inputs, look_for_recordings
from sublatch.audition.plan.load import check_times
from sublatch.audition.plan.records import Audition, TakeEntry
from sublatch.audition.render_take import audition_take
from sublatch.audition.take_work import AuditionWork, Progress, TakeWork
from sublatch.errors import AudioDataError, AudioFileError, OutputError
from sublatch.files.whole_files import make_folder, resolved
from sublatch.takes.take import read_take


def run_audition(
    plan: Audition,
    *,
    output: str | Path | None = None,
    jobs: int | None = None,
    overwrite: bool = False,
    progress: Progress | None = None,
) -> AuditionResult:
    """Render, match, measure and lay out every candidate on every take.

    Parameters
    ----------
    plan
        The plan, from `load_audition`.
    output
        The folder to write; the plan's own when not given.
    jobs
        Candidates worked on at once; one for each processor when not given.
    overwrite
        Replace files in the folder that this program did not make.
    progress
        Called after each candidate of each take.

    Returns
    -------
    AuditionResult
        Levels, gains and files. A take that cannot be used is in it with its reason.

    Raises
    ------
    PlanError
        When a take or bed is not there, the voicing cannot be read, or the plan's folder to write is not below the
        plan's own; then nothing is written.
    OutputError
        When a file cannot be written, or would replace one that is not this program's own; in the latter case nothing
        is written.
    """
    layout = Layout(plan.output if output is None else resolved(output), plan)
    manifest = Manifest(layout.folder)
    guard_all_inputs(plan, (manifest.path, *layout.all_files()))
    look_for_recordings(plan)
    monitoring = Monitoring(*read_voicing(plan))
    manifest.guard(layout.all_files(), overwrite=overwrite)
    make_folder(layout.folder)
    try:
        plan = with_boards_found(plan, manifest)
        with ThreadPoolExecutor(max_workers=jobs or os.cpu_count() or 1) as workers:
            work = AuditionWork(plan, layout, manifest, monitoring, workers, progress or (lambda _: None))
            takes = tuple(_one_take(work, entry) for entry in plan.plan.takes)
        result = AuditionResult(plan.plan.title, plan.plan.match, takes)
        _write_pages(plan, layout, manifest, result)
    except BaseException:
        with suppress(OutputError):  # a full disk, say: the first problem is the one to tell
            manifest.save_so_far()
        raise
    manifest.drop_leftovers()
    manifest.save()
    return result


def _one_take(work: AuditionWork, entry: TakeEntry) -> TakeResult:
    """Return what came of one take, or why it could not be used."""
    plan = work.plan
    path = plan.take_path(entry)
    try:
        take = read_take(path, full_scale_volts=plan.full_scale_volts(entry), channel=entry.channel)
        check_times(plan.candidates, take, file=entry.file)
        monitoring = replace(work.monitoring, bed=read_bed(plan, entry, take))
    except (AudioFileError, AudioDataError) as problem:
        for candidate in plan.candidates:
            work.progress(candidate.name)
        for file in work.layout.files_of(path.stem):
            work.manifest.keep_file(file)
        return TakeResult(name=path.stem, file=entry.file, error=str(problem))
    return audition_take(TakeWork(**{**vars(work), "monitoring": monitoring}, take=take, entry=entry))


def _write_pages(plan: Audition, layout: Layout, manifest: Manifest, result: AuditionResult) -> None:
    """Write the page and the tables, unless they are there already."""
    table, document = results_csv(result), results_json(result)
    circuits = [candidate.circuit.model_dump(mode="json") for candidate in plan.candidates]
    changed: list[tuple[Path, str, str]] = []
    page_key = digest(document, circuits, plan.path.name)
    if not manifest.is_current(layout.page, page_key):
        changed.append((layout.page, page_key, _page(plan, layout, result)))
    for path, text in ((layout.csv, table), (layout.json, document)):
        if not manifest.is_current(path, digest(text)):
            changed.append((path, digest(text), text))
    manifest.write(changed)


def _page(plan: Audition, layout: Layout, result: AuditionResult) -> str:
    """Return the page."""
    from sublatch.audition.page import Pictures, render_page
    from sublatch.audition.page.content import close_up, filter_curves, lock_figure, responses, spectrum
    from sublatch.audition.page.data import listening_data

    usable = [take for take in result.takes if take.error is None]
    pictures = Pictures(
        responses=responses(plan),
        filter_curves=filter_curves(plan),
        lock_figures={take.name: lock_figure(take, layout) for take in usable},
        spectra={take.name: spectrum(take, layout) for take in usable},
        close_ups={take.name: close_up(take, plan, layout) for take in usable},
    )
    return render_page(result, data=listening_data(result, plan, layout), pictures=pictures)
