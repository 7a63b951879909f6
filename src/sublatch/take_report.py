"""Is this take fit to use? Level, noise, clipping and pitch range, with remarks in plain words."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from pathlib import Path
from typing import Any

import numpy as np

from sublatch.arrays import Signal
from sublatch.errors import AudioDataError
from sublatch.pitch.range import pitch_range
from sublatch.takes.quiet_moments import Rest, quietest_moments
from sublatch.takes.remarks import Remark, fit_to_use
from sublatch.takes.take import SILENT_DBFS, Take, clipped_runs, level_dbfs, read_take

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
LOWEST_LOWS_HZ = 20.0
"""Frequency in hertz from which something counts as sound."""
LOWS_HZ = 250.0
"""Frequency in hertz below which a take must have something."""
LOW_NOTES_HZ = 150.0
"""The same where there are notes below it: a gentle high-pass at 250 Hz leaves a little of what is just under that."""
LOWS_DB = -15.0
"""Level of the lows against the whole below which there are none: slapped notes on a G string have -13 dB under 150 Hz,
plucked ones more than -10 dB; a microphone that falls by 24 dB per octave below 250 Hz leaves -17 dB of a bass line."""
LOWS_FRAME_S = 0.2
"""Length in seconds of the frames of which the loudest tell that."""

NO_NOTE = Remark("no-note", "no note found: nothing in it has a steady pitch from 28 Hz to 1 kHz")


@dataclass(frozen=True)
class SecondOpinion:
    """Lowest and highest pitch in hertz as another tracker has them; None when it finds nothing pitched."""

    lowest_pitch_hz: float | None
    highest_pitch_hz: float | None


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
        Signal in flat tops and bottoms.
    dc_offset
        Mean, as a share of full scale, with its sign.
    lowest_pitch_hz, highest_pitch_hz
        Lowest and highest pitch of its notes; None when nothing is pitched.
    remarks
        What is worth knowing of it, and what to do.
    second_opinion
        Lowest and highest pitch as librosa's YIN has them, where that was asked for.
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
    remarks: tuple[Remark, ...]
    second_opinion: SecondOpinion | None = None

    @property
    def fit(self) -> bool:
        """Whether it is fit to use."""
        return fit_to_use(self.remarks)

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells: the fields, a second opinion only where one was asked, and whether it is fit."""
        told = {**vars(self), "fit": self.fit}
        if self.second_opinion is None:
            del told["second_opinion"]
        return told


def report(
    take: Take | str | Path,
    *,
    full_scale_volts: float | None = None,
    channel: int | None = None,
    second_opinion: bool = False,
) -> TakeReport:
    """Measure a take and say whether it is fit to use.

    Parameters
    ----------
    take
        A take, or the path of a sound file.
    full_scale_volts
        Volts that the file's full scale stands for; 1 V is assumed when not given. Only with a path.
    channel
        Which channel of the file, from 1. Only with a path.
    second_opinion
        Whether to let the library librosa find the pitches as well, which takes seconds on its first use.

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
    noise = 0.0 if silent else _noise(_frames(samples, take.sample_rate))
    rest = None if silent else quietest_moments(samples, take.sample_rate)
    pitches = None if silent else _pitches(take, samples, noise=noise, rest=rest)
    clipped, _ = clipped_runs(take.samples, full_scale_volts=take.full_scale_volts)
    remarks = [*take.remarks, *_about_recording(take)]
    if peak_dbfs is not None and not silent:
        remarks += _about_level(peak_dbfs, clipped=clipped > 0)
        remarks += _about_rest(rest, peak_dbfs, level_dbfs(noise), volts=take.full_scale_volts)
        remarks += _about_lows(samples, take.sample_rate, lowest_hz=pitches[0] if pitches else None)
        remarks += [] if pitches else [NO_NOTE]
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
        second_opinion=_second_opinion(samples, take.sample_rate, noise=noise, rest=rest) if second_opinion else None,
    )


def _pitches(take: Take, samples: Signal, *, noise: float, rest: Rest | None) -> tuple[float, float] | None:
    """Return the lowest and the highest pitch; under hum the notes are not all found, and librosa finds them."""
    if rest is None or not rest.mains_hz:
        return pitch_range(take)
    from sublatch.pitch.second_opinion import yin_range

    return yin_range(samples, take.sample_rate, noise=noise, is_hum=True)


def _second_opinion(samples: Signal, sample_rate: int, *, noise: float, rest: Rest | None) -> SecondOpinion:
    """Return the pitches that librosa finds."""
    from sublatch.pitch.second_opinion import yin_range

    found = yin_range(samples, sample_rate, noise=noise, is_hum=rest is not None and rest.mains_hz > 0)
    return SecondOpinion(*found) if found else SecondOpinion(None, None)


def _frames(samples: Signal, sample_rate: int) -> Signal:
    """Return rows of 50 ms without their mean, which is offset, not noise; the rest at the end is left out."""
    length = round(NOISE_FRAME_S * sample_rate)
    count = len(samples) // length
    frames = samples[: count * length].reshape(count, length)
    return np.asarray(frames - frames.mean(axis=1, keepdims=True))


def _noise(frames: Signal) -> float:
    """Return the RMS of the quietest tenth of the frames, 0 when there are too few."""
    if len(frames) < round(SHORTEST_FOR_NOISE_S / NOISE_FRAME_S):
        return 0.0
    power = np.sort(np.mean(frames**2, axis=1))
    return float(np.sqrt(np.mean(power[: max(FEWEST_NOISE_FRAMES, round(NOISE_SHARE * len(power)))])))


def _about_recording(take: Take) -> list[Remark]:
    """Return remarks about how the take was recorded."""
    remarks = []
    if take.full_scale_assumed:
        assumed = f"full scale is assumed to be {take.full_scale_volts:g} V"
        text = f"{assumed}; say what it really is with --full-scale or --calibration"
        remarks.append(Remark("full-scale-assumed", text))
    if take.sample_rate < LOWEST_FULL_RATE_HZ:
        text = f"low sample rate: {take.sample_rate} Hz keeps nothing of string noise above {take.sample_rate // 2} Hz"
        remarks.append(Remark("low-sample-rate", text))
    return remarks


def _about_level(peak_dbfs: float, *, clipped: bool) -> list[Remark]:
    """Return the remark about the take's level, if there is one."""
    if HOT_DBFS < peak_dbfs <= 0.0 and not clipped:
        return [Remark("hot", f"hot: the peak is {peak_dbfs:.1f} dBFS; record it a few decibels lower")]
    if peak_dbfs < QUIET_DBFS:
        return [Remark("too-quiet", f"too quiet: the peak is {peak_dbfs:.1f} dBFS; record it at -12 dBFS or so")]
    return []


