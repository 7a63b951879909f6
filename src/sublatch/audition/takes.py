"""One take through all candidates: rendered, measured, matched and written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sublatch import __version__
from sublatch.audition.layout import Layout
from sublatch.audition.ledger import Ledger, digest
from sublatch.audition.match import matching_gains
from sublatch.audition.plan import BYPASSED, Audition, Candidate
from sublatch.audition.reel import write_reel
from sublatch.audition.results import CandidateResult, TakeResult
from sublatch.audition.tracked import Tracked, track_candidates
from sublatch.files import write_audio
from sublatch.outputs import make_folder
from sublatch.rendering import fitted, metadata
from sublatch.signal.chain import render
from sublatch.signal.levels import Levels, levels
from sublatch.signal.stages import StageCache
from sublatch.take import Take

Signal = NDArray[np.float64]

MOST_KEPT_BYTES = 1 << 30
"""Renderings of one take that are kept in memory from measuring to writing; past that they are rendered twice."""


@dataclass(frozen=True)
class Measured:
    """A candidate measured: None for the take itself."""

    candidate: Candidate | None
    key: str
    levels: Levels
    at_limit_share: float
    samples: Signal | None

    @property
    def name(self) -> str:
        """What it is called."""
        return self.candidate.name if self.candidate else BYPASSED


def audition_take(
    take: Take,
    plan: Audition,
    *,
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
        The take.
    plan, layout, ledger
        What is asked, where it goes, and what is there already.
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
    found = []
    for item in workers.map(partial(_measured, take, cache, ledger, keep=_fits(take, plan)), [None, *plan.candidates]):
        ledger.measure(item.key, item.levels, item.at_limit_share)
        found.append(item)
        if item.candidate:
            progress(item.name)
    gains, matched_by = matching_gains(
        [item.levels for item in found], match=plan.plan.match, headroom_db=plan.plan.headroom
    )
    make_folder(layout.sound(take.name, BYPASSED).parent)
    keys = list(workers.map(partial(_write, take, cache, layout, ledger), found, gains))
    paths = [layout.sound(take.name, item.name) for item in found]
    reel = layout.reel(take.name)
    if not ledger.is_current(reel, digest(keys)):
        make_folder(reel.parent)
        write_reel(reel, paths, title=f"{take.name}: {', '.join(item.name for item in found)}")
        ledger.wrote(reel, digest(keys))
    tracked = tracking.result()
    return TakeResult(
        name=take.name,
        file=file,
        sample_rate=take.sample_rate,
        seconds=take.seconds,
        full_scale_volts=take.full_scale_volts,
        full_scale_assumed=take.full_scale_assumed,
        remarks=take.remarks,
        matched_by=matched_by,
        reel=layout.relative(reel),
        tuning=tuning,
        notes=tracked[0].notes,
        note_remarks=tracked[0].remarks,
        candidates=tuple(_results(found, gains, paths, [None, *tracked], layout)),
    )


def _results(
    found: Sequence[Measured],
    gains: Sequence[float],
    paths: Sequence[Path],
    tracked: Sequence[Tracked | None],
    layout: Layout,
) -> list[CandidateResult]:
    """Return the candidates' results."""
    return [
        CandidateResult(
            name=item.name,
            circuit=item.candidate.circuit_name if item.candidate else "",
            settings=dict(item.candidate.settings) if item.candidate else {},
            file=layout.relative(path),
            levels=item.levels,
            gain_db=gain_db,
            at_limit_share=item.at_limit_share,
            locked_share=tracking.locked_share if tracking else None,
            open_string_locked_share=tracking.open_string_locked_share if tracking else None,
            note_locked_shares=tracking.note_locked_shares if tracking else (),
            dropouts=tracking.dropouts if tracking else (),
        )
        for item, gain_db, path, tracking in zip(found, gains, paths, tracked, strict=True)
    ]


def _fits(take: Take, plan: Audition) -> bool:
    """Return whether all renderings of a take can be kept in memory."""
    return (len(plan.candidates) + 1) * take.samples.nbytes <= MOST_KEPT_BYTES


def _measured(take: Take, cache: StageCache, ledger: Ledger, candidate: Candidate | None, *, keep: bool) -> Measured:
    """Return a candidate with its levels, from an earlier run where that measured the very same."""
    key = digest(__version__, take.fingerprint(), candidate.circuit.model_dump(mode="json") if candidate else None)
    known = ledger.measured(key)
    if known is not None:
        return Measured(candidate, key, *known, samples=None)
    samples, share = _rendered(take, candidate, cache)
    found = levels(samples, sample_rate=take.sample_rate, full_scale_volts=take.full_scale_volts)
    return Measured(candidate, key, found, share, samples if keep else None)


def _rendered(take: Take, candidate: Candidate | None, cache: StageCache) -> tuple[Signal, float]:
    """Return a candidate's output in volts and its share of time at the limits; the take itself for None."""
    if candidate is None:
        return take.samples, 0.0
    made = render(take, candidate.circuit, cache=cache)
    return made.samples, made.at_limit_share


def _write(take: Take, cache: StageCache, layout: Layout, ledger: Ledger, item: Measured, gain_db: float) -> str:
    """Write a candidate's file unless it is there already; return what stands for its content."""
    path = layout.sound(take.name, item.name)
    circuit, settings = (item.candidate.circuit, item.candidate.settings) if item.candidate else (None, {})
    comment = metadata(take, circuit, settings, gain_db)
    key = digest(item.key, gain_db, item.name, take.name, comment)
    if not ledger.is_current(path, key):
        samples = item.samples if item.samples is not None else _rendered(take, item.candidate, cache)[0]
        write_audio(
            path,
            fitted(samples / take.full_scale_volts, gain_db),
            take.sample_rate,
            title=f"{take.name}: {item.name}",
            comment=comment,
        )
        ledger.wrote(path, key)
    return key
