"""Lock of many circuits on the same few notes, fast: spectra kept, low rates, and only what a change touches done anew.

Nothing that tells the comparator the pitch of a bass note lies high, so its input is worked out at `LATCH_RATE`, and
what is rectified at `BAND_RATE`. What is chosen here is measured again with the whole signal path.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import TypeVar

import numpy as np

from sublatch.arrays import Flags, Signal, SingleComplex
from sublatch.circuit.detectors.bends import Bend, FullWave
from sublatch.circuit.detectors.front import Front
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import Network, transfer
from sublatch.circuit.signal_path import front_network, input_network
from sublatch.sampling.rates import resampled
from sublatch.signal.detector import bent_values, comparator_input, edges
from sublatch.takes.take import Take
from sublatch.tracking.lock import GRID_PER_CYCLE, TOLERANCE_CENTS, cents_of, rates

T = TypeVar("T")

LATCH_RATE, BAND_RATE = 3200, 8000
"""Samples per second of what the comparator sees, and of what is rectified."""
BEFORE_S, AFTER_S = 0.5, 0.35
"""What is heard before a note, since peak stores remember it, and silence after it in which the filters run out."""
FADE_S = 0.02
"""How long what is heard before a note takes to rise."""
STEP_S = 0.5
"""Notes are filled up to whole numbers of this, so that they share their filters' responses."""
KEPT = 12
"""Results of each sort that are kept."""


@dataclass(frozen=True, eq=False)
class TuneNote:
    """One note to tune a circuit on.

    Attributes
    ----------
    take
        The take that it is in.
    start_s, end_s
        From where to where it counts, in seconds of the take.
    pitch_hz
        Its pitch.
    open_string
        Whether it is an open string.
    """

    take: Take
    start_s: float
    end_s: float
    pitch_hz: float
    open_string: bool = False


@dataclass(frozen=True, eq=False)
class _Excerpt:
    """A note's spectrum at `BAND_RATE`, where the note lies in it, and the places at which lock is told, in cycles."""

    spectrum: SingleComplex
    size: int
    start_s: float
    length_s: float
    pitch_hz: float
    grid: Signal


