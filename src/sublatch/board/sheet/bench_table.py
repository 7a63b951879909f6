"""The bench table: what to feed into the finished board, and what to find where."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import log10, pi, sqrt

import numpy as np

from sublatch.arrays import Signal
from sublatch.board.netlist import Board
from sublatch.board.network import board_network
from sublatch.board.sheet.amounts import probe_point
from sublatch.board.sheet.comparator_input import comparator_wave, store_peak_and_low, watched_net
from sublatch.board.sheet.reading_limits import scatter
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import nodal_response
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError, UnitError
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import Rendered, render
from sublatch.takes.take import Take, take_from_samples
from sublatch.units.scales import ratio_to_db

TONE_HZ = 82.4
"""The low E of a guitar (ISO 16:1975: 82.41 Hz), as finely as a generator is set."""
LEVELS_V = (0.1, 0.2, 0.05, 0.02, 0.01)
"""Levels to feed, RMS; the first one at which the board divides and its output is free of its limits is taken."""
FILTER_HZ = (100.0, 300.0, 1000.0)
"""Tones for the filter."""
TONES = (0.0, 5.0, FULL_TURN)
"""Positions of the tone knob."""
RATE, SETTLE_S, WINDOW_S = 48000, 3, 5
"""The tone as a take: what is measured are whole periods of the tone's quarter too, once all has settled."""
LEAST_LINE = 1e-6
"""Share of the power below which a line of the spectrum is left out of the tolerances."""
AFTER = ("input", "filter", "mix", "output")
AHEAD = ("input", "overtone", "detector")
"""Blocks whose parts decide the levels after the octave stage, and those ahead of the comparators."""


@dataclass(frozen=True)
class BenchRow:
    """One voltage to find with a tone at the input jack.

    Attributes
    ----------
    tone, peak
        Where tone knob and peak switch stand; None where they do not matter.
    frequency_hz
        The tone that is fed.
    net, probe_at
        The net, and where it can be reached.
    rms_v, low_v, high_v
        RMS from the drawing's values, and the range that most boards keep.
    peak_v
        The highest point of the wave from its mean.
    gain_db
        RMS against that at the jack.
    """

    tone: float | None
    peak: str | None
    frequency_hz: float
    net: str
    probe_at: str
    rms_v: float
    low_v: float
    high_v: float
    peak_v: float
    gain_db: float


@dataclass(frozen=True)
class StoreRow:
    """What a peak store holds while the tone sounds, in volts from the bias: after a peak, and ahead of it."""

    net: str
    probe_at: str
    peak_v: float
    low_v: float
    high_v: float
    falls_to_v: float


@dataclass(frozen=True)
class BenchTable:
    """All that is fed and found.

    Attributes
    ----------
    level_v
        RMS at the input jack.
    held_still
        Levels on the way with the divider held still and the drive high, then the filter's response.
    response
        The output filter's response, likewise.
    latch_hz, drive_hz
        Frequencies at the latch and at the last flip-flop with `TONE_HZ` at the jack.
    divides
        Whether the drive then runs at the share of the tone that it should.
    watched
        What the comparators see, where it can be told.
    stores
        The peak stores.
    octave_sounding
        The output buffer with the octave sounding.
    clips
        Whether the output comes to its limits in one of them.
    """

    level_v: float
    held_still: tuple[BenchRow, ...]
    response: tuple[BenchRow, ...]
    latch_hz: float
    drive_hz: float
    divides: bool
    watched: BenchRow | None
    stores: tuple[StoreRow, ...]
    octave_sounding: tuple[BenchRow, ...]
    clips: bool


def bench_table(board: Board) -> BenchTable:
    """Return what to feed into the finished board, and what to find where.

    Parameters
    ----------
    board
        The board.

    Returns
    -------
    BenchTable
        With the volume knob fully clockwise and the direct knob off, at the ends and the middle of the tone knob's
        travel and in both positions of the peak switch.

    Notes
    -----
    Levels with the divider held still come from the board's own network; those with the octave sounding from the model
    (`render`) with an ideal octave stage, as the drawn one nearly is. See `scatter` for the ranges.
    """
    plain = with_settings(_ideal(board.circuit), {"knobs.volume": FULL_TURN, "knobs.direct": 0.0})
    settings = _settings(plain)
    level_v, rendered = _fed(plain, settings)
    edges = rendered[0].drive_edges_s
    drive_hz = np.count_nonzero((edges >= SETTLE_S) & (edges < SETTLE_S + WINDOW_S)) / 2.0 / WINDOW_S
    stages = board.circuit.divider.stages
    known = board.circuit.detector.leveller is None
    return BenchTable(
        level_v=level_v,
        held_still=tuple(_held_still(board, settings[0 if plain.tone is None else len(TONES) - 1], level_v)),
        response=tuple(_response(board, settings, level_v)),
        latch_hz=drive_hz * 2**stages,
        drive_hz=drive_hz,
        divides=_divides(rendered[0], plain),
        watched=_watched(board, level_v) if known else None,
        stores=tuple(_stores(board, level_v)) if known else (),
        octave_sounding=tuple(_octave_sounding(board, *pair, level_v) for pair in zip(settings, rendered, strict=True)),
        clips=any(output.at_limit_share > 0.0 for output in rendered),
    )


