"""One candidate's sound on a take: rendered, measured as it is and as it is heard, and written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

from sublatch.arrays import Signal
from sublatch.audition.folder.manifest import Manifest, digest
from sublatch.audition.folder.sound_script import write_sound_script
from sublatch.audition.listen.loudspeaker import voiced
from sublatch.audition.listen.measurements import Measurements, measure
from sublatch.audition.plan.records import BYPASSED, Candidate
from sublatch.audition.take_work import TakeWork
from sublatch.files.sound import read_audio, write_audio
from sublatch.json_data import plain_values
from sublatch.rendering import fitted, metadata
from sublatch.signal.chain import render
from sublatch.signal.moving import render_moving
from sublatch.takes.take import Take


@dataclass(frozen=True)
class MeasuredSound:
    """A candidate measured, None for the take itself; `heard` is through the voicing, `plain` without one.

    Both are told by keys that stand for all they depend on. The samples are not kept, but rendered again to be written:
    that takes no more memory than one sound, and what comes before the output filter is remembered.
    """

    candidate: Candidate | None
    plain_key: str
    plain: Measurements
    heard_key: str
    heard: Measurements

    @property
    def name(self) -> str:
        """What it is called."""
        return self.candidate.name if self.candidate else BYPASSED

    def keep(self, manifest: Manifest) -> None:
        """Keep what was measured for the next run."""
        manifest.keep_measured(self.plain_key, self.plain)
        manifest.keep_measured(self.heard_key, self.heard)


def measured_sound(work: TakeWork, candidate: Candidate | None) -> MeasuredSound:
    """Return a candidate measured, from an earlier run where that measured the very same.

    Parameters
    ----------
    work
        The take, what it is listened through, and what an earlier run has measured.
    candidate
        The candidate; None for the take itself.
    """
    take, manifest, monitoring = work.take, work.manifest, work.monitoring
    key = sound_key(take, candidate)
    heard_key = key if monitoring.voicing is None else digest(key, monitoring.voicing_digest)
    plain, heard = (manifest.measured(sound, Measurements) for sound in (key, heard_key))
    if plain is None or heard is None:
        samples, share = rendered(work, candidate)
        if plain is None:
            plain = _measured(take, samples, share)
        if heard is None:
            voice = heard_through(work)
            heard = plain if voice is None else _measured(take, voice(samples), share)
    return MeasuredSound(candidate, key, plain, heard_key, heard)


def sound_key(take: Take, candidate: Candidate | None) -> str:
    """Return what stands for all that a candidate's sound on a take depends on; the take itself for None."""
    return digest(take.fingerprint(), *_settings_of(candidate))


def heard_through(work: TakeWork) -> Callable[[Signal], Signal] | None:
    """Return what puts volts (n,) of a take through the voicing; None without one."""
    if work.monitoring.voicing is None:
        return None
    return partial(voiced, sample_rate=work.take.sample_rate, voicing=work.monitoring.voicing)


def rendered(work: TakeWork, candidate: Candidate | None) -> tuple[Signal, float]:
    """Return a candidate's output in volts and its share of time at the limits; the take itself for None."""
    if candidate is None:
        return work.take.samples, 0.0
    if candidate.moves:
        output = render_moving(work.take, candidate.circuit, candidate.moves, cache=work.cache)
    else:
        output = render(work.take, candidate.circuit, cache=work.cache)
    return output.samples, output.at_limit_share


def write_sound(work: TakeWork, sound: MeasuredSound, gain_db: float) -> str:
    """Write a candidate's files unless they are there already; return what stands for their content.

    Parameters
    ----------
    work
        The take, where it goes, and what is there.
    sound
        The candidate, measured.
    gain_db
        Gain of the file. It holds what the circuit gives, without voicing and bed.

    Raises
    ------
    OutputError
        When a file cannot be written.
    """
    take, layout, manifest = work.take, work.layout, work.manifest
    path = layout.sound(take.name, sound.name)
    candidate = sound.candidate
    circuit, settings, moves = (candidate.circuit, candidate.settings, candidate.moves) if candidate else (None, {}, ())
    comment = metadata(take, circuit, settings, gain_db, moves=moves)
    key = digest(sound.plain_key, gain_db, sound.name, take.name, comment)
    if not manifest.is_current(path, key):
        samples, _ = rendered(work, candidate)
        write_audio(
            path,
            fitted(samples / take.full_scale_volts, gain_db),
            take.sample_rate,
            title=f"{take.name}: {sound.name}",
            comment=comment,
        )
        manifest.wrote(path, key)
    script, content_digest = layout.sound_script(take.name, sound.name), manifest.sha256(path)
    if not manifest.is_current(script, content_digest):
        recording = read_audio(path)
        write_sound_script(script, recording.samples, recording.sample_rate, key=content_digest)
        manifest.wrote(script, content_digest)
    return key


def _settings_of(candidate: Candidate | None) -> list[Any]:
    """Return the facts that a rendering depends on besides the take."""
    if candidate is None:
        return [None]
    moves = plain_values(candidate.moves)
    return [candidate.circuit.model_dump(mode="json"), *([moves] if moves else [])]


def _measured(take: Take, samples: Signal, at_limit_share: float) -> Measurements:
    """Return what is measured of volts (n,) of a take."""
    return measure(
        samples,
        sample_rate=take.sample_rate,
        full_scale_volts=take.full_scale_volts,
        at_limit_share=at_limit_share,
    )
