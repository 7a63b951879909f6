"""A network whose resistances change while a signal passes through it.

Its memory is the voltages of its capacitors. Where it stands still they are known exactly, from the transfer functions
to its nodes (`filters.apply`). While it changes, each sample's step from one memory to the next is the matrix
exponential of the network as it is half way through that step, with the signal between the samples as the quartic
through quarter samples; both are worked out at a few instants and read in between from a cubic spline.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, factorial, log2, sqrt

import numpy as np

from sublatch.arrays import Signal
from sublatch.circuit.networks.elements import GROUND, Capacitor
from sublatch.circuit.networks.solver import Network, matrices, transfer
from sublatch.sampling.rates import resampled
from sublatch.signal.filtering import fixed as filters

NetworkAt = Callable[[float], Network]
"""The network at a place between samples."""

FINE = 4
"""Parts of a sample that the signal is known at."""
SERIES_S = 1e-10
"""Time constant of a resistance in series with each capacitor: without it a capacitor across a source has no current.

At 5 kHz it is 110 dB below notice.
"""
FIRST_KNOTS, MOST_KNOTS = 9, 4097
TOLERANCE = 1e-5
"""Largest error of the spline, as a share of each row's largest value, before its knots are doubled a last time."""
SERIES_NORM, SERIES_TERMS = 0.5, 14
"""Where the exponential's power series is used, and its terms: 0.5¹⁴/14! is below rounding."""
CHUNK = 1 << 16
"""Samples worked on at once."""
RUNG_AT_ONCE = 1 << 20
"""Samples of ringing worked out at once."""
MARGIN = 2048
"""Samples around an excerpt for the resampler's own length."""


@dataclass(frozen=True)
class Memory:
    """Which voltages a network keeps: one for each independent capacitor.

    Attributes
    ----------
    nodes
        The nodes of each of those capacitors.
    """

    nodes: tuple[tuple[str, str], ...]


@dataclass(frozen=True, eq=False)
class Step:
    """A network's step of one sample, with r voltages kept and s sources.

    Attributes
    ----------
    change
        What the kept voltages add to themselves (r, r): the transition less the identity.
    weights
        What the sources add to them (r, s · 5), each source's five quarter samples together.
    readout, direct
        What they (r,) and the sources (s,) give at the output.
    """

    change: Signal
    weights: Signal
    readout: Signal
    direct: Signal

    def rows(self) -> Signal:
        """Return everything as rows of one width, each of values of one size."""
        moving = np.hstack((self.change, self.weights))
        still = np.zeros((2, moving.shape[1]))
        still[0, : len(self.readout)], still[1, : len(self.direct)] = self.readout, self.direct
        return np.vstack((moving, still))


def memory(network: Network) -> Memory:
    """Return the capacitors of a network whose voltages do not follow from one another's."""
    chosen: list[tuple[str, str]] = []
    parent: dict[str, str] = {}

    def root(node: str) -> str:
        while node in parent:
            node = parent[node]
        return node

    for part in network.parts:
        if isinstance(part, Capacitor) and root(part.nodes[0]) != root(part.nodes[1]):
            parent[root(part.nodes[0])] = root(part.nodes[1])
            chosen.append(part.nodes)
    return Memory(tuple(chosen))


def step_of(network: Network, kept: Memory, *, sources: Sequence[str], sample_rate: float) -> Step:
    """Return a network's step of one sample.

    Notes
    -----
    With the nodal equations G x + C x' = b u, the capacitors' incidence P (C = P Q Pᵀ) and the kept voltages
    w = Pᵀ x, the bordered system [G, PQ; Pᵀ, −ε] [x; w'] = [b u; w] gives w' = A w + B u. The step is exp(A T), and
    the moments of exp(A (T − t)) B against powers of t come with it from one exponential of a larger matrix
    (C. F. Van Loan, "Computing integrals involving the matrix exponential", IEEE Trans. Autom. Control 23(3), 1978;
    from memory).
    """
    rate, gain, readout, direct = _state_space(network, kept, sources)
    voltage_count, orders = len(rate), FINE + 1
    size = voltage_count + orders * len(sources)
    generator = np.zeros((size, size))
    generator[:voltage_count, :voltage_count] = rate / sample_rate
    for source, first in enumerate(range(voltage_count, size, orders)):
        generator[:voltage_count, first] = gain[:, source] / sample_rate
        for order in range(orders - 1):
            generator[first + order, first + order + 1] = 1.0
    moved = _exponential(generator)[:voltage_count]
    weights = [moved[:, first : first + orders] @ _derivatives() for first in range(voltage_count, size, orders)]
    return Step(moved[:, :voltage_count] - np.eye(voltage_count), np.hstack(weights), readout, direct)


