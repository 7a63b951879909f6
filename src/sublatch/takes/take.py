"""A take: one recorded performance, mono, in volts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256
from pathlib import Path

import numpy as np

from sublatch.arrays import Signal
from sublatch.errors import AudioDataError, AudioFileError
from sublatch.files.sound import Recording, check_rate, read_audio
from sublatch.takes.remarks import Remark

ASSUMED_FULL_SCALE_VOLTS = 1.0
"""Volts that full scale stands for when nobody says."""
HIGHEST_FULL_SCALE_VOLTS = 100.0
"""Most volts that full scale may stand for; a pick-up gives a few at most."""
CLIPPING_SHARE = 0.99
"""Share of full scale from which a flat top counts as clipped."""
CLIPPING_SAMPLES = 3
"""Samples in a row at the very same extreme that count as clipped."""
SILENT_DBFS = -90.0
"""Peak below which a take counts as silent: a little over one step of 16 bits."""
DC_OFFSET_SHARE = 0.01
"""Share of full scale from which a DC offset is remarked upon."""
DC_OFFSET_S = 1.0
"""Seconds under which the mean of a take says nothing of its DC offset: a low note's last period weighs too much."""
SHORTEST_NOTE_S = 0.1
"""Seconds under which a take is too short for a note: three periods of a low B at 31 Hz."""
HIGHEST_PEAK = 16.0
"""Most times full scale that the peak of a file of floats may be."""


@dataclass(frozen=True, eq=False)
class Take:
    """One recorded performance, mono.

    Attributes
    ----------
    samples
        In volts, of shape (n,).
    sample_rate
        In hertz.
    full_scale_volts
        Volts that full scale of the file stands for.
    full_scale_assumed
        Whether that is only the assumption that is made when nobody says.
    name
        The file's name without its ending.
    path
        The file, if there is one.
    remarks
        What makes the take less fit to use.
    channels
        Channels of the file; two that are the same are one take.
    """

    samples: Signal
    sample_rate: int
    full_scale_volts: float = ASSUMED_FULL_SCALE_VOLTS
    full_scale_assumed: bool = False
    name: str = "take"
    path: Path | None = None
    remarks: tuple[Remark, ...] = ()
    channels: int = 1

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return len(self.samples) / self.sample_rate

    def fingerprint(self) -> str:
        """Return 64 hexadecimal digits that stand for samples, rate and full scale."""
        return self._fingerprint

    @cached_property
    def _fingerprint(self) -> str:
        """The fingerprint, worked out once."""
        content = sha256(f"{self.sample_rate}\0{float(self.full_scale_volts)!r}\0".encode())
        content.update(np.ascontiguousarray(self.samples, dtype="<f8").data)
        return content.hexdigest()


def read_take(path: str | Path, *, full_scale_volts: float | None = None, channel: int | None = None) -> Take:
    """Read a take from a sound file.

    Parameters
    ----------
    path
        A sound file of any kind, 8 to 192 kHz.
    full_scale_volts
        Volts at the instrument that full scale stands for, above 0 and at most 100. 1 V peak is assumed when
        it is not given.
    channel
        Which channel to take, from 1. Needed when the channels differ.

    Returns
    -------
    Take
        In volts, with remarks about clipping, silence, DC offset and length.

    Raises
    ------
    AudioFileError
        When the file cannot be read, or it is not clear which channel is meant.
    AudioDataError
        When `full_scale_volts` is out of range.
    """
    assumed = full_scale_volts is None
    scale_volts = ASSUMED_FULL_SCALE_VOLTS if full_scale_volts is None else _checked_volts(full_scale_volts)
    path = Path(path)
    recording = read_audio(path)
    samples = _one_channel(recording, path, channel)
    peak = np.max(np.abs(samples))
    if peak > HIGHEST_PEAK:
        raise AudioFileError(
            f"{path}: samples must be within about ±1, got a peak of {peak:.6g}; are they integers stored as floats?"
        )
    return _take(
        samples * scale_volts,
        recording.sample_rate,
        full_scale_volts=scale_volts,
        full_scale_assumed=assumed,
        name=path.stem,
        path=path,
        channels=recording.samples.shape[1],
    )


def take_from_samples(
    samples: Signal, sample_rate: int, *, full_scale_volts: float = ASSUMED_FULL_SCALE_VOLTS, name: str = "take"
) -> Take:
    """Return a take made from samples in memory.

    Parameters
    ----------
    samples
        In volts, of shape (n,); they are copied.
    sample_rate
        In hertz, 8000 to 192000.
    full_scale_volts
        Volts that count as full scale in reports and files, above 0 and at most 100.
    name
        What to call it.

    Returns
    -------
    Take
        With remarks as from `read_take`.

    Raises
    ------
    AudioDataError
        When samples, rate or full scale are not as above.
    """
    array = np.asarray(samples)
    if array.ndim != 1:
        hint = "; give one channel, as in samples[:, 0]" if array.ndim == 2 else ""
        raise AudioDataError(f"samples must be of shape (n,), one channel, got {array.shape}{hint}")
    if array.dtype.kind != "f":
        raise AudioDataError(
            f"samples must be floats in volts, got {array.dtype}; divide integers by their full scale and multiply "
            "by its volts"
        )
    if len(array) == 0:
        raise AudioDataError("samples must hold at least one sample, got none")
    rate = check_rate(sample_rate)
    bad = np.flatnonzero(~np.isfinite(array))
    if len(bad):
        raise AudioDataError(
            f"every sample must be a number, got {len(bad)} that are not (NaN or infinite), the first at "
            f"{bad[0] / rate:.4f} s"
        )
    volts = np.array(array, dtype=np.float64)
    peak_volts = np.max(np.abs(volts))
    if peak_volts > HIGHEST_PEAK * HIGHEST_FULL_SCALE_VOLTS:
        raise AudioDataError(f"samples must be in volts, got a peak of {peak_volts:.6g} V; are they integers?")
    return _take(volts, rate, full_scale_volts=_checked_volts(full_scale_volts), name=name)


