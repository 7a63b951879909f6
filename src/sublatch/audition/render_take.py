"""One take through all candidates: rendered, measured, matched as they are heard, and written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from functools import partial
from pathlib import Path

from sublatch.audition.at_unity import VolumeFigures, at_unity, measure_of, volume_figures, with_volume
from sublatch.audition.folder.layout import Layout
from sublatch.audition.folder.manifest import Ledger, digest
from sublatch.audition.folder.reel import write_reel
from sublatch.audition.listen.balance import Balance, Standing, balance_between, standing_between
from sublatch.audition.listen.candidate_lock import Tracked, track_candidates
from sublatch.audition.listen.match import Gains, heard_gains
from sublatch.audition.listen.measurements import Facts, known_facts, measure
from sublatch.audition.listen.monitor import Place, voicing_response, write_samples_carrier
from sublatch.audition.listen.results import CandidateResult, HeardBed, HeardVoicing, TakeResult
from sublatch.audition.plan.records import BYPASSED, Audition
from sublatch.audition.render_candidate import Measured, measured_sound, write_sound
from sublatch.files.outputs import make_folder
from sublatch.signal.cache import StageCache
from sublatch.takes.take import Take

MOST_KEPT_BYTES = 1 << 30
"""Renderings of one take that are kept in memory from measuring to writing; past that they are rendered twice."""
PLACES = 3
"""Decimals of a level that is told and not used."""


def audition_take(
    take: Take,
    plan: Audition,
    *,
    place: Place,
    layout: Layout,
    ledger: Ledger,
    workers: Executor,
    progress: Callable[[str], None],
    file: str,
    tuning: str,
) -> TakeResult:
    """Return what came of one take, its files written.

    Parameters
    ----------
    take
        The take; every candidate's moves end before it does.
    plan, layout, ledger
        What is asked, where it goes, and what is there already.
    place
        What the take is listened through, and with: levels are matched as heard through it, reels are written so.
    workers
        Threads that candidates are spread over.
    progress
        Called with each candidate's name when it is rendered.
    file
        The take's file as the plan names it.
    tuning
        The instrument's open strings.

    Raises
    ------
    OutputError
        When a file cannot be written.
    """
    cache = StageCache()
    tracking = workers.submit(track_candidates, take, plan.candidates, tuning=tuning, cache=cache, ledger=ledger)
    job = partial(measured_sound, take, cache, ledger, place, keep=_fits(take, plan))
    found = [job(None)]  # in this thread: Ctrl-C would wait for a worker to load the libraries that this loads
    found[0].note(ledger)
    measure = measure_of(plan.plan.match)
    candidates = list(workers.map(partial(with_volume, take, cache, ledger, place, measure), plan.candidates))
    for item in workers.map(job, candidates):
        item.note(ledger)
        found.append(item)
        progress(item.name)
    bed = _bed_facts(take, place, ledger)
    gains = heard_gains(
        [item.plain.levels for item in found],
        heard=[item.heard.levels for item in found] if place.voicing is not None else None,
        bed=bed.levels if bed else None,
        bed_level_db=place.bed.level_db if place.bed else 0.0,
        match=plan.plan.match,
        headroom_db=plan.plan.headroom,
    )
    measure = measure_of(gains.matched_by)
    unities = list(workers.map(partial(at_unity, take, cache, ledger, place, measure, found[0]), found))
    for folder in (layout.sound(take.name, BYPASSED), layout.carrier(take.name, BYPASSED)):
        make_folder(folder.parent)
    keys = list(workers.map(partial(write_sound, take, cache, layout, ledger), found, gains.files_db))
    reel = _reel(take, place, layout, ledger, found, keys, gains)
    volumes = volume_figures(plan.candidates, found, gains, unities)
    tracked = tracking.result()
    return TakeResult(
        name=take.name,
        file=file,
        sample_rate=take.sample_rate,
        seconds=take.seconds,
        full_scale_volts=take.full_scale_volts,
        full_scale_assumed=take.full_scale_assumed,
        remarks=(*take.remarks, *(place.bed.remarks if place.bed else ())),
        matched_by=gains.matched_by,
        reel=layout.relative(reel),
        tuning=tuning,
        notes=tracked[0].notes,
        note_remarks=tracked[0].remarks,
        candidates=tuple(_results(take, place, layout, ledger, found, gains, bed, [None, *tracked], volumes)),
        voicing=_voicing(take, place, layout, ledger),
        bed=_bed(take, place, layout, ledger, gains),
    )


def _results(
    take: Take,
    place: Place,
    layout: Layout,
    ledger: Ledger,
    found: Sequence[Measured],
    gains: Gains,
    bed: Facts | None,
    tracked: Sequence[Tracked | None],
    volumes: Sequence[VolumeFigures],
) -> list[CandidateResult]:
    """Return the candidates' results."""
    paths = [layout.sound(take.name, item.name) for item in found]
    return [
        CandidateResult(
            name=item.name,
            circuit=item.candidate.circuit_name if item.candidate else "",
            settings=dict(item.candidate.settings) if item.candidate else {},
            file=layout.relative(path),
            levels=item.plain.levels,
            gain_db=gain_db,
            at_limit_share=item.plain.at_limit_share,
            locked_share=tracking.locked_share if tracking else None,
            open_string_locked_share=tracking.open_string_locked_share if tracking else None,
            note_locked_shares=tracking.note_locked_shares if tracking else (),
            dropouts=tracking.dropouts if tracking else (),
            sha256=ledger.sha256(path),
            plain_gain_db=plain_gain_db,
            heard_levels=item.heard.levels if place.voicing is not None else None,
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
    return Balance(_told(found.weight_db, 0.0), _told(found.body_db, 0.0), _told(found.bite_db, 0.0))


def _standing(heard: Facts, gain_db: float, bed: Facts | None, bed_gain_db: float | None) -> Standing | None:
    """Return how a candidate stands to the bed, both as heard."""
    if bed is None or bed_gain_db is None:
        return None
    return standing_between(
        [_told(level, gain_db) for level in heard.bands_db], [_told(level, bed_gain_db) for level in bed.bands_db]
    )


def _told(level_db: float | None, gain_db: float) -> float | None:
    """Return a level with its gain as it is told."""
    return None if level_db is None else round(level_db + gain_db, PLACES) + 0.0


def _fits(take: Take, plan: Audition) -> bool:
    """Return whether all renderings of a take can be kept in memory."""
    return (len(plan.candidates) + 1) * take.samples.nbytes <= MOST_KEPT_BYTES


def _bed_facts(take: Take, place: Place, ledger: Ledger) -> Facts | None:
    """Return what is measured of what sounds of a take's bed, from an earlier run where that measured the very same."""
    if place.bed is None:
        return None
    key = digest(place.bed_digest, take.sample_rate)
    facts = known_facts(ledger.measured(key)) or measure(place.bed.samples, sample_rate=take.sample_rate)
    ledger.measure(key, facts.to_dict())
    return facts


def _reel(
    take: Take,
    place: Place,
    layout: Layout,
    ledger: Ledger,
    found: Sequence[Measured],
    keys: Sequence[str],
    gains: Gains,
) -> Path:
    """Write a take's reel, as its candidates are heard, unless it is there already; return where it is."""
    reel = layout.reel(take.name)
    bare = place.voicing is None and place.bed is None
    key = digest(keys) if bare else digest(keys, place.voicing_digest, place.bed_digest, gains.bed_db)
    if not ledger.is_current(reel, key):
        make_folder(reel.parent)
        write_reel(
            reel,
            [layout.sound(take.name, item.name) for item in found],
            title=f"{take.name}: {', '.join(item.name for item in found)}",
            heard=None if bare else partial(place.heard, bed_gain_db=gains.bed_db),
        )
        ledger.wrote(reel, key)
    return reel


def _voicing(take: Take, place: Place, layout: Layout, ledger: Ledger) -> HeardVoicing | None:
    """Return what the page is told of a take's voicing, its response written."""
    if place.voicing is None:
        return None
    response = voicing_response(place.voicing, take.sample_rate)
    path, key = layout.place(take.name, "voicing"), digest(place.voicing_digest, take.sample_rate)
    gain_db = write_samples_carrier(path, response.samples, take.sample_rate, key=key, ledger=ledger)
    return HeardVoicing(place.voicing_name, key, layout.relative(path), gain_db, response.ahead)


def _bed(take: Take, place: Place, layout: Layout, ledger: Ledger, gains: Gains) -> HeardBed | None:
    """Return what the page is told of a take's bed, its samples written."""
    if place.bed is None or gains.bed_db is None:
        return None
    path, key = layout.place(take.name, "bed"), digest(place.bed_digest, take.sample_rate)
    gain_db = write_samples_carrier(path, place.bed.samples, take.sample_rate, key=key, ledger=ledger)
    return HeardBed(
        name=place.bed.name,
        key=key,
        carrier=layout.relative(path),
        gain_db=gain_db + gains.bed_db,
        level_db=place.bed.level_db,
        seconds=len(place.bed.samples) / take.sample_rate,
    )