class Listener:
    """The detector's part of circuits, heard on a fixed set of notes."""

    def __init__(self, notes: Sequence[TuneNote]) -> None:
        self._excerpts = [_excerpt(note) for note in notes]
        ends = np.cumsum([_low_size(note.size) for note in self._excerpts])
        self._starts_s = np.concatenate(([0], ends[:-1])) / LATCH_RATE
        self._fast: _Recent[Mapping[str, list[SingleComplex]]] = _Recent()
        self._responses: _Recent[_Responses] = _Recent()
        self._filtered: _Recent[Signal] = _Recent()
        self._fed: _Recent[list[Signal]] = _Recent()

    def locked_shares(self, circuit: Circuit, *, level: float = 1.0) -> Signal:
        """Return the share of each note's time with lock (n,), every note played `level` times as loud."""
        pairs = zip(self._excerpts, self._drives(circuit, level), strict=True)
        return np.array([float(np.mean(_locked(note, drive))) for note, drive in pairs])

    def locked_and_step_shares(self, circuit: Circuit, *, level: float = 1.0) -> tuple[Signal, Signal]:
        """Return the locked shares and each note's mean step at its edges in lock (n,), NaN where there are none."""
        fed = self._fed.get(circuit.input, lambda: self._feed(circuit))
        locks, steps = [], []
        for note, wave, drive in zip(self._excerpts, fed, self._drives(circuit, level), strict=True):
            locked = _locked(note, drive)
            edges_in_lock = drive[locked[np.minimum((drive * GRID_PER_CYCLE).astype(np.intp), len(locked) - 1)]]
            places = (note.start_s + edges_in_lock / note.pitch_hz) * BAND_RATE
            sizes = np.abs(np.interp(places, np.arange(len(wave)), wave))
            locks.append(float(np.mean(locked)))
            steps.append(float(np.mean(sizes)) if len(sizes) else np.nan)
        return np.array(locks), np.array(steps)

    def _drives(self, circuit: Circuit, level: float) -> list[Signal]:
        """Return when the first flip-flop changes in each note, in cycles since its start."""
        key = (circuit.input, circuit.detector.front, circuit.limits, level)
        filtered = self._filtered.get(key, lambda: np.concatenate(self._front(circuit, level)).astype(np.float64))
        heard = comparator_input(filtered, sample_rate=LATCH_RATE, circuit=circuit)
        drive = edges(heard, sample_rate=LATCH_RATE, circuit=circuit)[::2]
        pairs = zip(self._excerpts, self._starts_s, strict=True)
        return [_within(note, drive, start_s) for note, start_s in pairs]

    def _feed(self, circuit: Circuit) -> list[Signal]:
        """Return what the octave stage is fed in each note, as a share of its peak in the cycle around."""
        from scipy.ndimage import maximum_filter1d

        network = input_network(circuit)
        response = _Responses(network, network.inputs[0], rate=BAND_RATE)
        waves = []
        for note in self._excerpts:
            wave = np.fft.irfft(note.spectrum * response.at(note.size), note.size).astype(np.float64)
            peak = maximum_filter1d(np.abs(wave), 2 * round(BAND_RATE / note.pitch_hz / 2) + 1)
            waves.append(np.divide(wave, peak, out=np.zeros_like(wave), where=peak > 0.0))
        return waves

    def _front(self, circuit: Circuit, level: float) -> list[Signal]:
        """Return what the detector's front gives in each note."""
        ahead, played = circuit.detector.front, 1.0 if _homogeneous(circuit.detector.front) else level
        fast = fast_bends(ahead)
        low = dict(self._bent_fast(circuit, ahead.bends[:fast], played))
        low["in"] = [np.float32(played) * _low_bins(note.spectrum, note.size) for note in self._excerpts]
        for bend in ahead.bends[fast:]:
            waves = self._waves(circuit, bend.input, low, LATCH_RATE)
            low[bend.output] = [_spectrum(bent_values(wave, bend=bend, limits=circuit.limits)) for wave in waves]
        waves = [wave + ahead.idle_v for wave in self._waves(circuit, ahead.output, low, LATCH_RATE)]
        return waves if played == level else [np.float32(level) * wave for wave in waves]

    def _bent_fast(self, circuit: Circuit, bends: Sequence[Bend], level: float) -> Mapping[str, list[SingleComplex]]:
        """Return the spectra behind what is bent at `BAND_RATE`, to half of `LATCH_RATE`, by net."""
        names = ["in", *(bend.output for bend in bends)]
        networks = [
            front_network(circuit, output=bend.input, sources=names[: place + 1]) for place, bend in enumerate(bends)
        ]

        def compute() -> Mapping[str, list[SingleComplex]]:
            known = {"in": [np.float32(level) * note.spectrum for note in self._excerpts]}
            for bend in bends:
                waves = self._waves(circuit, bend.input, known, BAND_RATE)
                known[bend.output] = [_spectrum(bent_values(wave, bend=bend, limits=circuit.limits)) for wave in waves]
            sizes = [note.size for note in self._excerpts]
            return {
                name: [_low_bins(one, size) for one, size in zip(known[name], sizes, strict=True)] for name in names
            }

        return self._fast.get((tuple(networks), tuple(bends), circuit.limits, level), compute) if bends else {}

    def _waves(self, circuit: Circuit, net: str, sources: Mapping[str, list[SingleComplex]], rate: int) -> list[Signal]:
        """Return what spectra of the sources known so far make at a net in each note."""
        network = front_network(circuit, output=net, sources=sources.keys())
        responses = {name: self._response(network, name, rate) for name in network.inputs}
        sizes = [note.size if rate == BAND_RATE else _low_size(note.size) for note in self._excerpts]
        waves = []
        for place, size in enumerate(sizes):
            spectrum = sum(response.at(size) * sources[name][place] for name, response in responses.items())
            waves.append(np.fft.irfft(spectrum, size))
        return waves

    def _response(self, network: Network, source: str, rate: int) -> _Responses:
        """Return a network's response from a source, kept."""
        return self._responses.get((network, source, rate), lambda: _Responses(network, source, rate=rate))


