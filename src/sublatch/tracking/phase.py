"""Where the octave stage switches: at which phase of the note's own cycle, how steadily, and how large a step it makes.

The octave stage changes its gain at the drive's edges. Where the note passes zero just then, the wave goes on without
a step; elsewhere it jumps, and every jump is a click. The phase is that of the note's fundamental. Where overtones
outweigh the fundamental, the step itself says more: the note's value at the edge as a share of its peak in that cycle.

A detector that hears overtones lets the phase wander while the note dies and its overtones drift against each other;
that is slow and not heard. What is heard as roughness is the jitter from one edge to the next, so both are told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sublatch.arrays import Signal, Whole
from sublatch.sampling.rates import resampled
from sublatch.tracking.lock import Dropout

RATE_HZ = 4000
"""Sample rate at which the fundamental is looked at; the highest pitch is 1 kHz."""
WINDOW_PERIODS = 4
"""Length of the Hann window, a power of two: its spectrum has zeros at the DC offset and at every other harmonic."""
DOUBLINGS = 2
"""How often the angle of one turn of the window is doubled to be that of the fundamental."""
LEAST_EDGES = 4
"""With fewer edges nothing is said of a note."""
MID_WAVE = 0.5
"""Mean step from which a circuit is said to switch in mid-wave: a sine has this 30° from its zero crossing."""


@dataclass(frozen=True)
class Switching:
    """Where a drive's edges fall in a note's cycles; all None where fewer than four edges could be measured.

    Attributes
    ----------
    edges
        How many edges were measured: those outside dropouts with two periods of the note on either side.
    phase_deg
        Mean phase of the fundamental at the edges, −90 to 90 degrees: 0 at a zero crossing, rising or falling, above 0
        after it, ±90 at a crest.
    spread_deg
        Standard deviation of that phase over the note.
    jitter_deg, jitter_ms
        Standard deviation from one edge to the next, over √2, in degrees of the note's cycle and in milliseconds: what
        is left of the spread when the phase's slow wandering is not counted. The same as the spread where each edge is
        off by chance.
    step_share
        Mean of the note's value at the edge over its peak in the cycle around, 0 to 1.
    """

    edges: int = 0
    phase_deg: float | None = None
    spread_deg: float | None = None
    jitter_deg: float | None = None
    jitter_ms: float | None = None
    step_share: float | None = None


class Fed:
    """What the octave stage is fed, ready to be measured note by note.

    Parameters
    ----------
    samples
        The take after the input network, in volts (n,).
    sample_rate
        Samples per second.
    """

    def __init__(self, samples: Signal, *, sample_rate: int) -> None:
        self._samples, self._rate = samples, sample_rate
        self._low = resampled(samples, sample_rate, RATE_HZ)

    def switching(
        self,
        drive_s: Signal,
        *,
        start_s: float,
        end_s: float,
        pitch_hz: float | None = None,
        track: tuple[ArrayLike, ArrayLike] | None = None,
        dropouts: Sequence[Dropout] = (),
    ) -> Switching:
        """Return where a drive's edges fall in one note's cycles.

        Parameters
        ----------
        drive_s
            Times in seconds (m,) at which the drive changes, rising.
        start_s, end_s
            From where to where the note counts, in seconds.
        pitch_hz
            The note's pitch, where it is steady.
        track
            Times in seconds (k,) and pitch in hertz (k,) where it is not; one of the two is needed.
        dropouts
            The stretches without lock; edges within them do not count.

        Raises
        ------
        ValueError
            When neither a pitch nor a track is given.

        Notes
        -----
        The fundamental is demodulated at the note's pitch f with a Hann window w of four periods around the edge t:
        ``z = Σ w(τ) x(t + τ) exp(−2πi f τ)``, and its phase counted from the rising zero crossing is arg z + 90°.
        Phases are averaged on the circle after doubling, since rising and falling crossings are the same here: with R
        the length of the mean of exp(2iφ), the deviation is ½ √(−2 ln R) (Mardia and Jupp, *Directional Statistics*,
        from memory). The jitter is the deviation of the differences between neighbouring edges, over √2: two edges
        that are off by chance differ by √2 times what one is off. A sine switched at phase φ of its cycle steps by
        2 sin φ times its amplitude where the polarity is switched, by sin φ where it is gated.
        """
        number = locked_edges(drive_s, start_s, end_s, dropouts)
        edges_s = drive_s[number]
        edge_hz = _pitch_at(edges_s, pitch_hz, track)
        margin_s = WINDOW_PERIODS / 2 / edge_hz
        whole = (edges_s - margin_s >= max(start_s, 0.0)) & (edges_s + margin_s <= min(end_s, self._end_s()))
        number, edges_s, edge_hz = number[whole], edges_s[whole], edge_hz[whole]
        if len(edges_s) < LEAST_EDGES:
            return Switching(len(edges_s))
        phase = _phase(self._low, edges_s, edge_hz)
        mean_deg, spread_deg = _spread(phase)
        neighbours = np.diff(phase)[np.diff(number) == 1]
        jitter_deg = _spread(neighbours)[1] / float(np.sqrt(2)) if len(neighbours) >= LEAST_EDGES - 1 else None
        return Switching(
            edges=len(edges_s),
            phase_deg=mean_deg,
            spread_deg=spread_deg,
            jitter_deg=jitter_deg,
            jitter_ms=None if jitter_deg is None else jitter_deg / 360 * 1000 / float(np.mean(edge_hz)),
            step_share=float(np.mean(self._steps(edges_s, edge_hz))),
        )

    def _end_s(self) -> float:
        """Return the last moment at which there are samples on both sides."""
        return min((len(self._low) - 2) / RATE_HZ, (len(self._samples) - 2) / self._rate)

    def _steps(self, edges_s: Signal, edge_hz: Signal) -> Signal:
        """Return the note's value at each edge as a share of its peak in the cycle around."""
        first = np.round((edges_s - 0.5 / edge_hz) * self._rate).astype(np.intp)
        stop = np.round((edges_s + 0.5 / edge_hz) * self._rate).astype(np.intp) + 1
        begin, end = int(first.min()), int(stop.max()) + 1
        size = np.abs(self._samples[begin:end])
        peak = np.maximum.reduceat(size, np.column_stack((first, stop)).ravel() - begin)[::2]
        at = np.abs(_cubic(self._samples, edges_s * self._rate))
        shares = np.divide(at, peak, out=np.zeros_like(at), where=peak > 0.0)
        return np.asarray(np.minimum(shares, 1.0), dtype=np.float64)


