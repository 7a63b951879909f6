"""One take through all candidates: rendered, measured, matched as they are heard, and written."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from sublatch.audition.at_unity import VolumeFigures, at_unity, measure_of, volume_figures, with_volume
from sublatch.audition.folder.manifest import digest
from sublatch.audition.folder.reel import write_reel
from sublatch.audition.listen.balance import Balance, Standing, balance_between, standing_between
from sublatch.audition.listen.candidate_lock import Tracked, track_candidates
from sublatch.audition.listen.match import Gains, heard_gains
from sublatch.audition.listen.measurements import Measurements, measure
from sublatch.audition.listen.monitoring import voicing_response, write_samples_script
from sublatch.audition.listen.results import CandidateResult, HeardBed, HeardVoicing, TakeResult
from sublatch.audition.plan.records import BYPASSED, Audition
from sublatch.audition.render_candidate import Measured, measured_sound, write_sound
from sublatch.audition.take_work import TakeWork
from sublatch.files.outputs import make_folder
from sublatch.json_data import plain_values, record_from
from sublatch.takes.take import Take

MOST_KEPT_BYTES = 1 << 30
"""Renderings of one take that are kept in memory from measuring to writing; past that they are rendered twice."""
PLACES = 3
"""Decimals of a level that is told and not used."""


def audition_take(work: TakeWork) -> TakeResult:
    """Return what came of one take, its files written.

    Raises
    ------
    OutputError
        When a file cannot be written.
    """
    take, plan, layout, manifest, monitoring = work.take, work.plan, work.layout, work.manifest, work.monitoring
    workers, tuning = work.workers, plan.tuning(work.entry)
    tracking = workers.submit(
        track_candidates, take, plan.candidates, tuning=tuning, cache=work.cache, manifest=manifest
    )
    job = partial(measured_sound, work, keep=_fits(take, plan))
    found = [job(None)]  # in this thread: Ctrl-C would wait for a worker to load the libraries that this loads
    found[0].note(manifest)
    measure = measure_of(plan.plan.match)
    candidates = list(workers.map(partial(with_volume, work, measure), plan.candidates))
    for item in workers.map(job, candidates):
        item.note(manifest)
        found.append(item)
        work.progress(item.name)
    bed = _bed_facts(work)
    gains = heard_gains(
        [item.plain.levels for item in found],
        heard=[item.heard.levels for item in found] if monitoring.voicing is not None else None,
        bed=bed.levels if bed else None,
        bed_level_db=monitoring.bed.level_db if monitoring.bed else 0.0,
        match=plan.plan.match,
        headroom_db=plan.plan.headroom,
    )
    measure = measure_of(gains.matched_by)
    unities = list(workers.map(partial(at_unity, work, measure, found[0]), found))
    for folder in (layout.sound(take.name, BYPASSED), layout.sound_script(take.name, BYPASSED)):
        make_folder(folder.parent)
    keys = list(workers.map(partial(write_sound, work), found, gains.files_db))
    reel = _reel(work, found, keys, gains)
    volumes = volume_figures(plan.candidates, found, gains, unities)
    tracked = tracking.result()
    return TakeResult(
        name=take.name,
        file=work.entry.file,
        sample_rate=take.sample_rate,
        seconds=take.seconds,
        full_scale_volts=take.full_scale_volts,
        full_scale_assumed=take.full_scale_assumed,
        remarks=(*take.remarks, *(monitoring.bed.remarks if monitoring.bed else ())),
        matched_by=gains.matched_by,
        reel=layout.relative(reel),
        tuning=tuning,
        notes=tracked[0].notes,
        note_remarks=tracked[0].remarks,
        candidates=tuple(_results(work, found, gains, bed, [None, *tracked], volumes)),
        voicing=_voicing(work),
        bed=_bed(work, gains),
    )


def _results(
    work: TakeWork,
    found: Sequence[Measured],
    gains: Gains,
    bed: Measurements | None,
    tracked: Sequence[Tracked | None],
    volumes: Sequence[VolumeFigures],
) -> list[CandidateResult]:
    """Return the candidates' results."""
    paths = [work.layout.sound(work.take.name, item.name) for item in found]
    return [
        CandidateResult(
            name=item.name,
            circuit=item.candidate.circuit_name if item.candidate else "",
            settings=dict(item.candidate.settings) if item.candidate else {},
            file=work.layout.relative(path),
            levels=item.plain.levels,
            gain_db=gain_db,
            at_limit_share=item.plain.at_limit_share,
            locked_share=tracking.locked_share if tracking else None,
            open_string_locked_share=tracking.open_string_locked_share if tracking else None,
            note_locked_shares=tracking.note_locked_shares if tracking else (),
            dropouts=tracking.dropouts if tracking else (),
            sha256=work.manifest.sha256(path),
            plain_gain_db=plain_gain_db,
            heard_levels=item.heard.levels if work.monitoring.voicing is not None else None,
            moves=item.candidate.moves if item.candidate else (),
            balance=_balance(item, found[0], gain_db - gains.files_db[0]) if item.candidate else None,
            standing=_standing(item.heard, gain_db, bed, gains.bed_db),
            **vars(volume),
        )
        for item, gain_db, plain_gain_db, path, tracking, volume in zip(
            found, gains.files_db, gains.plain_db, paths, tracked, volumes, strict=True
        )
    ]