def settled(
    network: Network, kept: Memory, signals: Sequence[Signal], *, sources: Sequence[str], at: int, sample_rate: float
) -> Signal:
    """Return the kept voltages (r,) at a sample, in a network that has stood still until then."""
    names = list(dict.fromkeys(node for pair in kept.nodes for node in pair if node != GROUND))
    if not names:
        return np.zeros(0)
    paths = [[transfer(network, source=source, output=name) for source in sources] for name in names]
    slowest_s = max(function.settling_s for path in paths for function in path)
    first = max(0, at - lead(slowest_s, sample_rate))
    excerpts = [np.concatenate((signal, np.zeros(1)))[first : at + filters.GUARD] for signal in signals]
    node_volts = filters.apply(excerpts, paths, sample_rate=sample_rate)
    volts = {GROUND: 0.0} | {name: float(signal[at - first]) for name, signal in zip(names, node_volts, strict=True)}
    return np.array([volts[plus] - volts[minus] for plus, minus in kept.nodes])


def lead(slowest_s: float, sample_rate: float) -> int:
    """Return how many samples before an instant still matter there, to −140 dB."""
    return filters.GUARD + ceil(filters.DECAYED * slowest_s * sample_rate)


def rung(step: Step, voltages: Signal, count: int) -> Signal:
    """Return what kept voltages (r,) left to themselves give at the output for `count` samples."""
    readouts, power = step.readout[np.newaxis], np.eye(len(voltages)) + step.change
    while len(readouts) < min(count, RUNG_AT_ONCE):
        readouts = np.vstack((readouts, readouts @ power))
        power = power @ power
    ringing = np.empty(count)
    for first in range(0, count, len(readouts)):
        last = min(first + len(readouts), count)
        ringing[first:last] = readouts[: last - first] @ voltages
        voltages = power @ voltages
    return ringing


def varied(
    network_at: NetworkAt,
    kept: Memory,
    signals: Sequence[Signal],
    *,
    sources: Sequence[str],
    span: tuple[int, int],
    voltages: Signal,
    sample_rate: float,
) -> tuple[Signal, Signal]:
    """Return the output of a changing network over a span of samples, and the voltages kept at its end.

    Parameters
    ----------
    network_at
        The network at a place in samples; it changes smoothly within the span.
    kept
        Which voltages it keeps.
    signals
        The sources' volts, each (n,), over the whole take.
    sources
        Their nodes.
    span
        First sample, and the first after the last.
    voltages
        The voltages kept at the first sample (r,).
    sample_rate
        Samples per second.
    """
    from scipy.interpolate import CubicSpline

    voltage_count, outputs = len(voltages), list[Signal]()
    knots, values = _knots(
        lambda position: step_of(network_at(position), kept, sources=sources, sample_rate=sample_rate), span
    )
    steps, readouts = CubicSpline(knots, values[:, :voltage_count]), CubicSpline(knots, values[:, voltage_count:])
    for first in range(span[0], span[1], CHUNK):
        last = min(first + CHUNK, span[1])
        quarters = np.stack([_quarters(signal, first, last) for signal in signals], axis=1)
        rows = steps(np.arange(first, last) + 0.5)
        change, weights = rows[:, :, :voltage_count], rows[:, :, voltage_count:]
        forced = np.einsum("nrt,nt->nr", weights, quarters.reshape(last - first, -1))
        states = _scanned(change, forced, voltages)
        rows = readouts(np.arange(first, last))
        output = np.einsum("nr,nr->n", rows[:, 0, :voltage_count], states[:-1])
        outputs.append(output + np.einsum("ns,ns->n", rows[:, 1, : len(signals)], quarters[:, :, 0]))
        voltages = states[-1]
    return np.concatenate(outputs), voltages


def _state_space(network: Network, kept: Memory, sources: Sequence[str]) -> tuple[Signal, Signal, Signal, Signal]:
    """Return A (r, r), B (r, s), and the output's parts of the kept voltages (r,) and of the sources (s,)."""
    conductance, susceptance, _, index = matrices(network, sources[0])
    size, voltage_count = len(conductance), len(kept.nodes)
    border = np.zeros((size, voltage_count))
    for column, pair in enumerate(kept.nodes):
        for node, sign in zip(pair, (1.0, -1.0), strict=True):
            if node != GROUND:
                border[index[node], column] += sign
    inverse = np.linalg.pinv(border)
    charge = inverse @ susceptance @ inverse.T
    system = np.block([[conductance, border @ charge], [border.T, -SERIES_S * np.eye(voltage_count)]])
    sources_side = np.zeros((size + voltage_count, voltage_count + len(sources)))
    sources_side[size:, :voltage_count] = np.eye(voltage_count)
    for column, source in enumerate(sources):
        sources_side[:size, voltage_count + column] = matrices(network, source)[2]
    solved = np.linalg.solve(system, sources_side)
    output = solved[index[network.output]]
    return solved[size:, :voltage_count], solved[size:, voltage_count:], output[:voltage_count], output[voltage_count:]


