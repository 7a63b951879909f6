"""A take's bare sounds, written for the page: one for all candidates that have the same ahead of the output filter."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sublatch.audition.folder.layout import Layout
from sublatch.audition.folder.manifest import Manifest, digest
from sublatch.audition.folder.sound_script import write_data_script
from sublatch.audition.listen.monitoring import write_samples_script
from sublatch.audition.listen.results import BareSound
from sublatch.audition.live.bands import loudness_bands
from sublatch.audition.plan.records import Candidate
from sublatch.files.whole_files import make_folder
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import octave_key, output_sources
from sublatch.takes.take import Take


def write_bare_sounds(
    take: Take, candidates: Sequence[Candidate], *, cache: StageCache, layout: Layout, manifest: Manifest
) -> tuple[BareSound, ...]:
    """Write what the page needs to make a take's candidates itself; return what it is told of each.

    Parameters
    ----------
    take
        The take.
    candidates
        The candidates; those with moves are left out, since the page's knobs stand still.
    cache
        The take's stages.
    layout, manifest
        Where it goes, and what is there already.

    Raises
    ------
    OutputError
        When a file cannot be written.
    """
    groups: dict[str, list[Candidate]] = {}
    for candidate in candidates:
        if not candidate.moves:
            key = digest(take.fingerprint(), *map(str, octave_key(candidate.circuit)))
            groups.setdefault(key, []).append(candidate)
    return tuple(
        _written(take, key, group, number, cache=cache, layout=layout, manifest=manifest)
        for number, (key, group) in enumerate(groups.items(), start=1)
    )


def _written(
    take: Take,
    key: str,
    candidates: Sequence[Candidate],
    number: int,
    *,
    cache: StageCache,
    layout: Layout,
    manifest: Manifest,
) -> BareSound:
    """Return one bare sound, its two files written unless they are there."""
    sources = output_sources(take, candidates[0].circuit, cache=cache)
    both = np.stack((sources.octave, sources.direct), axis=1)
    sound, bands = (layout.bare_script(take.name, number, kind) for kind in ("sound", "bands"))
    gain_db = write_samples_script(sound, both, take.sample_rate, key=key, manifest=manifest)
    bands_key = f"{key}-bands"
    figures = loudness_bands(
        sources.octave, sources.direct, sample_rate=take.sample_rate, full_scale_volts=take.full_scale_volts
    )
    if not manifest.is_current(bands, bands_key):
        make_folder(bands.parent)
        write_data_script(bands, figures.astype("<f4").tobytes(), key=bands_key)
        manifest.wrote(bands, bands_key)
    return BareSound(
        candidates=tuple(candidate.name for candidate in candidates),
        key=key,
        carrier=layout.relative(sound),
        full_scale_volts=float(10 ** (gain_db / 20)),
        bands_key=bands_key,
        bands_carrier=layout.relative(bands),
        blocks=len(figures),
    )