def sine_take(level_v: float, *, frequency_hz: float = TONE_HZ) -> Take:
    """Return the tone as a take."""
    time = np.arange((SETTLE_S + WINDOW_S) * RATE) / RATE
    samples = sqrt(2.0) * level_v * np.sin(2.0 * pi * frequency_hz * time)
    return take_from_samples(samples, RATE, full_scale_volts=10.0, name="tone")


def steady(rendered: Rendered) -> Signal:
    """Return what is measured of a rendering: whole periods, once all has settled."""
    return rendered.samples[SETTLE_S * RATE :]


def _ideal(circuit: Circuit) -> Circuit:
    """Return a circuit whose octave stage has no imperfections, since nobody solders those."""
    return circuit.model_copy(update={"octave": type(circuit.octave)()})


def _settings(circuit: Circuit) -> list[Circuit]:
    """Return the positions of knob and switch that are looked at, the knob's ends and middle in each of the switch."""
    tones = (None,) if circuit.tone is None else TONES
    peaks = (None,) if circuit.peak is None else ("flat", "peaked")
    return [with_settings(circuit, {"knobs.tone": tone, "switches.peak": peak}) for peak in peaks for tone in tones]


def _fed(circuit: Circuit, settings: Sequence[Circuit]) -> tuple[float, list[Rendered]]:
    """Return the level to feed, and the tone at that level at every setting."""
    second_best: tuple[float, list[Rendered]] | None = None
    for level_v in LEVELS_V:
        take, cache = sine_take(level_v), StageCache()
        rendered = [render(take, setting, cache=cache) for setting in settings]
        if _divides(rendered[0], circuit):
            if all(output.at_limit_share == 0.0 for output in rendered):
                return level_v, rendered
            second_best = level_v, rendered  # the lowest so far that divides
        second_best = second_best or (level_v, rendered)
    assert second_best is not None
    return second_best


def _divides(rendered: Rendered, circuit: Circuit) -> bool:
    """Return whether the drive runs steadily at its share of the tone."""
    edges = rendered.drive_edges_s
    steps = np.diff(edges[(edges >= SETTLE_S) & (edges < SETTLE_S + WINDOW_S)])
    wanted = 2 ** (circuit.divider.stages - 1) / TONE_HZ
    return len(steps) > 0 and bool(np.allclose(steps, wanted, rtol=1e-3))


def _held_still(board: Board, positions: Circuit, level_v: float) -> Iterator[BenchRow]:
    """Yield the levels on the way with the drive high, the octave stage letting the note through."""
    for net in dict.fromkeys(("note", "octave", _filtered(board), "mixed", "buffered")):
        yield from _sine_rows(board, positions, net, FILTER_HZ[:1], level_v)


def held_still_row(board: Board, net: str, *, level_v: float) -> BenchRow | None:
    """Return the level on any net of the signal's path with the drive high; None where there is none to tell.

    Parameters
    ----------
    board
        The board.
    net
        The net.
    level_v
        RMS at the input jack, of `FILTER_HZ`'s first tone.

    Notes
    -----
    Volume and tone fully clockwise, direct off, peak flat, as in the bench table. Nothing is told of nets that a diode,
    a comparator or a switch of the octave stage decides, but for the stage's output, or that have no signal.
    """
    plain = with_settings(_ideal(board.circuit), {"knobs.volume": FULL_TURN, "knobs.direct": 0.0})
    positions = _settings(plain)[0 if plain.tone is None else len(TONES) - 1]
    try:
        with np.errstate(invalid="ignore"):  # a net without any signal
            return next(iter(_sine_rows(board, positions, net, FILTER_HZ[:1], level_v)))
    except (CircuitError, UnitError):
        return None


def _response(board: Board, settings: Sequence[Circuit], level_v: float) -> Iterator[BenchRow]:
    """Yield the output filter's response."""
    if _filtered(board) != "octave":
        for positions in settings:
            yield from _sine_rows(board, positions, _filtered(board), FILTER_HZ, level_v)


def _filtered(board: Board) -> str:
    """Return the net that the output filter ends in; the octave stage's own without a filter."""
    return board.component("mix.octave_resistor").net("a")


