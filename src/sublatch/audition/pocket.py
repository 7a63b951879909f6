"""The pocket edition of an audition: chosen takes and candidates in one file of less than 10 MB."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from sublatch.arrays import Signal
from sublatch.audition.folder.layout import Layout
from sublatch.audition.folder.sound_script import read_script
from sublatch.audition.listen.results import AuditionResult, TakeResult
from sublatch.audition.plan.records import BYPASSED, Audition
from sublatch.errors import OutputError, PlanError, nearest_hint
from sublatch.files.own_files import OwnFiles
from sublatch.files.sound import compressed, read_audio
from sublatch.sampling.rates import resampled

MOST_BYTES = 10_000_000
COMPRESSIONS = (0.3, 0.5, 0.7, 0.85)
"""Tried in turn until everything fits."""
RATES_HZ = (32000, 44100, 48000)
"""Rates that a compressed sound may have as it is; any other becomes the last one."""
POCKET_FILES = OwnFiles(
    "pocket editions",
    "\n<!-- Pocket edition written by sublatch. Once changed, it is replaced only with --overwrite. Check: ",
    " -->\n",
    (".html",),
)


@dataclass(frozen=True)
class Pocket:
    """What was written: the file, its bytes, and how much its sounds were compressed, from 0 to 1."""

    path: Path
    size: int
    compression: float


def write_pocket(
    plan: Audition,
    result: AuditionResult,
    path: str | Path,
    *,
    folder: Path,
    only: Collection[str] = (),
    overwrite: bool = False,
) -> Pocket:
    """Write an audition, or chosen takes and candidates of it, as one file that needs nothing beside it.

    Parameters
    ----------
    plan, result
        The audition, from `run_audition`.
    path
        The file; it ends in ``.html``.
    folder
        The audition's folder.
    only
        Names of takes and candidates; all of them where none is named. The take itself always goes along.
    overwrite
        Replace a file that this program did not write, or that was changed since.

    Raises
    ------
    PlanError
        When a name is none of the audition's, or no take could be used.
    OutputError
        When the file cannot be written, must not be replaced, or would be larger than `MOST_BYTES`.
    """
    path = Path(path)
    POCKET_FILES.guard(path, inputs=map(str, plan.inputs), overwrite=overwrite)
    layout = Layout(folder, plan)
    chosen_plan, chosen = _chosen(plan, result, only)
    for compression in COMPRESSIONS:
        text = _page(chosen_plan, chosen, layout, compression)
        size = len(POCKET_FILES.with_check(text).encode("utf-8"))
        if size < MOST_BYTES:
            POCKET_FILES.write(path, text)
            return Pocket(path, size, compression)
    raise OutputError(
        f"a pocket edition must stay under {MOST_BYTES / 1e6:.0f} MB, and {path} would have {size / 1e6:.1f} MB with "
        "sounds as small as they get; choose takes and candidates with --only"
    )


def _chosen(plan: Audition, result: AuditionResult, only: Collection[str]) -> tuple[Audition, AuditionResult]:
    """Return the plan and what came of it with chosen takes and candidates only."""
    usable = [take for take in result.takes if take.error is None]
    if not usable:
        raise PlanError(f"{plan.path}: a pocket edition needs a take that can be used, got none")
    takes, candidates = {take.name for take in usable}, {one.name for one in plan.candidates}
    for name in only:
        if name not in takes | candidates:
            hint = nearest_hint(name, [*takes, *candidates])
            raise PlanError(f"--only must be a take or a candidate of the audition, got {name!r}{hint}")
    kept_takes, kept = takes.intersection(only) or takes, candidates.intersection(only) or candidates
    return (
        replace(plan, candidates=tuple(one for one in plan.candidates if one.name in kept)),
        replace(result, takes=tuple(_with_only(take, kept) for take in usable if take.name in kept_takes)),
    )


def _with_only(take: TakeResult, names: Collection[str]) -> TakeResult:
    """Return a take's result with some of its candidates."""
    bare = [replace(one, candidates=tuple(name for name in one.candidates if name in names)) for one in take.bare]
    return replace(
        take,
        candidates=tuple(one for one in take.candidates if one.name in names or one.name == BYPASSED),
        bare=tuple(one for one in bare if one.candidates),
    )


def _page(plan: Audition, result: AuditionResult, layout: Layout, compression: float) -> str:
    """Return the file's text."""
    from sublatch.audition.page import Pictures
    from sublatch.audition.page.content import filter_curves, lock_figure
    from sublatch.audition.page.data import listening_data
    from sublatch.audition.page.pocket import render_pocket

    data = listening_data(result, plan, layout)
    sounds, further = {}, {}
    for take, told in zip(result.takes, data["takes"], strict=True):
        for one in take.candidates:
            sounds[one.sha256] = _packed(*_samples(layout.folder / one.file), compression)
        for key, script, pack in _beside(take):
            pieces = read_script(layout.folder / script)
            further[key] = _repacked(pieces, compression) if pack else b64encode(pieces[0]).decode("ascii")
        told["sample_rate"] = _rate(take.sample_rate)
    pictures = Pictures(
        filter_curves=filter_curves(plan), lock_figures={take.name: lock_figure(take, layout) for take in result.takes}
    )
    return render_pocket(result, data=data, pictures=pictures, sounds=sounds, further=further)


def _beside(take: TakeResult) -> Iterator[tuple[str, str, bool]]:
    """Give what a take needs besides its candidates' sounds: key, script, and whether it is a sound to compress."""
    for bare in take.bare:
        yield bare.key, bare.carrier, True
        yield bare.bands_key, bare.bands_carrier, False
    if take.bed is not None:
        yield take.bed.key, take.bed.carrier, True
    if take.voicing is not None:
        yield take.voicing.key, take.voicing.carrier, False


def _rate(sample_rate: int) -> int:
    """Return the rate that a compressed sound has."""
    return sample_rate if sample_rate in RATES_HZ else RATES_HZ[-1]


def _samples(path: Path) -> tuple[Signal, int]:
    """Return a sound file's samples and rate."""
    recording = read_audio(path)
    return recording.samples, recording.sample_rate


def _repacked(pieces: Sequence[bytes], compression: float) -> str:
    """Return FLAC files one after another as one compressed file in base64."""
    samples, rate = [], 0
    with TemporaryDirectory(prefix="sublatch-") as folder:
        path = Path(folder) / "sound.flac"
        for flac in pieces:
            path.write_bytes(flac)
            piece, rate = _samples(path)
            samples.append(piece)
    return _packed(np.concatenate(samples), rate, compression)


def _packed(samples: Signal, sample_rate: int, compression: float) -> str:
    """Return samples as a compressed file in base64."""
    rate = _rate(sample_rate)
    fitting = samples if rate == sample_rate else resampled(samples, sample_rate, rate)
    return b64encode(compressed(fitting, rate, compression=compression)).decode("ascii")
