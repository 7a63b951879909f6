"""A take as a circuit gives it while knobs are turned and switches are thrown.

    take ─ octave stage ── drive ── network that changes ── peak ── limit ── engaged ─ output
                          (fade)   (or two of them)        (fade)           (fade)

A knob changes resistances, and the network is followed through the change (see `varying`). A thrown switch passes from
one sound to the other: of the drive ahead of the output filter, of the peak ahead of the output buffer's limits, of the
effect and the bypassed take after them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sublatch.arrays import Signal
from sublatch.circuit.components.quantities import UNITY
from sublatch.circuit.idle import heard_limits_v
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import transfer
from sublatch.circuit.signal_path import output_network
from sublatch.circuit.with_settings import with_settings
from sublatch.signal import chain
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import Rendered, detected_drive
from sublatch.signal.filtering import fixed as filters
from sublatch.signal.filtering.limits import limited
from sublatch.signal.filtering.varying import Memory, lead, memory, rung, settled, step_of, varied
from sublatch.signal.front_volts import front
from sublatch.signal.hiss import hiss
from sublatch.signal.moves import (
    KNOBS,
    SWITCHES,
    Move,
    checked_moves,
    knob_points,
    on_samples,
    switch_gate,
    with_start_found,
)
from sublatch.signal.unity import with_volume_found
from sublatch.takes.take import Take


def render_moving(take: Take, circuit: Circuit, moves: Sequence[Move], *, cache: StageCache | None = None) -> Rendered:
    """Return a take as a circuit gives it while controls are moved.

    Parameters
    ----------
    take
        The take, in volts.
    circuit
        The circuit; it says where the controls without a move stand. A volume at unity is found before any move.
    moves
        What is moved and when, in any order; times count to the nearest sample. Before its first move a control stands
        where that move starts.
    cache
        Results shared between renderings of this one take; none by default.

    Returns
    -------
    Rendered
        The output in volts, the drive's edges, and how long the output buffer was at its limits, engaged or not.

    Raises
    ------
    CircuitError
        When a move cannot be made, see `checked_moves`.

    Notes
    -----
    Away from the moves the output is that of `render`, once the network has forgotten them. Knobs glide straight in
    position. A switch goes over as ½ − ½ cos πx. The bypassed take passes no part of the circuit.
    """
    cache = cache or StageCache()
    rate, count = take.sample_rate, len(take.samples)
    moves = checked_moves(moves, circuit, seconds=take.seconds)
    if circuit.knobs.volume == UNITY:
        circuit = with_volume_found(chain.output_sources(take, circuit, cache=cache), circuit)
    ordered = [on_samples(move, rate) for move in with_start_found(moves, circuit)]
    moves_of = {control: [move for move in ordered if move.control == control] for control in (*KNOBS, *SWITCHES)}
    gates = {
        control: switch_gate(moves_of[control], control=control, count=count, sample_rate=rate)
        for control in SWITCHES
        if moves_of[control]
    }
    starts = {control: moves[0].start for control, moves in moves_of.items() if moves and control != "engaged"}
    circuit = with_settings(circuit, starts)
    octave_sound, drive = _driven(take, circuit, gates.get("switches.drive"), cache)
    knobs = {control: moves_of[control] for control in KNOBS if moves_of[control]}
    sources = [octave_sound]
    if circuit.knobs.direct > 0.0 or any(float(move.end) > 0.0 for move in moves_of["knobs.direct"]):
        sources.append(front(take, circuit, cache)[0])
    peak_gate = gates.get("switches.peak")
    output = _at_either(circuit, "peak", peak_gate, lambda switched: _turned(switched, knobs, sources, rate))
    if circuit.devices.hiss:
        output = output + hiss(circuit, count=count, sample_rate=rate)
    limited_output, at_limit_share = limited(output, limits=heard_limits_v(circuit))
    if "engaged" in gates:
        limited_output = _faded(take.samples, limited_output, gates["engaged"])
    return Rendered(limited_output, rate, drive, at_limit_share)


def _at_either(circuit: Circuit, switch: str, gate: Signal | None, sound_of: Callable[[Circuit], Signal]) -> Signal:
    """Return what a circuit gives while a switch goes over from its first position (gate 0) to its second (gate 1)."""
    if gate is None or not np.ptp(gate):
        return sound_of(circuit)
    control = f"switches.{switch}"
    first, second = (sound_of(with_settings(circuit, {control: value})) for value in SWITCHES[control])
    return _faded(first, second, gate)


def _faded(first: Signal, second: Signal, gate: Signal) -> Signal:
    """Return the first signal where the gate is 0 and the second where it is 1, exactly."""
    return (1.0 - gate) * first + gate * second


def _driven(take: Take, circuit: Circuit, gate: Signal | None, cache: StageCache) -> tuple[Signal, Signal]:
    """Return the octave stage's output, and the drive's edges in seconds."""
    octave_sound = _at_either(
        circuit,
        "drive",
        gate,
        lambda switched: chain.octave_sound(take, switched, detected_drive(take, switched, cache=cache), cache),
    )
    edges = detected_drive(take, circuit, cache=cache)
    if gate is None or not np.ptp(gate):
        return octave_sound, edges
    drives = [
        detected_drive(take, with_settings(circuit, {"switches.drive": value}), cache=cache)
        for value in SWITCHES["switches.drive"]
    ]
    is_second = gate >= 0.5
    bounds = np.flatnonzero(is_second[1:] != is_second[:-1]) + 1
    return octave_sound, _joined(drives, int(is_second[0]), bounds / take.sample_rate)


def _joined(drives: Sequence[Signal], current: int, bounds_s: Signal) -> Signal:
    """Return the edges of one drive and the other in turn; where they differ as one takes over, that is an edge."""
    stretches, since_s = [], -np.inf
    for until_s in (*bounds_s, np.inf):
        edges = drives[current]
        stretches.append(edges[(edges > since_s) & (edges <= until_s)])
        parities = [np.count_nonzero(drive <= until_s) % 2 for drive in drives]
        if until_s < np.inf and parities[0] != parities[1]:
            stretches.append(np.array([until_s]))
        current, since_s = 1 - current, until_s
    return np.concatenate(stretches)


def _turned(circuit: Circuit, knobs: dict[str, list[Move]], sources: Sequence[Signal], rate: int) -> Signal:
    """Return the output before its limits while the knobs are turned, stretch by stretch."""
    points = {control: knob_points(knob_moves) for control, knob_moves in knobs.items()}

    def circuit_at(sample: float) -> Circuit:
        time_s = sample / rate
        return with_settings(circuit, {name: float(np.interp(time_s, *point)) for name, point in points.items()})

    path = _Path(circuit_at, memory(output_network(circuit, ideal=True)), sources, rate)
    outputs: list[Signal] = []
    voltages: Signal | None = None
    for first, last in pairwise(_bounds(points, len(sources[0]), rate)):
        if circuit_at(first).knobs == circuit_at(last).knobs:
            out, voltages = path.still(first, last, voltages)
        else:
            out, voltages = path.moving(first, last, voltages)
        outputs.append(out)
    return np.concatenate(outputs)


def _bounds(points: dict[str, tuple[Signal, Signal]], count: int, rate: int) -> list[int]:
    """Return the samples at which a knob starts or arrives, the take's ends among them."""
    times_s = (time_s for times, positions in points.values() if np.ptp(positions) for time_s in times)
    inner = (round(float(time_s) * rate) for time_s in times_s)
    return sorted({0, count, *(sample for sample in inner if 0 < sample < count)})


