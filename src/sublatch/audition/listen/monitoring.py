"""Monitoring: the loudspeaker that a take is heard through, and the bed that plays along with it.

Neither is part of a circuit or of a candidate's file. The bass alone passes the voicing; the bed is a finished
recording. A bed starts with the take, and after its end there is silence: repeated, it would be out of time.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

import numpy as np

from sublatch.arrays import Signal
from sublatch.audition.folder.manifest import Manifest, digest
from sublatch.audition.folder.sound_script import write_sound_script
from sublatch.audition.listen.loudspeaker import Voicing, impulse_response, voiced
from sublatch.audition.plan.records import LOUDSPEAKER, Audition, TakeEntry
from sublatch.errors import AudioDataError, AudioFileError, PlanError, nearest_hint
from sublatch.files.sound import read_audio
from sublatch.files.whole_files import make_folder
from sublatch.sampling.rates import resampled
from sublatch.takes.remarks import Remark
from sublatch.takes.take import Take
from sublatch.units.scales import db_to_ratio

LEFT_OUT = 1e-10
"""Share of a response's energy that may be cut off at either end (−100 dB)."""
LONGEST_LOUDSPEAKER = 8192
"""Samples of the plain loudspeaker's response that are kept, up to 96 kHz; twice as many above."""
MOST_AHEAD = 64
"""Samples kept of what rings ahead of the plain loudspeaker's response, at half the sample rate."""
ROOM_S = 0.5
"""Time on either side of an impulse for what rings."""


@dataclass(frozen=True, eq=False)
class Bed:
    """What plays along with one take.

    Attributes
    ----------
    name
        Its file as the plan names it.
    samples
        One channel at the take's rate (n,), ±1 at full scale; no longer than the take.
    level_db
        Its loudness against the bypassed take.
    remarks
        What there is to say of it, in words.
    """

    name: str
    samples: Signal
    level_db: float
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, eq=False)
class Monitoring:
    """How a take is listened to: through what, and with what.

    Attributes
    ----------
    voicing, voicing_name
        The loudspeaker, and how the plan names it; None without one.
    bed
        The bed; None without one.
    """

    voicing: Voicing | None = None
    voicing_name: str = ""
    bed: Bed | None = None

    @property
    def voicing_digest(self) -> str:
        """What stands for the voicing."""
        if self.voicing is None or isinstance(self.voicing, str):
            return digest("voicing", self.voicing)
        return digest("voicing", _content(self.voicing.samples), self.voicing.sample_rate)

    @property
    def bed_digest(self) -> str:
        """What stands for the bed's samples."""
        return digest("bed", None if self.bed is None else _content(self.bed.samples))

    def heard(self, samples: Signal, sample_rate: int, *, bed_gain_db: float | None) -> Signal:
        """Return a candidate's file (n,) as it is heard, voiced and with the bed, within ±1."""
        total = samples if self.voicing is None else voiced(samples, sample_rate=sample_rate, voicing=self.voicing)
        if self.bed is not None and bed_gain_db is not None:
            total = total.copy()
            total[: len(self.bed.samples)] += float(db_to_ratio(bed_gain_db)) * self.bed.samples
        return total / max(1.0, float(np.max(np.abs(total), initial=0.0)))  # the file's rounding, with no headroom


@dataclass(frozen=True, eq=False)
class Response:
    """A voicing as an impulse response: what `voiced` gives, `ahead` samples later.

    Attributes
    ----------
    samples
        The response (n,).
    ahead
        Samples that lie ahead of the moment itself.
    """

    samples: Signal
    ahead: int


def read_voicing(plan: Audition) -> tuple[Voicing | None, str]:
    """Return what a plan's takes are listened through, and how it is called; None and an empty text for nothing.

    Raises
    ------
    PlanError
        When it is a file that cannot be read, or that holds no impulse response.
    """
    name, path = plan.plan.voicing, plan.voicing_path
    if name is None:
        return None, ""
    if path is None:
        return "loudspeaker", name
    try:
        samples, rate = _one_channel(path)
        return impulse_response(samples, sample_rate=rate, name=str(path)), name
    except (AudioFileError, AudioDataError) as problem:
        hint = "" if path.exists() else nearest_hint(name, [LOUDSPEAKER])
        if hint:
            raise PlanError(
                f"{plan.path}: voicing must be {LOUDSPEAKER!r} or the file of an impulse response, got {name!r}{hint}"
            ) from None
        raise PlanError(f"{plan.path}: voicing: {problem}") from None