def _sine_rows(
    board: Board, positions: Circuit, net: str, frequency_hz: Sequence[float], level_v: float
) -> Iterator[BenchRow]:
    """Yield what sines come to on a net, the octave stage letting them through."""
    frequency = np.array(frequency_hz)
    ahead = any(part.block in AHEAD for part, _ in board.on_net(net))

    def gain_db(other: Board, where: Circuit) -> Signal:
        if ahead:
            return ratio_to_db(_gain(other, where, "in", net, frequency))
        gain = _gain(other, where, "in", "note", frequency)
        return ratio_to_db(gain if net == "octave" else gain * _gain(other, where, "octave", net, frequency))

    gains = scatter(gain_db, board, positions, blocks=AHEAD if ahead else _deciding(net))
    for hertz, volts, middle_db in zip(frequency_hz, gains.of_amplitude(level_v), gains.middle_db, strict=True):
        where = (positions.tone, positions.peak, hertz, net, probe_point(board, net))
        yield BenchRow(*where, *volts, sqrt(2.0) * volts[0], float(middle_db))


def _deciding(net: str) -> tuple[str, ...]:
    """Return the blocks whose parts decide the level of a net after the input."""
    return AFTER[: {"note": 1, "octave": 1, "filtered": 2, "mixed": 3}.get(net, len(AFTER))]


def _octave_sounding(board: Board, positions: Circuit, rendered: Rendered, level_v: float) -> BenchRow:
    """Return what the output comes to with the octave sounding."""
    samples = steady(rendered)
    samples = samples - samples.mean()
    frequency, power = _lines(samples)
    middle = _gain(board, positions, "octave", "buffered", frequency)
    front = _gain(board, positions, "in", "note", TONE_HZ)

    def change_db(other: Board, where: Circuit) -> Signal:
        change = _gain(other, where, "octave", "buffered", frequency) / middle
        change = change * (_gain(other, where, "in", "note", TONE_HZ) / front)
        return np.array([10.0 * log10(float(np.sum(power * change**2) / np.sum(power)))])

    rms, peak = float(np.sqrt(np.mean(samples**2))), float(np.max(np.abs(samples)))
    ((_, low, high),) = scatter(change_db, board, positions, blocks=AFTER).of_amplitude(rms)
    where = (positions.tone, positions.peak, TONE_HZ, "buffered", probe_point(board, "buffered"))
    return BenchRow(*where, rms, low, high, peak, 20.0 * log10(rms / level_v))


def _lines(samples: Signal) -> tuple[Signal, Signal]:
    """Return frequency and power of the lines that matter in a periodic signal (n,)."""
    power = np.abs(np.fft.rfft(samples)) ** 2
    kept = np.flatnonzero(power > LEAST_LINE * power.sum())
    return kept / WINDOW_S, power[kept]


def _tone_at_comparators(board: Board, level_v: float) -> Signal:
    """Return a period of what the comparators see of the tone."""
    return comparator_wave(board, volts=sqrt(2.0) * level_v, frequency_hz=TONE_HZ)


def _watched(board: Board, level_v: float) -> BenchRow:
    """Return what the comparators see of the tone."""

    def gain_db(other: Board, _: Circuit) -> Signal:
        wave = _tone_at_comparators(other, level_v)
        return ratio_to_db(np.array([np.sqrt(np.mean(wave**2)) / level_v]))

    gains = scatter(gain_db, board, board.circuit, blocks=AHEAD)
    (volts,) = gains.of_amplitude(level_v)
    net, peak = watched_net(board), float(np.max(np.abs(_tone_at_comparators(board, level_v))))
    return BenchRow(None, None, TONE_HZ, net, probe_point(board, net), *volts, peak, float(gains.middle_db[0]))


def _stores(board: Board, level_v: float) -> Iterator[StoreRow]:
    """Yield what the peak stores hold."""
    thresholds = board.circuit.detector.thresholds
    if thresholds.fixed:
        return

    def peaks_db(other: Board, _: Circuit) -> Signal:
        wave = _tone_at_comparators(other, level_v)
        return ratio_to_db(np.array([wave.max(), -wave.min()]))

    ranges = scatter(peaks_db, board, board.circuit, blocks=AHEAD).of_amplitude(1.0)
    wave = _tone_at_comparators(board, level_v)
    for side, sign, (_, *ends) in zip(("positive", "negative"), (1.0, -1.0), ranges, strict=True):
        net = board.component(f"latch.{side}.follower").net("out")
        peak, falls = store_peak_and_low(sign * wave, hold_s=thresholds.hold_s, frequency_hz=TONE_HZ)
        low, high = sorted(sign * end for end in ends)
        yield StoreRow(net, probe_point(board, net), sign * peak, low, high, sign * falls)


def _gain(board: Board, positions: Circuit, source: str, net: str, frequency_hz: float | Signal) -> Signal:
    """Return the gain from one net to another; what the direct pot lets through is left out."""
    inputs = (source,) if source == "in" else (source, "note")
    network = board_network(board, inputs=inputs, output=net, positions=positions)
    return np.asarray(np.abs(nodal_response(network, frequency_hz, source=network.inputs[0])))
