"""One take through all candidates: rendered, measured, matched as they are heard, and written."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from sublatch.audition.at_unity import VolumeFigures, at_unity, measure_of, volume_figures, with_volume
from sublatch.audition.folder.manifest import digest
from sublatch.audition.folder.reel import write_reel
from sublatch.audition.listen.balance import Balance, Standing, balance, standing
from sublatch.audition.listen.candidate_lock import Tracked, track_candidates
from sublatch.audition.listen.match import Gains, heard_gains
from sublatch.audition.listen.measurements import Measurements, measure
from sublatch.audition.listen.monitoring import voicing_response, write_samples_script
from sublatch.audition.listen.results import CandidateResult, HeardBed, HeardVoicing, TakeResult
from sublatch.audition.live.bare_sounds import write_bare_sounds
from sublatch.audition.plan.records import BYPASSED
from sublatch.audition.render_candidate import MeasuredSound, measured_sound, write_sound
from sublatch.audition.take_work import TakeWork
from sublatch.files.whole_files import make_folder

DECIMALS = 3
"""Decimals of a level that is shown and not used."""
NOTHING_TRACKED = Tracked()
"""Stands for the lock of the take itself."""


def audition_take(work: TakeWork) -> TakeResult:
    """Return what came of one take, its files written.

    Raises
    ------
    OutputError
        When a file cannot be written.
    """
    take, plan, bed = work.take, work.plan, work.monitoring.bed
    tuning = plan.tuning(work.entry)
    tracking = work.workers.submit(
        track_candidates, take, plan.candidates, tuning=tuning, cache=work.cache, manifest=work.manifest
    )
    sounds, bed_sound = _measured_sounds(work), _measured_bed(work)
    gains = _gains(work, sounds, bed_sound)
    unities = list(work.workers.map(partial(at_unity, work, measure_of(gains.matched_by), sounds[0]), sounds))
    reel = _write_sounds(work, sounds, gains)
    volumes = volume_figures(plan.candidates, sounds, gains, unities)
    tracked = tracking.result()
    return TakeResult(
        name=take.name,
        file=work.entry.file,
        sample_rate=take.sample_rate,
        seconds=take.seconds,
        full_scale_volts=take.full_scale_volts,
        full_scale_assumed=take.full_scale_assumed,
        remarks=(*take.remarks, *(bed.remarks if bed else ())),
        matched_by=gains.matched_by,
        reel=work.layout.relative(reel),
        tuning=tuning,
        notes=tracked[0].notes,
        note_remarks=tracked[0].remarks,
        uncounted_share=tracked[0].uncounted_share,
        unsure_share=tracked[0].unsure_share,
        candidates=tuple(_results(work, sounds, gains, bed_sound, [NOTHING_TRACKED, *tracked], volumes)),
        voicing=_heard_voicing(work),
        bed=_heard_bed(work, gains),
        bare=write_bare_sounds(take, plan.candidates, cache=work.cache, layout=work.layout, manifest=work.manifest),
    )


def _measured_sounds(work: TakeWork) -> list[MeasuredSound]:
    """Return the take itself and its candidates, measured."""
    plan = work.plan
    sounds = [measured_sound(work, None)]  # in this thread: Ctrl-C would wait for a worker to load what this loads
    sounds[0].keep(work.manifest)
    candidates = list(work.workers.map(partial(with_volume, work, measure_of(plan.plan.match)), plan.candidates))
    for sound in work.workers.map(partial(measured_sound, work), candidates):
        sound.keep(work.manifest)
        sounds.append(sound)
        work.progress(sound.name)
    return sounds


def _gains(work: TakeWork, sounds: Sequence[MeasuredSound], bed_sound: Measurements | None) -> Gains:
    """Return the gains that make a take's candidates equal as they are heard."""
    monitoring, plan = work.monitoring, work.plan.plan
    return heard_gains(
        [sound.plain.levels for sound in sounds],
        heard=[sound.heard.levels for sound in sounds] if monitoring.voicing is not None else None,
        bed=bed_sound.levels if bed_sound else None,
        bed_level_db=monitoring.bed.level_db if monitoring.bed else 0.0,
        match=plan.match,
        headroom_db=plan.headroom,
    )


def _write_sounds(work: TakeWork, sounds: Sequence[MeasuredSound], gains: Gains) -> Path:
    """Write the candidates' files and the reel, unless they are there already; return where the reel is."""
    for path_of in (work.layout.sound, work.layout.sound_script):
        make_folder(path_of(work.take.name, BYPASSED).parent)
    keys = list(work.workers.map(partial(write_sound, work), sounds, gains.files_db))
    return _reel(work, sounds, keys, gains)


