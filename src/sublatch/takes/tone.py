"""A steady tone in a recording, measured so that a meter's reading tells how many volts full scale stands for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from sublatch.arrays import Signal
from sublatch.errors import AudioDataError
from sublatch.takes.quiet_moments import MAINS_HZ, MAINS_WITHIN
from sublatch.takes.remarks import Remark
from sublatch.takes.take import HIGHEST_FULL_SCALE_VOLTS, Take, clipped_runs, level_dbfs

FRAME_S = 0.2
"""Length in seconds of the frames whose amplitudes are compared."""
SHORTEST_S = 1.0
"""Seconds of steady tone that are needed."""
STEADY_SHARE = 0.03
"""How far the tone's amplitude may be from where it mostly is, as a share of it."""
DRIFT_DB = 0.1
"""Drift over the steady part from which it is remarked upon: 1 %, which is what a plain meter is good for."""
IMPURE_SHARE = 0.05
"""RMS of all but the tone, against the tone's, from which a plain meter, made for a sine, may read 2 % wrong."""
NO_SINE_SHARE = 0.3
"""The same share from which it is no sine: a triangle has 0.12, a square wave 0.48 (from their Fourier series)."""
METER_HZ = (40.0, 1000.0)
"""Frequencies between which plain meters are right (common practice, no source)."""
FAINT_DBFS = -40.0
"""Peak of a tone under which it is faint."""

MOST_LOOKS = 200
"""Frames whose spectra are looked at for the tone, spread over the recording."""

_SOUGHT_HZ = (20.0, 5000.0)


@dataclass(frozen=True)
class Tone:
    """A steady sine in a recording.

    Attributes
    ----------
    hz
        Its frequency in hertz.
    peak
        Its amplitude, 1 at full scale, over the steady part.
    start_s, end_s
        Where it is steady, in seconds.
    impurity
        RMS of all else there, DC left out, against its own.
    remarks
        What may make a meter's reading wrong.
    """

    hz: float
    peak: float
    start_s: float
    end_s: float
    impurity: float
    remarks: tuple[Remark, ...]


