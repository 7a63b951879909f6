"""A take's bare sounds, written for the page: one for all candidates that have the same ahead of the output filter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sublatch.arrays import Signal
from sublatch.audition.folder.layout import Layout
from sublatch.audition.folder.manifest import Manifest, digest
from sublatch.audition.folder.sound_script import write_data_script
from sublatch.audition.listen.balance import REGIONS_HZ
from sublatch.audition.listen.monitoring import write_samples_script
from sublatch.audition.listen.results import BareSound
from sublatch.audition.live.bands import loudness_bands
from sublatch.audition.plan.records import Candidate
from sublatch.files.whole_files import make_folder
from sublatch.parts.sound_bands import source_bands
from sublatch.sampling.bands import powers_between
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import octave_key, output_sources
from sublatch.signal.node_voltages import OutputSources
from sublatch.takes.take import Take

BITS = 18
"""Of a bare sound's samples: what is lost lies 108 dB below its peak, and nearly half of its bytes are spared."""


@dataclass(frozen=True)
class BareFacts:
    """What must be known of a bare sound besides its files: volts at its full scale, and how many gating blocks."""

    full_scale_volts: float
    blocks: int


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
    sound, bands = (layout.bare_script(take.name, number, kind) for kind in ("sound", "bands"))
    bands_key = _bands_key(key)
    facts = manifest.measured(bands_key, BareFacts)
    if not all(manifest.is_current(path, own) for path, own in ((sound, key), (bands, bands_key))) or facts is None:
        facts = _made(take, output_sources(take, candidates[0].circuit, cache=cache), sound, bands, key, manifest)
    manifest.keep_measured(bands_key, facts)
    return BareSound(
        candidates=tuple(candidate.name for candidate in candidates),
        key=key,
        carrier=layout.relative(sound),
        full_scale_volts=facts.full_scale_volts,
        bands_key=bands_key,
        bands_carrier=layout.relative(bands),
        blocks=facts.blocks,
    )


def _made(take: Take, sources: OutputSources, sound: Path, bands: Path, key: str, manifest: Manifest) -> BareFacts:
    """Write a bare sound and its powers; return what must be known of them."""
    both = np.stack((sources.octave, sources.direct), axis=1)
    gain_db = write_samples_script(sound, both, take.sample_rate, key=key, manifest=manifest, bits=BITS)
    figures = loudness_bands(
        sources.octave, sources.direct, sample_rate=take.sample_rate, full_scale_volts=take.full_scale_volts
    )
    told = np.concatenate((figures.ravel(), _cells(take, sources)))
    make_folder(bands.parent)
    write_data_script(bands, told.astype("<f4").tobytes(), key=_bands_key(key))
    manifest.wrote(bands, _bands_key(key))
    return BareFacts(float(10 ** (gain_db / 20)), len(figures))


def _bands_key(key: str) -> str:
    """Return the key of a bare sound's powers."""
    return f"{key}-powers"


def _cells(take: Take, sources: OutputSources) -> Signal:
    """Return a bare sound's powers over the whole take, of full scale squared, and the take's own.

    Octave, direct signal, and both together (real and imaginary) in each cell of `source_bands`, cell by cell; then the
    take's in the regions of `balance`.
    """
    bands = source_bands(sources)
    cells = np.stack((bands.octave, bands.direct, bands.cross.real, bands.cross.imag), axis=1)
    own = powers_between(take.samples, sample_rate=take.sample_rate, edges_hz=REGIONS_HZ)
    return np.concatenate((cells.ravel(), own)) / take.full_scale_volts**2