def _balance(item: Measured, bypassed: Measured, gain_db: float) -> Balance:
    """Return where a candidate's file is fuller or thinner than the bypassed take's."""
    found = balance_between(item.plain.regions, bypassed.plain.regions, gain_db=gain_db)
    return Balance(_rounded(found.weight_db, 0.0), _rounded(found.body_db, 0.0), _rounded(found.bite_db, 0.0))


def _standing(
    heard: Measurements, gain_db: float, bed: Measurements | None, bed_gain_db: float | None
) -> Standing | None:
    """Return how a candidate stands to the bed, both as heard."""
    if bed is None or bed_gain_db is None:
        return None
    return standing_between(
        [_rounded(level, gain_db) for level in heard.bands_db], [_rounded(level, bed_gain_db) for level in bed.bands_db]
    )


def _rounded(level_db: float | None, gain_db: float) -> float | None:
    """Return a level with its gain as it is told."""
    return None if level_db is None else round(level_db + gain_db, PLACES) + 0.0


def _fits(take: Take, plan: Audition) -> bool:
    """Return whether all renderings of a take can be kept in memory."""
    return (len(plan.candidates) + 1) * take.samples.nbytes <= MOST_KEPT_BYTES


def _bed_facts(work: TakeWork) -> Measurements | None:
    """Return what is measured of what sounds of a take's bed, from an earlier run where that measured the very same."""
    take, bed, manifest = work.take, work.monitoring.bed, work.manifest
    if bed is None:
        return None
    key = digest(work.monitoring.bed_digest, take.sample_rate)
    facts = record_from(Measurements, manifest.measured(key)) or measure(bed.samples, sample_rate=take.sample_rate)
    manifest.measure(key, plain_values(facts))
    return facts


def _reel(work: TakeWork, found: Sequence[Measured], keys: Sequence[str], gains: Gains) -> Path:
    """Write a take's reel, as its candidates are heard, unless it is there already; return where it is."""
    take, layout, manifest, monitoring = work.take, work.layout, work.manifest, work.monitoring
    reel = layout.reel(take.name)
    bare = monitoring.voicing is None and monitoring.bed is None
    key = digest(keys) if bare else digest(keys, monitoring.voicing_digest, monitoring.bed_digest, gains.bed_db)
    if not manifest.is_current(reel, key):
        make_folder(reel.parent)
        write_reel(
            reel,
            [layout.sound(take.name, item.name) for item in found],
            title=f"{take.name}: {', '.join(item.name for item in found)}",
            heard=None if bare else partial(monitoring.heard, bed_gain_db=gains.bed_db),
        )
        manifest.wrote(reel, key)
    return reel


def _voicing(work: TakeWork) -> HeardVoicing | None:
    """Return what the page is told of a take's voicing, its response written."""
    take, layout, monitoring = work.take, work.layout, work.monitoring
    if monitoring.voicing is None:
        return None
    response = voicing_response(monitoring.voicing, take.sample_rate)
    path, key = layout.monitoring_script(take.name, "voicing"), digest(monitoring.voicing_digest, take.sample_rate)
    gain_db = write_samples_script(path, response.samples, take.sample_rate, key=key, manifest=work.manifest)
    return HeardVoicing(monitoring.voicing_name, key, layout.relative(path), gain_db, response.ahead)


def _bed(work: TakeWork, gains: Gains) -> HeardBed | None:
    """Return what the page is told of a take's bed, its samples written."""
    take, layout, monitoring = work.take, work.layout, work.monitoring
    if monitoring.bed is None or gains.bed_db is None:
        return None
    path, key = layout.monitoring_script(take.name, "bed"), digest(monitoring.bed_digest, take.sample_rate)
    gain_db = write_samples_script(path, monitoring.bed.samples, take.sample_rate, key=key, manifest=work.manifest)
    return HeardBed(
        name=monitoring.bed.name,
        key=key,
        carrier=layout.relative(path),
        gain_db=gain_db + gains.bed_db,
        level_db=monitoring.bed.level_db,
        seconds=len(monitoring.bed.samples) / take.sample_rate,
    )