def _results(
    work: TakeWork,
    sounds: Sequence[MeasuredSound],
    gains: Gains,
    bed_sound: Measurements | None,
    tracked: Sequence[Tracked],
    volumes: Sequence[VolumeFigures],
) -> list[CandidateResult]:
    """Return the candidates' results."""
    paths = [work.layout.sound(work.take.name, sound.name) for sound in sounds]
    return [
        CandidateResult(
            name=sound.name,
            circuit=sound.candidate.circuit_name if sound.candidate else "",
            settings=dict(sound.candidate.settings) if sound.candidate else {},
            file=work.layout.relative(path),
            levels=sound.plain.levels,
            gain_db=gain_db,
            at_limit_share=sound.plain.at_limit_share,
            locked_share=tracking.locked_share,
            open_string_locked_share=tracking.open_string_locked_share,
            note_locked_shares=tracking.note_locked_shares,
            dropouts=tracking.dropouts,
            note_first_lock_ms=tracking.note_first_lock_ms,
            **vars(tracking.sums),
            sha256=work.manifest.sha256(path),
            plain_gain_db=plain_gain_db,
            heard_levels=sound.heard.levels if work.monitoring.voicing is not None else None,
            moves=sound.candidate.moves if sound.candidate else (),
            balance=_balance(sound, sounds[0], gain_db - gains.files_db[0]) if sound.candidate else None,
            standing=_standing(sound.heard, gain_db, bed_sound, gains.bed_db),
            **vars(volume),
        )
        for sound, gain_db, plain_gain_db, path, tracking, volume in zip(
            sounds, gains.files_db, gains.plain_db, paths, tracked, volumes, strict=True
        )
    ]


def _balance(sound: MeasuredSound, bypassed: MeasuredSound, gain_db: float) -> Balance:
    """Return where a candidate's file is fuller or thinner than the bypassed take's."""
    exact = balance(sound.plain.regions, bypassed.plain.regions, gain_db=gain_db)
    return Balance(*(_rounded(level_db, 0.0) for level_db in vars(exact).values()))


def _standing(
    heard: Measurements, gain_db: float, bed: Measurements | None, bed_gain_db: float | None
) -> Standing | None:
    """Return how a candidate stands to the bed, both as heard."""
    if bed is None or bed_gain_db is None:
        return None
    return standing(
        [_rounded(level, gain_db) for level in heard.bands_db], [_rounded(level, bed_gain_db) for level in bed.bands_db]
    )


def _rounded(level_db: float | None, gain_db: float) -> float | None:
    """Return a level with its gain as it is told."""
    return None if level_db is None else round(level_db + gain_db, DECIMALS) + 0.0


def _measured_bed(work: TakeWork) -> Measurements | None:
    """Return what is measured of what sounds of a take's bed, from an earlier run where that measured the very same."""
    take, bed, manifest = work.take, work.monitoring.bed, work.manifest
    if bed is None:
        return None
    key = digest(work.monitoring.bed_digest, take.sample_rate)
    measured = manifest.measured(key, Measurements) or measure(bed.samples, sample_rate=take.sample_rate)
    manifest.keep_measured(key, measured)
    return measured


def _reel(work: TakeWork, sounds: Sequence[MeasuredSound], keys: Sequence[str], gains: Gains) -> Path:
    """Write a take's reel, as its candidates are heard, unless it is there already; return where it is."""
    take, layout, manifest, monitoring = work.take, work.layout, work.manifest, work.monitoring
    reel = layout.reel(take.name)
    unmonitored = monitoring.voicing is None and monitoring.bed is None
    key = digest(keys) if unmonitored else digest(keys, monitoring.voicing_digest, monitoring.bed_digest, gains.bed_db)
    if not manifest.is_current(reel, key):
        make_folder(reel.parent)
        write_reel(
            reel,
            [layout.sound(take.name, sound.name) for sound in sounds],
            sample_rate=take.sample_rate,
            title=f"{take.name}: {', '.join(sound.name for sound in sounds)}",
            heard=None if unmonitored else partial(monitoring.heard, bed_gain_db=gains.bed_db),
        )
        manifest.wrote(reel, key)
    return reel


def _heard_voicing(work: TakeWork) -> HeardVoicing | None:
    """Return what the page is told of a take's voicing, its response written."""
    take, layout, monitoring = work.take, work.layout, work.monitoring
    if monitoring.voicing is None:
        return None
    response = voicing_response(monitoring.voicing, take.sample_rate)
    path, key = layout.monitoring_script(take.name, "voicing"), digest(monitoring.voicing_digest, take.sample_rate)
    gain_db = write_samples_script(path, response.samples, take.sample_rate, key=key, manifest=work.manifest)
    return HeardVoicing(monitoring.voicing_name, key, layout.relative(path), gain_db, response.ahead)


def _heard_bed(work: TakeWork, gains: Gains) -> HeardBed | None:
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
