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
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import transfer
from sublatch.circuit.signal_path import output_network
from sublatch.circuit.with_settings import with_settings
from sublatch.signal import chain
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import Rendered, detected_drive
from sublatch.signal.filtering import still as filters
from sublatch.signal.filtering.varying import Memory, lead, memory, rung, settled, step_of, varied
from sublatch.signal.moves import (
    KNOBS,
    SWITCHES,
    Move,
    Setting,
    checked_moves,
    knob_points,
    on_samples,
    switch_gate,
    with_start_found,
)
from sublatch.signal.output import limited
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
    own = {control: [m for m in ordered if m.control == control] for control in (*KNOBS, *SWITCHES)}
    gates = {
        control: switch_gate(own[control], control=control, count=count, sample_rate=rate)
        for control in SWITCHES
        if own[control]
    }
    circuit = with_settings(circuit, _first_settings(own))
    made, drive = _driven(take, circuit, gates.get("switches.drive"), cache)
    knobs = {control: own[control] for control in KNOBS if own[control]}
    sources = [made]
    if circuit.knobs.direct > 0.0 or any(float(move.end) > 0.0 for move in own["knobs.direct"]):
        sources.append(chain.front(take, circuit, cache)[0])
    finished = _at_either(circuit, "peak", gates.get("switches.peak"), lambda one: _turned(one, knobs, sources, rate))
    held, share = limited(finished, limits=circuit.limits)
    if "engaged" in gates:
        held = _faded(take.samples, held, gates["engaged"])
    return Rendered(held, rate, drive, share)


def _first_settings(own: dict[str, list[Move]]) -> dict[str, Setting]:
    """Return where the controls that move stand before they do."""
    return {control: moves[0].start for control, moves in own.items() if moves and control != "engaged"}


def _at_either(circuit: Circuit, switch: str, gate: Signal | None, heard: Callable[[Circuit], Signal]) -> Signal:
    """Return what a circuit gives while a switch goes over from its first position (gate 0) to its second (gate 1)."""
    if gate is None or not np.ptp(gate):
        return heard(circuit)
    control = f"switches.{switch}"
    first, second = (heard(with_settings(circuit, {control: value})) for value in SWITCHES[control])
    return _faded(first, second, gate)


def _faded(first: Signal, second: Signal, gate: Signal) -> Signal:
    """Return the first signal where the gate is 0 and the second where it is 1, exactly."""
    return (1.0 - gate) * first + gate * second


def _driven(take: Take, circuit: Circuit, gate: Signal | None, cache: StageCache) -> tuple[Signal, Signal]:
    """Return the octave stage's output, and the drive's edges in seconds."""
    made = _at_either(
        circuit,
        "drive",
        gate,
        lambda one: chain.octave_sound(take, one, detected_drive(take, one, cache=cache), cache),
    )
    edges = detected_drive(take, circuit, cache=cache)
    if gate is None or not np.ptp(gate):
        return made, edges
    either = [
        detected_drive(take, with_settings(circuit, {"switches.drive": value}), cache=cache)
        for value in SWITCHES["switches.drive"]
    ]
    over = gate >= 0.5
    bounds = np.flatnonzero(over[1:] != over[:-1]) + 1
    return made, _joined(either, int(over[0]), bounds / take.sample_rate)


def _joined(either: Sequence[Signal], now: int, bounds_s: Signal) -> Signal:
    """Return the edges of one drive and the other in turn; where they differ as one takes over, that is an edge."""
    parts, since = [], -np.inf
    for until in (*bounds_s, np.inf):
        edges = either[now]
        parts.append(edges[(edges > since) & (edges <= until)])
        odd = [np.count_nonzero(one <= until) % 2 for one in either]
        if until < np.inf and odd[0] != odd[1]:
            parts.append(np.array([until]))
        now, since = 1 - now, until
    return np.concatenate(parts)


def _turned(circuit: Circuit, knobs: dict[str, list[Move]], sources: Sequence[Signal], rate: int) -> Signal:
    """Return the output before its limits while the knobs are turned, stretch by stretch."""
    points = {control: knob_points(own) for control, own in knobs.items()}

    def circuit_at(place: float) -> Circuit:
        stands: dict[str, Setting] = {name: float(np.interp(place / rate, *found)) for name, found in points.items()}
        return with_settings(circuit, stands)

    path = _Path(circuit_at, memory(output_network(circuit)), sources, rate)
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
    inner = {round(float(time_s) * rate) for times, places in points.values() if np.ptp(places) for time_s in times}
    return sorted({0, count} | {sample for sample in inner if 0 < sample < count})


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
        network = output_network(circuit)
        heard = len(self.signals) if circuit.knobs.direct > 0.0 else 1
        path = [transfer(network, source=source) for source in self.sources[:heard]]
        before = lead(max(one.settling_s for one in path), self.rate)
        begin = max(0, first - before)
        parts = [one[begin : last + filters.GUARD] for one in self.signals[:heard]]
        out = filters.apply(parts, [path], sample_rate=self.rate)[0][first - begin : last - begin]
        after = self._settled(last) if last < len(self.signals[0]) else None
        if voltages is None:
            return out, after
        left = voltages - self._settled(first)
        step = step_of(network, self.kept, sources=self.sources, sample_rate=self.rate)
        count = min(last - first, before)
        out[:count] += rung(step, left, count)
        if after is not None:
            after = after + np.linalg.matrix_power(np.eye(len(left)) + step.change, last - first) @ left
        return out, after

    def moving(self, first: int, last: int, voltages: Signal | None) -> tuple[Signal, Signal]:
        """Return the output of samples that a knob moves in, and the voltages kept after them."""
        return varied(
            lambda place: output_network(self.circuit_at(place)),
            self.kept,
            self.signals,
            sources=self.sources,
            span=(first, last),
            voltages=self._settled(first) if voltages is None else voltages,
            sample_rate=self.rate,
        )

    def _settled(self, at: int) -> Signal:
        """Return the voltages kept at a sample if no knob has ever moved."""
        network = output_network(self.circuit_at(at))
        return settled(network, self.kept, self.signals, sources=self.sources, at=at, sample_rate=self.rate)