def fast_bends(front: Front) -> int:
    """Return how many bends have to be heard at `BAND_RATE`: all up to the last rectifier."""
    places = [place for place, bend in enumerate(front.bends) if isinstance(bend.law, FullWave)]
    return places[-1] + 1 if places else 0


def _homogeneous(front: Front) -> bool:
    """Return whether a note that is twice as loud makes twice as much at the comparators."""
    return front.idle_v == 0.0 and all(isinstance(one.law, FullWave) and one.idle_v == 0.0 for one in front.bends)


def _spectrum(wave: Signal) -> SingleComplex:
    """Return a wave's spectrum."""
    return np.fft.rfft(wave).astype(np.complex64)


class _Recent(OrderedDict[object, T]):
    """The few results that were asked for last."""

    def get(self, key: object, compute: Callable[[], T]) -> T:  # type: ignore[override]
        """Return the result kept under `key`, worked out by `compute` where there is none."""
        if key not in self:
            self[key] = compute()
            if len(self) > KEPT:
                self.popitem(last=False)
        self.move_to_end(key)
        return self[key]


class _Responses:
    """A network's response at the frequencies of transforms of several sizes."""

    def __init__(self, network: Network, source: str, *, rate: int) -> None:
        self._transfer = transfer(network, source=source)
        self._rate = rate
        self._known: dict[int, SingleComplex] = {}

    def at(self, size: int) -> SingleComplex:
        """Return the gains (size // 2 + 1,) for a transform of this size."""
        if size not in self._known:
            gains = self._transfer.response(np.fft.rfftfreq(size, 1.0 / self._rate))
            self._known[size] = gains.astype(np.complex64)
        return self._known[size]


def _excerpt(note: TuneNote) -> _Excerpt:
    """Return a note with a little before it and silence after it."""
    rate = note.take.sample_rate
    first, last = max(0, round((note.start_s - BEFORE_S) * rate)), round(note.end_s * rate)
    samples = np.array(note.take.samples[first:last])
    if first > 0:
        rise = min(len(samples), round(FADE_S * rate))
        samples[:rise] *= np.sin(np.linspace(0.0, np.pi / 2, rise)) ** 2
    low = resampled(samples, rate, BAND_RATE)
    size = round(STEP_S * BAND_RATE) * ceil((len(low) / BAND_RATE + AFTER_S) / STEP_S)
    length_s = note.end_s - note.start_s
    places = max(1, int(length_s * note.pitch_hz * GRID_PER_CYCLE))
    return _Excerpt(
        spectrum=np.fft.rfft(low, size).astype(np.complex64),
        size=size,
        start_s=note.start_s - first / rate,
        length_s=length_s,
        pitch_hz=note.pitch_hz,
        grid=(np.arange(places) + 0.5) / GRID_PER_CYCLE,
    )


def _low_bins(spectrum: SingleComplex, size: int) -> SingleComplex:
    """Return the spectrum of `size` samples at `BAND_RATE` as one at `LATCH_RATE`."""
    return spectrum[: _low_size(size) // 2 + 1] * np.float32(LATCH_RATE / BAND_RATE)


def _low_size(size: int) -> int:
    """Return how many samples at `LATCH_RATE` last as long as `size` at `BAND_RATE`."""
    return size * LATCH_RATE // BAND_RATE


def _within(note: _Excerpt, drive: Signal, excerpt_s: float) -> Signal:
    """Return which of a drive's changes lie in a note, in cycles since its start."""
    start_s = excerpt_s + note.start_s
    first, last = np.searchsorted(drive, (start_s, start_s + note.length_s))
    return (drive[first:last] - start_s) * note.pitch_hz


def _locked(note: _Excerpt, drive: Signal) -> Flags:
    """Return at which of a note's places its drive locks, as `lock` tells it for a steady pitch."""
    rate = rates(drive, note.grid, length=note.length_s * note.pitch_hz)
    return np.abs(cents_of(rate)) < TOLERANCE_CENTS
