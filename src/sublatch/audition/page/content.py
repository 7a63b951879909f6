"""What the page shows beside the sound: the filters' responses, where lock is lost, two periods of a note close up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sublatch.arrays import Signal
from sublatch.audition.folder.layout import Layout
from sublatch.audition.listen.results import CandidateResult, TakeResult
from sublatch.audition.page.curves import response_curves, spectrum_curves, standing_curves
from sublatch.audition.page.lanes import note_lane, time_axis, wave_lane
from sublatch.audition.page.lock_strips import counts_in_words, lock_strip
from sublatch.audition.page.move_lanes import move_lane
from sublatch.audition.page.pictures import close_up_picture, response_picture
from sublatch.audition.plan.records import Audition
from sublatch.circuit.response import response
from sublatch.files.sound import read_audio
from sublatch.pictures.responses import Curve
from sublatch.signal.chain import detected_drive
from sublatch.signal.moves import Move
from sublatch.takes.take import take_from_samples

SHOWN_HZ = np.geomspace(20.0, 20e3, 181)
STEADY_CYCLES = 3
"""Half-cycles of the drive whose lengths are compared to find a steady stretch."""
LEAST_PERIOD_S, MOST_PERIOD_S = 1 / 600, 1 / 10
"""Drive periods that can belong to a note."""


@dataclass(frozen=True)
class LockStrip:
    """Where lock is lost by candidates that all track alike.

    Attributes
    ----------
    names
        Theirs.
    locked_share, open_string_locked_share
        Theirs, 0 to 1, None without notes or open strings.
    counted
        Their dropouts in words.
    svg
        The strip.
    """

    names: tuple[str, ...]
    locked_share: float | None
    open_string_locked_share: float | None
    counted: str
    svg: str


@dataclass(frozen=True)
class MoveLane:
    """What is moved while a take plays, as an SVG element, and the names of the candidates in which it is."""

    names: tuple[str, ...]
    svg: str


@dataclass(frozen=True)
class LockFigure:
    """A take's wave, its notes and its seconds as SVG elements, the strips between them, and moves over the wave."""

    wave: str
    notes: str
    axis: str
    strips: tuple[LockStrip, ...]
    moves: tuple[MoveLane, ...] = ()


def lock_figure(take: TakeResult, layout: Layout) -> LockFigure:
    """Return where each candidate loses lock, under the wave of the whole take."""
    samples = read_audio(layout.folder / take.candidates[0].file).samples[:, 0]
    alike: dict[object, list[CandidateResult]] = {}
    for candidate in take.candidates[1:] if take.notes else ():
        alike.setdefault((candidate.dropouts, candidate.note_locked_shares), []).append(candidate)
    return LockFigure(
        wave=wave_lane(samples, name=take.name, seconds=take.seconds),
        notes=note_lane(take.notes, seconds=take.seconds),
        axis=time_axis(take.seconds),
        strips=tuple(_strip(take, group) for group in alike.values()),
        moves=move_lanes(take),
    )


def move_lanes(take: TakeResult) -> tuple[MoveLane, ...]:
    """Return what is moved, a lane for all candidates of a take that are moved alike."""
    alike: dict[tuple[Move, ...], list[str]] = {}
    for candidate in take.candidates:
        if candidate.moves:
            alike.setdefault(candidate.moves, []).append(candidate.name)
    return tuple(MoveLane(tuple(names), move_lane(moves, seconds=take.seconds)) for moves, names in alike.items())


def _strip(take: TakeResult, candidates: Sequence[CandidateResult]) -> LockStrip:
    """Return the strip of candidates that track alike."""
    names = tuple(candidate.name for candidate in candidates)
    first = candidates[0]
    return LockStrip(
        names=names,
        locked_share=first.locked_share,
        open_string_locked_share=first.open_string_locked_share,
        counted=counts_in_words(first.dropouts),
        svg=lock_strip(take.notes, first.dropouts, seconds=take.seconds, names=names),
    )


def responses(plan: Audition) -> str:
    """Return a picture of every candidate's output filter."""
    return response_picture(_responses(plan))


def filter_curves(plan: Audition) -> str:
    """Return the responses of the output filters, for the page to bring out those that are heard."""
    names = [candidate.name for candidate in plan.candidates]
    gains_db = [curve.response.gain_db[::2] for curve in _responses(plan)]  # enough for a small picture
    return response_curves(names, frequency_hz=SHOWN_HZ[::2], gains_db=gains_db)


def spectrum(take: TakeResult, layout: Layout) -> str:
    """Return the long-term spectra of a take's candidates, likewise: as heard with the bed, else of the files."""
    standings = [candidate.standing for candidate in take.candidates if candidate.standing]
    if standings:
        return standing_curves([candidate.name for candidate in take.candidates], standings)
    sounds = (read_audio(layout.folder / candidate.file).samples[:, 0] for candidate in take.candidates)
    return spectrum_curves([candidate.name for candidate in take.candidates], sounds, sample_rate=take.sample_rate)


def _responses(plan: Audition) -> list[Curve]:
    """Return the response of each candidate's output filter."""
    return [Curve(c.name, response(c.circuit, frequency_hz=SHOWN_HZ)) for c in plan.candidates]


def close_up(take: TakeResult, plan: Audition, layout: Layout) -> str:
    """Return a picture of two periods of a loud, steady note, through every candidate."""
    bypassed = read_audio(layout.folder / take.candidates[0].file).samples[:, 0]
    heard = take_from_samples(bypassed, take.sample_rate, full_scale_volts=1.0)
    drive = detected_drive(heard, plan.candidates[0].circuit)
    start, stop = steady_stretch(bypassed, drive, sample_rate=take.sample_rate)
    time_ms = 1000.0 * np.arange(stop - start) / take.sample_rate
    waves = [(c.name, read_audio(layout.folder / c.file).samples[start:stop, 0].copy()) for c in take.candidates]
    return close_up_picture(time_ms, waves)


def steady_stretch(samples: Signal, drive: Signal, *, sample_rate: int) -> tuple[int, int]:
    """Return the first and the last sample of two note periods, where the drive is steady and the take loud.

    Parameters
    ----------
    samples
        The take (n,).
    drive
        Times in seconds (m,) at which the drive changes: one note period apart where it locks.
    sample_rate
        Samples per second.
    """
    most_power, loudest = -1.0, None
    half_cycles_s = np.diff(drive)
    for k in range(len(half_cycles_s) - STEADY_CYCLES + 1):
        half_cycles = half_cycles_s[k : k + STEADY_CYCLES]
        period = drive[k + 2] - drive[k]
        if np.ptp(half_cycles) > 0.05 * half_cycles.mean() or not LEAST_PERIOD_S < period < MOST_PERIOD_S:
            continue
        first, last = (max(round(t * sample_rate), 0) for t in (drive[k], drive[k + 2]))
        power = float(np.mean(samples[first:last] ** 2)) if last > first else 0.0
        if power > most_power:
            most_power, loudest = power, (first, last)
    return loudest or _around_the_peak(samples, sample_rate)


def _around_the_peak(samples: Signal, sample_rate: int) -> tuple[int, int]:
    """Return 50 ms from the largest sample on, for a take without a steady note."""
    length = min(len(samples), round(0.05 * sample_rate))
    first = min(int(np.argmax(np.abs(samples))), len(samples) - length)
    return first, first + max(length, 1)