def locked_edges(drive_s: Signal, start_s: float, end_s: float, dropouts: Sequence[Dropout]) -> Whole:
    """Return the numbers of a note's edges that lie in no dropout."""
    number = np.arange(*np.searchsorted(drive_s, (start_s, end_s)))
    lost = np.zeros(len(number), dtype=np.bool_)
    for dropout in dropouts:
        lost |= (drive_s[number] >= dropout.start_s) & (drive_s[number] <= dropout.end_s)
    return number[~lost]


def _pitch_at(edges_s: Signal, pitch_hz: float | None, track: tuple[ArrayLike, ArrayLike] | None) -> Signal:
    """Return the note's pitch at each edge."""
    if pitch_hz is not None:
        return np.full(len(edges_s), pitch_hz)
    if track is None:
        raise ValueError("switching needs a pitch_hz or a track")
    times, pitch = (np.asarray(values, dtype=np.float64) for values in track)
    return np.asarray(np.interp(edges_s, times, pitch), dtype=np.float64)


def _phase(low: Signal, edges_s: Signal, edge_hz: Signal) -> Signal:
    """Return the phase of the fundamental at each edge, in radians after its rising zero crossing."""
    middle = np.round(edges_s * RATE_HZ).astype(np.intp)
    half = int(np.ceil(WINDOW_PERIODS / 2 / np.min(edge_hz) * RATE_HZ))
    places = middle[:, np.newaxis] + np.arange(-half, half + 1)
    cycles = (places / RATE_HZ - edges_s[:, np.newaxis]) * edge_hz[:, np.newaxis]
    turn = 2 * np.pi / WINDOW_PERIODS * cycles  # of the window; the fundamental goes round as many times as periods
    cosine, sine = np.cos(turn), np.sin(turn)
    weighed = np.where(np.abs(cycles) < WINDOW_PERIODS / 2, 1.0 + cosine, 0.0)
    weighed *= low[np.clip(places, 0, len(low) - 1)]
    for _ in range(DOUBLINGS):
        cosine, sine = cosine * cosine - sine * sine, 2.0 * cosine * sine
    real, imaginary = np.einsum("mk,mk->m", weighed, cosine), -np.einsum("mk,mk->m", weighed, sine)
    return np.asarray(np.arctan2(imaginary, real) + np.pi / 2, dtype=np.float64)


def _spread(phase: Signal) -> tuple[float, float]:
    """Return mean and standard deviation in degrees of phases in radians, half a cycle apart being the same."""
    mean = np.mean(np.exp(2j * phase))
    length = min(max(float(np.abs(mean)), 1e-12), 1.0)
    return float(np.degrees(np.angle(mean)) / 2), float(np.degrees(np.sqrt(-2.0 * np.log(length))) / 2)


def _cubic(samples: Signal, places: Signal) -> Signal:
    """Return a signal between its samples, by the cubic through the four around."""
    before = np.clip(np.floor(places).astype(np.intp), 1, len(samples) - 3)
    u = places - before
    a, b, c, d = (samples[before + step] for step in (-1, 0, 1, 2))
    return np.asarray(
        -a * u * (u - 1) * (u - 2) / 6
        + b * (u + 1) * (u - 1) * (u - 2) / 2
        - c * (u + 1) * u * (u - 2) / 2
        + d * (u + 1) * u * (u - 1) / 6,
        dtype=np.float64,
    )