def _exponential(matrix: Signal) -> Signal:
    """Return the exponential of a small matrix, by its power series at 2⁻ᵏ of it, squared k times.

    scipy's own wakes the linear algebra's threads each time, which costs a hundred times what so small a matrix does.
    """
    norm = float(np.abs(matrix).sum(axis=1).max())
    halvings = max(0, ceil(log2(norm / SERIES_NORM))) if norm > 0.0 else 0
    scaled = matrix / 2.0**halvings
    total = term = np.eye(len(matrix))
    for order in range(1, SERIES_TERMS):
        term = term @ scaled / order
        total = total + term
    for _ in range(halvings):
        total = total @ total
    return total


def _derivatives() -> Signal:
    """Return what turns five quarter samples into the derivatives, at the first, of the quartic through them."""
    positions = np.arange(FINE + 1) / FINE
    inverse = np.linalg.inv(np.vander(positions, increasing=True))
    return np.asarray(inverse * np.array([factorial(order) for order in range(FINE + 1)])[:, np.newaxis])


def _knots(step_at: Callable[[float], Step], span: tuple[int, int]) -> tuple[Signal, Signal]:
    """Return places in a span and a step's rows there, as many as a cubic spline through them needs."""
    from scipy.interpolate import CubicSpline

    knots = np.linspace(span[0], span[1], FIRST_KNOTS)
    values = np.stack([step_at(position).rows() for position in knots])
    while True:
        between = 0.5 * (knots[1:] + knots[:-1])
        values_between = np.stack([step_at(position).rows() for position in between])
        error = np.abs(CubicSpline(knots, values)(between) - values_between)
        largest = np.abs(values).max(axis=(0, 2), keepdims=True)
        largest[:, -2:] = largest[:, -2:].max()  # the output's two rows are parts of one sum
        is_close = bool(np.all(error <= TOLERANCE * largest))
        order = np.argsort(np.concatenate((knots, between)))
        knots = np.concatenate((knots, between))[order]
        values = np.concatenate((values, values_between))[order]
        if is_close or len(knots) >= MOST_KNOTS:
            return knots, values


def _quarters(samples: Signal, first: int, last: int) -> Signal:
    """Return a signal's five quarter samples from each sample to the next (last − first, 5), zeros beyond its ends."""
    stretch = filters.excerpt(samples, first - MARGIN, last - first + 1 + 2 * MARGIN)
    quarters = resampled(stretch, 1, FINE)[FINE * MARGIN :]
    return np.lib.stride_tricks.sliding_window_view(quarters, FINE + 1)[: FINE * (last - first) : FINE]


def _scanned(change: Signal, forced: Signal, voltages: Signal) -> Signal:
    """Return the voltages kept at each sample and after the last (n + 1, r).

    The samples are cut into about √n stretches, all of which are stepped through side by side from rest; what each
    starts from is added afterwards.
    """
    count, r = forced.shape
    length = ceil(sqrt(count))
    stretches = ceil(count / length)
    padding = stretches * length - count
    change = np.concatenate((change, np.zeros((padding, r, r)))).reshape(stretches, length, r, r)
    forced = np.concatenate((forced, np.zeros((padding, r)))).reshape(stretches, length, r)
    transitions = np.empty((length + 1, stretches, r, r))
    from_rest = np.empty((length + 1, stretches, r))
    transitions[0], from_rest[0] = np.eye(r), 0.0
    for n in range(length):
        transitions[n + 1] = transitions[n] + change[:, n] @ transitions[n]
        from_rest[n + 1] = from_rest[n] + np.einsum("krs,ks->kr", change[:, n], from_rest[n]) + forced[:, n]
    starts = np.empty((stretches + 1, r))
    starts[0] = voltages
    for k in range(stretches):
        starts[k + 1] = transitions[-1, k] @ starts[k] + from_rest[-1, k]
    states = from_rest[:-1] + np.einsum("nkrs,ks->nkr", transitions[:-1], starts[:-1])
    flat = states.swapaxes(0, 1).reshape(stretches * length, r)[:count]
    return np.concatenate((flat, starts[-1:]))