@dataclass(frozen=True)
class _Path:
    """All that is linear after the octave stage, knobs where they stand at each place in samples."""

    circuit_at: Callable[[float], Circuit]
    kept: Memory
    signals: Sequence[Signal]
    rate: int

    @property
    def sources(self) -> tuple[str, ...]:
        """The nodes that are driven."""
        return ("octave", "direct")[: len(self.signals)]

    def still(self, first: int, last: int, voltages: Signal | None) -> tuple[Signal, Signal | None]:
        """Return the output of samples that no knob moves in, and the voltages kept after them where they matter."""
        circuit = self.circuit_at(first)
        network = output_network(circuit, ideal=True)
        source_count = len(self.signals) if circuit.knobs.direct > 0.0 else 1
        transfers = [transfer(network, source=source) for source in self.sources[:source_count]]
        memory_samples = lead(max(function.settling_s for function in transfers), self.rate)
        begin = max(0, first - memory_samples)
        excerpts = [signal[begin : last + filters.GUARD] for signal in self.signals[:source_count]]
        output = filters.apply(excerpts, [transfers], sample_rate=self.rate)[0][first - begin : last - begin]
        after = self._settled(last) if last < len(self.signals[0]) else None
        if voltages is None:
            return output, after
        difference = voltages - self._settled(first)
        step = step_of(network, self.kept, sources=self.sources, sample_rate=self.rate)
        count = min(last - first, memory_samples)
        output[:count] += rung(step, difference, count)
        if after is not None:
            after = after + np.linalg.matrix_power(np.eye(len(difference)) + step.change, last - first) @ difference
        return output, after

    def moving(self, first: int, last: int, voltages: Signal | None) -> tuple[Signal, Signal]:
        """Return the output of samples that a knob moves in, and the voltages kept after them."""
        return varied(
            lambda sample: output_network(self.circuit_at(sample), ideal=True),
            self.kept,
            self.signals,
            sources=self.sources,
            span=(first, last),
            voltages=self._settled(first) if voltages is None else voltages,
            sample_rate=self.rate,
        )

    def _settled(self, at: int) -> Signal:
        """Return the voltages kept at a sample if no knob has ever moved."""
        network = output_network(self.circuit_at(at), ideal=True)
        return settled(network, self.kept, self.signals, sources=self.sources, at=at, sample_rate=self.rate)