def _about_rest(rest: Rest | None, peak_dbfs: float, noise_dbfs: float | None, *, volts: float) -> list[Remark]:
    """Return the remark about what is left when nothing is played."""
    if rest is not None and rest.mains_hz:
        hum_dbfs = level_dbfs(rest.hum_rms)
        text = (
            f"hum: its rests are mostly {rest.mains_hz} Hz and multiples, {hum_dbfs:.1f} dBFS or "
            f"{1000.0 * rest.hum_rms * volts:.3g} mV RMS; look for a ground loop, a mains adapter or a better cable, "
            "or turn the instrument; the built-in circuits divide hum from "
            f"{1000.0 * _built_in_floor_v(rest.mains_hz) / sqrt(2.0):.2g} mV RMS on"
        )
        return [Remark("hum" if _is_loud(hum_dbfs, peak_dbfs) else "slight-hum", text)]
    if not _is_loud(noise_dbfs, peak_dbfs):
        return []
    where = f"its quietest moments are at {noise_dbfs:.1f} dBFS"
    if rest is not None and not rest.is_noise:
        text = f"without a rest: {where} and still sound; begin with a second of silence, which tells of noise and hum"
        return [Remark("no-rest", text)]
    text = (
        f"noisy, or without a rest: {where}, {peak_dbfs - (noise_dbfs or 0.0):.0f} dB under the peak; "
        "begin with a second of silence"
    )
    return [Remark("noisy", text)]


def _built_in_floor_v(hertz: int) -> float:
    """Return the peak in volts from which on the built-in circuits' detector, which is one, divides a sine."""
    from sublatch.circuit.load import circuit_names, load_circuit
    from sublatch.signal.front.sine import input_floor_v

    return input_floor_v(load_circuit(circuit_names()[0]), frequency_hz=float(hertz))


def _is_loud(noise_dbfs: float | None, peak_dbfs: float) -> bool:
    """Return whether noise or hum is too loud."""
    return noise_dbfs is not None and (noise_dbfs > NOISY_DBFS or peak_dbfs - noise_dbfs < NOISE_DISTANCE_DB)


def _about_lows(samples: Signal, sample_rate: int, *, lowest_hz: float | None) -> list[Remark]:
    """Return the remark that next to nothing is low, with the likely cause."""
    has_low_notes = lowest_hz is not None and lowest_hz < LOW_NOTES_HZ
    below_hz = LOW_NOTES_HZ if has_low_notes else LOWS_HZ
    against_db = _lows_db(samples, sample_rate, below_hz=below_hz)
    if against_db is None or against_db > LOWS_DB:
        return []
    cause = "the microphone of a laptop or a phone, or a high-pass (low cut) switch, took them away"
    if has_low_notes:
        cause = f"its notes reach down to {lowest_hz:.1f} Hz, but {cause}"
    elif lowest_hz is not None:
        cause = f"its lowest note is at {lowest_hz:.0f} Hz: a guitar's upper strings were played, or {cause}"
    text = (
        f"no lows: what lies below {below_hz:g} Hz is {-against_db:.0f} dB weaker than the whole; {cause}; record low "
        "notes, plain, through a DI box or an instrument input"
    )
    return [Remark("no-lows", text)]


def _lows_db(samples: Signal, sample_rate: int, *, below_hz: float) -> float | None:
    """Return the level of the lows in the frames where it is highest against that of the whole likewise.

    What of them is there in every frame, hum or noise, does not count. None where the take is shorter than a frame.
    """
    length = round(LOWS_FRAME_S * sample_rate)
    frames = samples[: len(samples) // length * length].reshape(-1, length)
    if not len(frames):
        return None
    hz = np.fft.rfftfreq(length, 1.0 / sample_rate)
    audible = hz >= LOWEST_LOWS_HZ
    low = audible & (hz <= below_hz)
    lows, wholes = [], []
    for frame in frames:  # one at a time, so that a long take takes no more memory
        power = np.abs(np.fft.rfft(frame * np.hanning(length))) ** 2
        lows.append(float(np.sum(power[low])))
        wholes.append(float(np.sum(power[audible])))
    above = max(lows) - (min(lows) if len(lows) > 1 else 0.0)
    return float(10.0 * np.log10(max(above, 1e-30) / max(*wholes, 1e-30)))