def clipped_runs(samples: Signal, *, full_scale_volts: float) -> tuple[int, int]:
    """Return how many samples are clipped, and the index of the first.

    Parameters
    ----------
    samples
        In volts, of shape (n,).
    full_scale_volts
        Volts at full scale.

    Returns
    -------
    count, first : int
        The count is of samples in runs of at least `CLIPPING_SAMPLES` at exactly the highest or the lowest
        level of the take, where that is at least `CLIPPING_SHARE` of full scale. `first` is 0 when there are
        none.
    """
    count, firsts = 0, []
    for extreme in {samples.max(), samples.min()}:
        if abs(extreme) < CLIPPING_SHARE * full_scale_volts:
            continue
        at_extreme = np.flatnonzero(samples == extreme)
        run_bounds = np.flatnonzero(np.diff(at_extreme, prepend=-2, append=len(samples) + 1) > 1)
        lengths = np.diff(run_bounds)
        clipped = lengths >= CLIPPING_SAMPLES
        if clipped.any():
            count += int(lengths[clipped].sum())
            firsts.append(int(at_extreme[run_bounds[:-1][clipped][0]]))
    return count, min(firsts, default=0)


def level_dbfs(level: float) -> float | None:
    """Return a level, 1 at full scale, in decibels; None for silence, which has none."""
    return float(20.0 * np.log10(level)) if level > 0.0 else None


def _take(
    volts: Signal,
    sample_rate: int,
    *,
    full_scale_volts: float,
    full_scale_assumed: bool = False,
    name: str,
    path: Path | None = None,
    channels: int = 1,
) -> Take:
    """Return a take whose samples stay as they are, with its remarks."""
    volts.setflags(write=False)
    remarks = _remarks(volts, sample_rate, full_scale_volts)
    return Take(volts, sample_rate, full_scale_volts, full_scale_assumed, name, path, remarks, channels)


def _remarks(volts: Signal, sample_rate: int, full_scale_volts: float) -> tuple[Remark, ...]:
    """Return what makes a take less fit to use."""
    remarks = []
    peak_dbfs = level_dbfs(np.max(np.abs(volts)) / full_scale_volts)
    count, first = clipped_runs(volts, full_scale_volts=full_scale_volts)
    offset = float(np.mean(volts)) / full_scale_volts
    seconds = len(volts) / sample_rate
    if count:
        text = (
            f"clipped: {count} samples are flat at the top or bottom, the first at {first / sample_rate:.3f} s; "
            "record it again at a lower level"
        )
        remarks.append(Remark("clipped", text))
    elif peak_dbfs is not None and peak_dbfs > 0.0:
        remarks.append(Remark("over-full-scale", f"over full scale: the peak is {peak_dbfs:+.1f} dBFS"))
    if peak_dbfs is None or peak_dbfs < SILENT_DBFS:
        shown = "every sample is 0" if peak_dbfs is None else f"the peak is {peak_dbfs:.0f} dBFS"
        remarks.append(Remark("silent", f"silent: {shown}; was the right input recorded?"))
    elif seconds >= DC_OFFSET_S and abs(offset) > DC_OFFSET_SHARE:
        text = f"DC offset: {100 * offset:+.1f} % of full scale; the input capacitor removes it"
        remarks.append(Remark("dc-offset", text))
    if seconds < SHORTEST_NOTE_S:
        length = "1 sample" if len(volts) == 1 else f"{len(volts)} samples"
        text = f"very short: {length} ({1000 * seconds:.3g} ms), too short for a note"
        remarks.append(Remark("too-short", text))
    return tuple(remarks)


def _one_channel(recording: Recording, path: Path, channel: int | None) -> Signal:
    """Return the channel that is meant, as an array of its own."""
    channels = recording.samples.shape[1]
    if channel is None:
        first = recording.samples[:, :1]
        if channels > 1 and not np.all(recording.samples == first):
            raise AudioFileError(
                f"{path}: must be mono, got {channels} channels that differ ({_levels(recording.samples)}); "
                f"choose one with --channel 1 to {channels} (channel in a plan)"
            )
        channel = 1
    if not 1 <= channel <= channels:
        channels_there = "the file has only channel 1" if channels == 1 else f"the file has channels 1 to {channels}"
        raise AudioFileError(f"{path}: {channels_there}, got channel {channel}; they are counted from 1")
    return np.ascontiguousarray(recording.samples[:, channel - 1])


def _levels(samples: Signal) -> str:
    """Return each channel's peak level in words."""
    levels = []
    for number, peak in enumerate(np.max(np.abs(samples), axis=0), start=1):
        peak_dbfs = level_dbfs(peak)
        levels.append(f"channel {number}: {'silent' if peak_dbfs is None else f'peak {peak_dbfs:.1f} dBFS'}")
    return ", ".join(levels)


def _checked_volts(full_scale_volts: float) -> float:
    """Return volts at full scale; refuse what no input has."""
    if not 0.0 < full_scale_volts <= HIGHEST_FULL_SCALE_VOLTS:
        hint = "; is it in millivolts?" if full_scale_volts > HIGHEST_FULL_SCALE_VOLTS else ""
        raise AudioDataError(
            f"full_scale_volts must be above 0 and at most {HIGHEST_FULL_SCALE_VOLTS:g} V, "
            f"got {full_scale_volts} V{hint}"
        )
    return float(full_scale_volts)
