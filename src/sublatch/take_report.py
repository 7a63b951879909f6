"""Is this take fit to use? Level, noise, clipping and pitch range, with remarks in plain words."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sublatch._pitch_range import pitch_range
from sublatch.errors import AudioDataError
from sublatch.take import SILENT_DBFS, Take, clipped_runs, level_dbfs, read_take

NOISE_FRAME_S = 0.05
"""Length in seconds of the frames among which the quietest are the noise."""
NOISE_SHARE = 0.01
"""Share of all frames that is the noise: a rest of a second in more than a minute is enough."""
FEWEST_NOISE_FRAMES = 4
"""Frames that are the noise at least: 0.2 s."""
SHORTEST_FOR_NOISE_S = 0.5
"""Seconds under which the noise is not told."""
HOT_DBFS = -0.5
"""Peak from which a take has no room left."""
QUIET_DBFS = -30.0
"""Peak under which a take is too quiet (common practice, no source)."""
NOISY_DBFS = -60.0
"""Noise from which a take is noisy (common practice, no source)."""
NOISE_DISTANCE_DB = 40.0
"""Distance from peak to noise under which a take is noisy (common practice, no source)."""
LOWEST_FULL_RATE_HZ = 16000
"""Sample rate in hertz under which the noise of fingers and strings is lost."""
MAINS_HZ = (50, 60)
"""Mains frequencies whose hum is looked for, in hertz."""
HUM_SHARE = 0.5
"""Share of the power from 20 Hz to 1 kHz, in the quietest second, from which hum is suspected."""

Samples = NDArray[np.float64]


@dataclass(frozen=True)
class TakeReport:
    """What a take is like.

    Attributes
    ----------
    file
        The file, or the take's name when it comes from none.
    sample_rate
        In hertz.
    channels
        Channels in the file.
    seconds
        Length in seconds.
    peak_dbfs
        Peak in decibels below full scale; None when every sample is 0.
    peak_volts
        Peak in volts.
    noise_dbfs
        RMS of the quietest hundredth of all frames of 50 ms, 0.2 s at least, each without its mean, in decibels
        (0 dBFS is an RMS at full scale). None when the take is shorter than 0.5 s, silent, or gated to zeros.
        A take without a rest reads too high.
    clipped_samples
        Samples in flat tops and bottoms.
    dc_offset
        Mean, as a share of full scale, with its sign.
    lowest_pitch_hz, highest_pitch_hz
        Lowest and highest pitch of its notes; None when nothing is pitched.
    remarks
        What makes it less fit to use, and what to do, one sentence each.
    """

    file: str
    sample_rate: int
    channels: int
    seconds: float
    peak_dbfs: float | None
    peak_volts: float
    noise_dbfs: float | None
    clipped_samples: int
    dc_offset: float
    lowest_pitch_hz: float | None
    highest_pitch_hz: float | None
    remarks: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the report as plain data for JSON, in the order above."""
        data = {field.name: getattr(self, field.name) for field in fields(self)}
        return data | {"remarks": list(self.remarks)}


def report(take: Take | str | Path, *, full_scale_volts: float | None = None, channel: int | None = None) -> TakeReport:
    """Measure a take and say whether it is fit to use.

    Parameters
    ----------
    take
        A take, or the path of a sound file.
    full_scale_volts
        Volts that the file's full scale stands for; 1 V is assumed when not given. Only with a path.
    channel
        Which channel of the file, from 1. Only with a path.

    Returns
    -------
    TakeReport
        Figures and remarks.

    Raises
    ------
    AudioFileError
        When the file cannot be read, or it is not clear which channel is meant.
    AudioDataError
        When `full_scale_volts` is out of range, or it or `channel` is given with a take.
    """
    if not isinstance(take, Take):
        take = read_take(take, full_scale_volts=full_scale_volts, channel=channel)
    elif full_scale_volts is not None or channel is not None:
        raise AudioDataError("full_scale_volts and channel go with a path, got a take, which has its own")
    samples = take.samples / take.full_scale_volts
    offset = float(np.mean(samples))
    peak = float(np.max(np.abs(samples)))
    peak_dbfs = level_dbfs(peak)
    silent = peak_dbfs is None or peak_dbfs < SILENT_DBFS
    frames = _frames(samples, take.sample_rate)
    noise = 0.0 if silent else _noise(frames)
    pitches = None if silent else pitch_range(samples, take.sample_rate, noise=noise)
    clipped, _ = clipped_runs(take.samples, full_scale_volts=take.full_scale_volts)
    remarks = [*take.remarks, *_about_recording(take)]
    if peak_dbfs is not None and not silent:
        remarks += _about_level(peak_dbfs, level_dbfs(noise), clipped=clipped > 0)
        remarks += _about_hum(frames, peak, take.sample_rate)
        remarks += [] if pitches else ["no note found: nothing in it has a steady pitch from 28 Hz to 1 kHz"]
    return TakeReport(
        file=str(take.path or take.name),
        sample_rate=take.sample_rate,
        channels=take.channels,
        seconds=take.seconds,
        peak_dbfs=peak_dbfs,
        peak_volts=peak * take.full_scale_volts,
        noise_dbfs=level_dbfs(noise),
        clipped_samples=clipped,
        dc_offset=offset,
        lowest_pitch_hz=pitches[0] if pitches else None,
        highest_pitch_hz=pitches[1] if pitches else None,
        remarks=tuple(remarks),
    )


