"""The bench table: what to feed into the finished board, and what to find where."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import log10, pi, sqrt

import numpy as np

from sublatch.arrays import Signal
from sublatch.board.check.drawn_pair import drawn_pair, more_db, pair_ratio
from sublatch.board.filters import DIRECT_FILTERED
from sublatch.board.netlist import Board
from sublatch.board.network import board_network
from sublatch.board.sheet.amounts import probe_point
from sublatch.board.sheet.comparator_input import StoreRow, comparator_wave, store_rows, watched_net, wave_scatter
from sublatch.board.sheet.reading_limits import scatter
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import nodal_response
from sublatch.circuit.signal_path import input_network
from sublatch.circuit.with_settings import with_settings
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import Rendered, render
from sublatch.takes.take import Take, take_from_samples
from sublatch.units.scales import ratio_to_db

TONE_HZ = 82.4
"""The low E of a guitar (ISO 16:1975: 82.41 Hz), as finely as a generator is set."""
LEVELS_V = (0.1, 0.2, 0.05, 0.02, 0.01)
"""Levels to feed, RMS; the first one at which the board divides and its output is free of its limits is taken."""
MOST_BENT = 0.25
"""RMS level over a pair's linear range, at most: its gain is then within 6 % of that for a small note."""
FILTER_HZ = (100.0, 300.0, 1000.0)
"""Tones for the filter."""
TONES = (0.0, 5.0, FULL_TURN)
"""Positions of the tone knob."""
RATE, SETTLE_S, WINDOW_S = 48000, 3, 5
"""The tone as a take: what is measured are whole periods of the tone's quarter too, once all has settled."""
LEAST_LINE = 1e-6
"""Share of the power below which a line of the spectrum is left out of the tolerances."""
AFTER = ("input", "octave", "filter", "mix", "output")
"""Blocks whose parts decide the levels after the octave stage."""


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
class BenchTable:
    """All that is fed and found.

    Attributes
    ----------
    level_v
        RMS at the input jack.
    held_still
        Levels on the way with the divider held still and the drive high, then the filter's response.
    response, direct
        The output filter's response, likewise, and that of the direct signal's own filter, its knob as `tone`.
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
    direct: tuple[BenchRow, ...]
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
    (`render`) with an ideal octave stage, as the drawn one nearly is, but with a transconductance pair's bend. See
    `scatter` for the ranges.
    """
    plain = _plain(board.circuit)
    settings = _settings(plain)
    level_v, rendered = _fed(plain, settings)
    edges = rendered[0].drive_edges_s
    drive_hz = np.count_nonzero((edges >= SETTLE_S) & (edges < SETTLE_S + WINDOW_S)) / 2.0 / WINDOW_S
    stages = board.circuit.divider.stages
    levelled = board.circuit.detector.leveller is not None
    watched, stores = (None, ()) if levelled else _watched(board, level_v)
    return BenchTable(
        level_v=level_v,
        held_still=tuple(_held_still(board, held_positions(board.circuit), level_v)),
        response=tuple(_response(board, settings, level_v)),
        direct=tuple(_direct_response(board, plain, level_v)),
        latch_hz=drive_hz * 2**stages,
        drive_hz=drive_hz,
        divides=_divides(rendered[0], plain),
        watched=watched,
        stores=stores,
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


def held_positions(circuit: Circuit) -> Circuit:
    """Return where knobs and switches stand while the divider is held still: the tone fully clockwise, no peak."""
    return _settings(_plain(circuit))[0 if circuit.tone is None else len(TONES) - 1]


def _plain(circuit: Circuit) -> Circuit:
    """Return a circuit as the bench table has it, with the volume fully clockwise and the direct knob off."""
    return with_settings(_ideal(circuit), {"knobs.volume": FULL_TURN, "knobs.direct": 0.0})


def _ideal(circuit: Circuit) -> Circuit:
    """Return a circuit whose octave stage has no imperfections, since nobody solders those but a pair's bend."""
    octave = circuit.octave
    return circuit.model_copy(
        update={"octave": type(octave)(linear_range=octave.linear_range if octave.is_pair else None)}
    )


def _levels(circuit: Circuit) -> list[float]:
    """Return the levels to try: a transconductance pair's bend shall not take over."""
    range_v = circuit.octave.linear_range if circuit.octave.is_pair else None
    return [level_v for level_v in LEVELS_V if range_v is None or level_v <= MOST_BENT * range_v] or [min(LEVELS_V)]


def _settings(circuit: Circuit) -> list[Circuit]:
    """Return the positions of knob and switch that are looked at, the knob's ends and middle in each of the switch."""
    tones = (None,) if circuit.tone is None else TONES
    peaks = (None,) if circuit.peak is None else ("flat", "peaked")
    return [with_settings(circuit, {"knobs.tone": tone, "switches.peak": peak}) for peak in peaks for tone in tones]


def _fed(circuit: Circuit, settings: Sequence[Circuit]) -> tuple[float, list[Rendered]]:
    """Return the level to feed, and the tone at that level at every setting."""
    second_best: tuple[float, list[Rendered]] | None = None
    for level_v in _levels(circuit):
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
    mixed = board.component("output.coupling").net("a")
    for net in dict.fromkeys(("note", "octave", _filtered(board), mixed, "buffered")):
        yield from sine_rows(board, positions, net, FILTER_HZ[:1], level_v)


def _response(board: Board, settings: Sequence[Circuit], level_v: float) -> Iterator[BenchRow]:
    """Yield the output filter's response."""
    if _filtered(board) != "octave":
        for positions in settings:
            yield from sine_rows(board, positions, _filtered(board), FILTER_HZ, level_v)


def _direct_response(board: Board, plain: Circuit, level_v: float) -> Iterator[BenchRow]:
    """Yield the response of the direct signal's own filter."""
    if not board.of_block("direct"):
        return
    for tone in (None,) if plain.direct_tone is None else TONES:
        positions = with_settings(plain, {"knobs.direct_tone": tone})
        for row in sine_rows(board, positions, DIRECT_FILTERED, FILTER_HZ, level_v):
            yield replace(row, tone=tone, peak=None)


def _filtered(board: Board) -> str:
    """Return the net that the output filter ends in; the octave stage's own without a filter."""
    return "octave" if board.circuit.filter.is_wire else "filtered"


def sine_rows(
    board: Board, positions: Circuit, net: str, frequency_hz: Sequence[float], level_v: float
) -> Iterator[BenchRow]:
    """Yield what sines come to on a net, the octave stage letting them through."""
    frequency = np.array(frequency_hz)
    ahead, source = net in ("note", "octave"), "note" if net == DIRECT_FILTERED else "octave"

    def gain_db(other: Board, where: Circuit) -> Signal:
        gain = _gain(other, where, "in", "note", frequency)
        pair = None if net == "note" else drawn_pair(other)
        if pair is not None:
            notes_v = zip(frequency_hz, level_v * gain, strict=True)
            found = [_bent(other, where, net, hertz, pair.harmonics_v(float(one))) for hertz, one in notes_v]
            return ratio_to_db(np.array(found) / level_v)
        return ratio_to_db(gain if ahead else gain * _gain(other, where, source, net, frequency))

    gains = scatter(gain_db, board, positions, blocks=_deciding(net)).widened(0.0 if net == "note" else more_db(board))
    for hertz, volts, middle_db in zip(frequency_hz, gains.of_amplitude(level_v), gains.middle_db, strict=True):
        where = (positions.tone, positions.peak, hertz, net, probe_point(board, net))
        yield BenchRow(*where, *volts, sqrt(2.0) * volts[0], float(middle_db))


def _bent(board: Board, where: Circuit, net: str, hertz: float, harmonics_v: Signal) -> float:
    """Return the RMS on a net of what a transconductance pair made of a sine."""
    at_hz = hertz * np.arange(1.0, len(harmonics_v) + 1.0)
    gain = 1.0 if net == "octave" else _gain(board, where, "octave", net, at_hz)
    return float(np.sqrt(np.sum((harmonics_v * gain) ** 2)))


def _deciding(net: str) -> tuple[str, ...]:
    """Return the blocks whose parts decide the level of a net after the input."""
    if net == DIRECT_FILTERED:
        return ("input", "direct")
    return AFTER[: {"note": 1, "octave": 2, "filtered": 3, "mixed": 4}.get(net, len(AFTER))]


def _octave_sounding(board: Board, positions: Circuit, rendered: Rendered, level_v: float) -> BenchRow:
    """Return what the output comes to with the octave sounding."""
    front = _gain(board, positions, "in", "note", TONE_HZ)
    model = nodal_response(input_network(positions), TONE_HZ)
    samples = steady(rendered)
    samples = (samples - samples.mean()) * float(front / abs(model))  # what guards the input is not in the model
    frequency, power = _lines(samples)
    middle = _gain(board, positions, "octave", "buffered", frequency)

    def change_db(other: Board, where: Circuit) -> Signal:
        change = _gain(other, where, "octave", "buffered", frequency) / middle
        note = _gain(other, where, "in", "note", TONE_HZ)
        change = change * (note / front) * pair_ratio(other, level_v * float(note), level_v * float(front))
        return np.array([10.0 * log10(float(np.sum(power * change**2) / np.sum(power)))])

    rms, peak = float(np.sqrt(np.mean(samples**2))), float(np.max(np.abs(samples)))
    changes = scatter(change_db, board, positions, blocks=AFTER).widened(more_db(board))
    ((drawn, low, high),) = changes.of_amplitude(rms)
    rms, peak = drawn, peak * drawn / rms
    where = (positions.tone, positions.peak, TONE_HZ, "buffered", probe_point(board, "buffered"))
    return BenchRow(*where, rms, low, high, peak, 20.0 * log10(rms / level_v))


def _lines(samples: Signal) -> tuple[Signal, Signal]:
    """Return frequency and power of the lines that matter in a periodic signal (n,)."""
    power = np.abs(np.fft.rfft(samples)) ** 2
    kept = np.flatnonzero(power > LEAST_LINE * power.sum())
    return kept / WINDOW_S, power[kept]


def _watched(board: Board, level_v: float) -> tuple[BenchRow, tuple[StoreRow, ...]]:
    """Return what the comparators see of the tone, and what the peak stores hold of it."""
    peak_v = sqrt(2.0) * level_v
    seen = wave_scatter(board, volts=peak_v, frequency_hz=TONE_HZ)
    volts = seen.of_amplitude(1.0)[0]
    net, wave = watched_net(board), comparator_wave(board, volts=peak_v, frequency_hz=TONE_HZ)
    gain_db = float(ratio_to_db(volts[0] / level_v))
    row = BenchRow(None, None, TONE_HZ, net, probe_point(board, net), *volts, float(np.max(np.abs(wave))), gain_db)
    return row, tuple(store_rows(board, wave, seen, frequency_hz=TONE_HZ))


def _gain(board: Board, positions: Circuit, source: str, net: str, frequency_hz: float | Signal) -> Signal:
    """Return the gain from one net to another; what the direct pot lets through is left out."""
    inputs = (source,) if source in ("in", "note") else (source, "note")
    network = board_network(board, inputs=inputs, output=net, positions=positions)
    return np.asarray(np.abs(nodal_response(network, frequency_hz, source=network.inputs[0])))