def read_bed(plan: Audition, entry: TakeEntry, take: Take) -> Bed | None:
    """Return a take's bed at the take's rate, its channels' mean; None where the plan has none.

    Raises
    ------
    AudioFileError
        When it cannot be read.
    AudioDataError
        When nothing of it sounds while the take plays.
    """
    path = plan.bed_path(entry)
    if path is None:
        return None
    recording = read_audio(path)
    mixed = np.mean(recording.samples, axis=1)
    samples = resampled(mixed, recording.sample_rate, take.sample_rate)[: len(take.samples)]
    seconds = len(samples) / take.sample_rate
    if not np.any(samples):
        raise AudioDataError(f"{path}: a bed must sound while the take plays, got {seconds:.1f} s of silence")
    remarks: tuple[Remark, ...] = ()
    if len(samples) < len(take.samples) - 1:
        text = f"the bed ends {take.seconds - seconds:.1f} s before the take; there is silence after it"
        remarks = (Remark("bed-ends", text),)
    name = entry.bed if entry.bed is not None else plan.plan.bed
    assert name is not None
    return Bed(name, samples, plan.bed_level_db(entry), remarks)


@lru_cache(maxsize=4)
def voicing_response(voicing: Voicing, sample_rate: int) -> Response:
    """Return a voicing as an impulse response at a rate.

    Parameters
    ----------
    voicing
        The voicing.
    sample_rate
        Samples per second.

    Notes
    -----
    What `voiced` makes of one sample, without a window; what is cut off at either end is 100 dB down in energy. Only
    the plain loudspeaker rings on at half the sample rate, where it is 40 dB down or more at 44.1 kHz: there 64
    samples ahead of it are kept, and 8192 in all.
    """
    plain = isinstance(voicing, str)
    longest_s = 0.0 if isinstance(voicing, str) else len(voicing.samples) / voicing.sample_rate
    middle = round((longest_s + ROOM_S) * sample_rate)
    impulse = np.zeros(2 * middle)
    impulse[middle] = 1.0
    response = voiced(impulse, sample_rate=sample_rate, voicing=voicing)
    energy = np.cumsum(response**2)
    first = int(np.searchsorted(energy, LEFT_OUT * energy[-1]))
    last = int(np.searchsorted(energy, (1.0 - LEFT_OUT) * energy[-1])) + 1
    first = min(max(first, middle - MOST_AHEAD) if plain else first, middle)
    if plain:
        last = min(last, first + LONGEST_LOUDSPEAKER * (1 if sample_rate <= 96000 else 2))
    return Response(response[first:last].copy(), middle - first)


def write_samples_script(
    path: Path, samples: Signal, sample_rate: int, *, key: str, manifest: Manifest, bits: int = 24
) -> float:
    """Write samples (n,) or (n, channels) as a sound script unless it is there; return the gain in dB that it lacks.

    See `write_sound_script`.

    Raises
    ------
    OutputError
        When it cannot be written.
    """
    peak = float(max(np.max(samples), -np.min(samples))) or 1.0
    if not manifest.is_current(path, key):
        make_folder(path.parent)
        write_sound_script(path, samples, sample_rate, key=key, peak=peak, bits=bits)
        manifest.wrote(path, key)
    return float(20 * np.log10(peak))


def _one_channel(path: Path) -> tuple[Signal, int]:
    """Return an impulse response's samples (n,) and their rate."""
    recording = read_audio(path)
    first = recording.samples[:, 0]
    if not np.all(recording.samples == first[:, np.newaxis]):
        channels = recording.samples.shape[1]
        raise AudioDataError(f"{path}: an impulse response must be mono, got {channels} channels that differ")
    return np.ascontiguousarray(first), recording.sample_rate


def _content(samples: Signal) -> str:
    """Return what stands for samples."""
    return sha256(np.ascontiguousarray(samples, dtype="<f8").data).hexdigest()