def _frames(samples: Samples, sample_rate: int) -> Samples:
    """Return rows of 50 ms without their mean, which is offset, not noise; the rest at the end is left out."""
    length = round(NOISE_FRAME_S * sample_rate)
    count = len(samples) // length
    frames = samples[: count * length].reshape(count, length)
    return np.asarray(frames - frames.mean(axis=1, keepdims=True))


def _noise(frames: Samples) -> float:
    """Return the RMS of the quietest tenth of the frames, 0 when there are too few."""
    if len(frames) < round(SHORTEST_FOR_NOISE_S / NOISE_FRAME_S):
        return 0.0
    power = np.sort(np.mean(frames**2, axis=1))
    return float(np.sqrt(np.mean(power[: max(FEWEST_NOISE_FRAMES, round(NOISE_SHARE * len(power)))])))


def _about_recording(take: Take) -> list[str]:
    """Return remarks about how the take was recorded."""
    remarks = []
    if take.full_scale_assumed:
        remarks.append(
            f"full scale is assumed to be {take.full_scale_volts:g} V; say what it really is with --full-scale"
        )
    if take.sample_rate < LOWEST_FULL_RATE_HZ:
        remarks.append(
            f"low sample rate: {take.sample_rate} Hz keeps nothing of string noise above {take.sample_rate // 2} Hz"
        )
    return remarks


def _about_level(peak_dbfs: float, noise_dbfs: float | None, *, clipped: bool) -> list[str]:
    """Return remarks about level and noise."""
    remarks = []
    if HOT_DBFS < peak_dbfs <= 0.0 and not clipped:
        remarks.append(f"hot: the peak is {peak_dbfs:.1f} dBFS; record it a few decibels lower")
    if peak_dbfs < QUIET_DBFS:
        remarks.append(f"too quiet: the peak is {peak_dbfs:.1f} dBFS; record it at -12 dBFS or so")
    if noise_dbfs is None:
        return remarks
    distance_db = peak_dbfs - noise_dbfs
    if noise_dbfs > NOISY_DBFS or distance_db < NOISE_DISTANCE_DB:
        remarks.append(
            f"noisy, or without a rest: its quietest moments are at {noise_dbfs:.1f} dBFS, {distance_db:.0f} dB "
            "under the peak; begin with a second of silence"
        )
    return remarks


def _about_hum(frames: Samples, peak: float, sample_rate: int) -> list[str]:
    """Return the remark about mains hum, where a quiet second is steady and mostly made of it."""
    count = round(1.0 / NOISE_FRAME_S)
    if len(frames) < count:
        return []
    power = np.mean(frames**2, axis=1)
    sums = np.convolve(power, np.ones(count), "valid")
    start = int(np.argmin(sums))
    halves = power[start : start + count].reshape(2, -1).sum(axis=1)
    quiet = np.sqrt(sums[start] / count) < peak * 10 ** (-NOISE_DISTANCE_DB / 20)
    if not quiet or min(halves) <= 0.7 * max(halves):
        return []
    second = frames[start : start + count].ravel()
    spectrum = np.abs(np.fft.rfft(second * np.hanning(len(second)))) ** 2
    band = spectrum[20:1000].sum()
    for mains_hz in MAINS_HZ:
        lines = [bin_ + side for bin_ in range(mains_hz, 500, mains_hz) for side in (-1, 0, 1)]
        if spectrum[lines].sum() > HUM_SHARE * band:
            return [f"hum: its rests are mostly {mains_hz} Hz and multiples; look for a ground loop or a better cable"]
    return []