def measure_tone(take: Take) -> Tone:
    """Return the steady tone of a recording.

    Parameters
    ----------
    take
        A recording of a sine, at least a second of it at one level.

    Returns
    -------
    Tone
        Its frequency and amplitude, with remarks where a meter may have read something else.

    Raises
    ------
    AudioDataError
        When it is clipped, mains hum, no sine, or not steady for a second.

    Notes
    -----
    Sine and offset are fitted by least squares, weighted with a Hann window, to frames of 0.2 s; that is the
    three-parameter fit of IEEE 1057 (from memory). The weights keep hum and noise out, wherever their frequencies lie.
    The amplitude is the mean over the longest run of frames within 3 % of where the amplitude mostly is.
    """
    name = take.path or take.name
    samples = take.samples / take.full_scale_volts
    if clipped_runs(take.samples, full_scale_volts=take.full_scale_volts)[0]:
        raise AudioDataError(f"{name}: the tone must not be clipped; turn it down and record it again")
    length = round(FRAME_S * take.sample_rate)
    if len(samples) < round(SHORTEST_S * take.sample_rate) or not np.any(samples):
        what = f"{take.seconds:.2g} s" if np.any(samples) else "silence"
        raise AudioDataError(f"{name}: must hold a second of steady tone, got {what}; record some seconds of it")
    frames = sliding_window_view(samples, length)[:: length // 2]
    hz = _frequency(frames, take.sample_rate)
    if any(abs(hz / mains_hz - 1.0) < MAINS_WITHIN for mains_hz in MAINS_HZ):
        raise AudioDataError(f"{name}: must hold a tone, got mains hum at {hz:.1f} Hz; use a tone of about 200 Hz")
    amplitudes, rests = _fitted(frames, hz / take.sample_rate)
    steady = _steady(amplitudes)
    start_s, end_s = steady.start * FRAME_S / 2, (steady.stop + 1) * FRAME_S / 2
    peak = float(np.mean(amplitudes[steady]))
    impurity = float(np.sqrt(2.0 * np.mean(rests[steady]))) / peak if peak else np.inf
    if impurity > NO_SINE_SHARE:
        raise AudioDataError(
            f"{name}: must hold a sine, got {100 * min(impurity, 9.99):.0f} % of harmonics, noise or hum beside "
            f"{hz:.1f} Hz; is it the tone that the meter read?"
        )
    if end_s - start_s < SHORTEST_S - 1e-9:
        raise AudioDataError(
            f"{name}: must hold a second of tone at one level, got {max(end_s - start_s, 0.0):.1f} s; leave its volume "
            "alone while it is recorded"
        )
    remarks = _about_level(amplitudes, steady) + _about_meter(hz, peak, impurity)
    return Tone(hz, peak, start_s, end_s, impurity, tuple(remarks))


def full_scale_of(tone: Tone, *, meter_volts: float) -> float:
    """Return the volts that full scale stands for.

    Parameters
    ----------
    tone
        The recorded tone.
    meter_volts
        What a meter read of it, RMS, above 0.

    Raises
    ------
    AudioDataError
        When `meter_volts` is not above 0, or full scale comes to more than 100 V.

    Notes
    -----
    A sine of RMS U peaks at √2 U, and that is `tone.peak` of full scale.
    """
    if not 0.0 < meter_volts < np.inf:
        raise AudioDataError(f"meter_volts must be above 0 V, got {meter_volts} V")
    volts = meter_volts * np.sqrt(2.0) / tone.peak
    if volts > HIGHEST_FULL_SCALE_VOLTS:
        raise AudioDataError(
            f"full scale must be at most {HIGHEST_FULL_SCALE_VOLTS:g} V, got {volts:.4g} V from {meter_volts:g} V RMS "
            f"and a tone at {level_dbfs(tone.peak):.1f} dBFS; was the reading in millivolts, or the input's gain down?"
        )
    return float(volts)


def _frequency(frames: Signal, sample_rate: int) -> float:
    """Return the frequency of the strongest line in most of the louder frames, in hertz."""
    length = frames.shape[1]
    power = np.array([np.var(frame) for frame in frames])
    loud_frames = np.flatnonzero(power >= 0.1 * np.quantile(power, 0.9))
    looked_at = frames[loud_frames[np.linspace(0, len(loud_frames) - 1, min(len(loud_frames), MOST_LOOKS)).astype(int)]]
    spectra = np.abs(np.fft.rfft(looked_at * np.hanning(length), axis=1))
    hz = np.fft.rfftfreq(length, 1.0 / sample_rate)
    middle = np.median(spectra, axis=0) * ((hz >= _SOUGHT_HZ[0]) & (hz <= _SOUGHT_HZ[1]))
    line_hz = float(hz[np.argmax(middle)])
    turns = np.exp(-2j * np.pi * line_hz * np.arange(length) / sample_rate) * np.hanning(length)
    phasors = np.array([frame @ turns for frame in frames])
    hop_s = (length // 2) / sample_rate
    steps = phasors[1:] * np.conj(phasors[:-1]) * np.exp(-2j * np.pi * line_hz * hop_s)
    return line_hz + float(np.angle(np.sum(steps)) / (2.0 * np.pi * hop_s))


def _fitted(frames: Signal, cycles: float) -> tuple[Signal, Signal]:
    """Return for each frame the amplitude of a sine of so many cycles a sample, and the mean square of the rest."""
    length = frames.shape[1]
    weight = np.hanning(length)
    angle = 2.0 * np.pi * cycles * np.arange(length)
    basis = np.column_stack([np.cos(angle), np.sin(angle), np.ones(length)])
    root = np.sqrt(weight)[:, None]
    solved = np.linalg.pinv(root * basis) * root.T
    amplitudes, rests = np.zeros(len(frames)), np.zeros(len(frames))
    for number, frame in enumerate(frames):  # one at a time, so that a long recording takes no more memory
        fit = solved @ frame
        amplitudes[number] = np.hypot(fit[0], fit[1])
        rests[number] = (frame - basis @ fit) ** 2 @ weight / np.sum(weight)
    return amplitudes, rests


def _steady(amplitudes: Signal) -> slice:
    """Return the longest run of frames whose amplitudes are where most are.

    At either end of it, unless that is the recording's, one frame is left out: the tone may begin or end within.
    """
    ordered = np.sort(amplitudes)
    upper_ends = np.searchsorted(ordered, ordered * (1.0 + STEADY_SHARE) / (1.0 - STEADY_SHARE), "right")
    lowest = int(np.argmax((upper_ends - np.arange(len(ordered))) * (ordered > 0.1 * ordered[-1])))
    at_level = (amplitudes >= ordered[lowest]) & (amplitudes <= ordered[upper_ends[lowest] - 1])
    bounds = np.flatnonzero(np.diff(at_level, prepend=False, append=False))
    starts, stops = bounds[::2], bounds[1::2]
    longest = int(np.argmax(stops - starts))
    start, stop = int(starts[longest]), int(stops[longest])
    if stop - start > 2:
        start, stop = start + (start > 0), stop - (stop < len(at_level))
    return slice(start, stop)


def _about_level(amplitudes: Signal, run: slice) -> list[Remark]:
    """Return remarks about a level that drifts or changes."""
    steady_amplitudes = amplitudes[run]
    drift_db = float(20.0 * np.log10(np.max(steady_amplitudes) / np.min(steady_amplitudes)))
    other_amplitudes = np.delete(amplitudes, run)
    elsewhere_s = np.count_nonzero(other_amplitudes > np.mean(steady_amplitudes) / 2.0) * FRAME_S / 2.0
    remarks = []
    if drift_db > DRIFT_DB:
        text = f"its level drifts by {drift_db:.2f} dB; let the tone settle, and read the meter while it is recorded"
        remarks.append(Remark("tone-drifts", text))
    if elsewhere_s > SHORTEST_S / 2.0:
        start_s, end_s = run.start * FRAME_S / 2.0, (run.stop + 1) * FRAME_S / 2.0
        text = f"it changes its level; the reading must be that from {start_s:.1f} to {end_s:.1f} s"
        remarks.append(Remark("tone-changes", text))
    return remarks


def _about_meter(hz: float, peak: float, impurity: float) -> list[Remark]:
    """Return remarks about what a meter may read wrong."""
    remarks = []
    if impurity > IMPURE_SHARE:
        text = (
            f"it is no pure sine: {100 * impurity:.0f} % of it is harmonics, noise or hum, which many meters read wrong"
        )
        remarks.append(Remark("tone-impure", text))
    if not METER_HZ[0] <= hz <= METER_HZ[1]:
        text = f"many meters are wrong at {hz:.0f} Hz; use a tone of about 200 Hz"
        remarks.append(Remark("tone-pitch", text))
    if (peak_dbfs := level_dbfs(peak)) is not None and peak_dbfs < FAINT_DBFS:
        text = f"it is faint, {peak_dbfs:.1f} dBFS; turn it up, and look whether the right input was recorded"
        remarks.append(Remark("tone-faint", text))
    return remarks
