"""Tolerances: how many boards come out as meant when every part is somewhere within its own tolerance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from sublatch.arrays import Array
from sublatch.circuit.components.controls import Peak
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.components.tolerances import Distribution, Tolerances
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.corners import CHUNK, HIGHEST_HZ, LOWEST_HZ, corners_and_peaks, network_response
from sublatch.circuit.networks.solver import Network, solve_boards
from sublatch.circuit.signal_path import filter_network
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError
from sublatch.parts.variation import Terms, drawn, spread_draws, terms

BOARDS = 20_000
"""Gives any share a standard error of 0.0036 at most, √(¼ / 20 000)."""
FEWEST_BOARDS, MOST_BOARDS = 100, 1_000_000
BAND_BOARDS = 4000
"""Boards that the band is drawn from: its edge is then off by a hundredth of its width, more or less."""
BAND_POINTS = 121
BAND_PERCENT = (5.0, 95.0)


@dataclass(frozen=True)
class Limits:
    """How far a board may be off.

    Attributes
    ----------
    corner_share
        Its corner, as a share of the wanted one.
    peak_db
        Its peak, in dB.
    """

    corner_share: float = 0.2
    peak_db: float = 1.0

    def __post_init__(self) -> None:
        if not 0.0 < self.corner_share <= 1.0:
            hint = f"; was it meant as {self.corner_share / 100:g}?" if 1.0 < self.corner_share <= 100.0 else ""
            raise CircuitError(f"limits.corner_share must be above 0 and at most 1, got {self.corner_share:g}{hint}")
        if not 0.0 < self.peak_db <= 20.0:
            raise CircuitError(f"limits.peak_db must be above 0 and at most 20 dB, got {self.peak_db:g} dB")


@dataclass(frozen=True)
class Wanted:
    """Corner and peak that boards are held against at one end of the knob and one position of the switch.

    Attributes
    ----------
    tone, peak
        Knob and switch position; None where the filter has none.
    corner_hz
        The corner; None where it is not to be looked at.
    peak_db
        The peak above zero frequency.
    """

    tone: float | None
    peak: Peak | None
    corner_hz: float | None
    peak_db: float


@dataclass(frozen=True)
class SettingSpread:
    """Where nine of ten boards lie at one end of the knob and one position of the switch.

    Attributes
    ----------
    wanted
        What they are held against.
    corner_hz, peak_db
        5th and 95th percentile; no corner where a board has none.
    """

    wanted: Wanted
    corner_hz: tuple[float, float] | None
    peak_db: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Spread:
    """How boards differ.

    Attributes
    ----------
    yield_share
        Share of the boards that stay within the limits at every setting, 0 to 1.
    standard_error
        Its standard error, at most: √(p (1 − p) / n).
    boards
        How many were simulated.
    settings
        Both ends of the knob, both positions of the switch; one without them.
    matters
        Share of the variation that each part causes, the largest first; together 1 at most, less where it takes two.
    frequency_hz, low_db, high_db
        The 5th and 95th percentile of the gain (n,) at the circuit's own knob and switch positions.
    tolerances
        How far the parts were off at most, and how they were spread within that.
    """

    yield_share: float
    standard_error: float
    boards: int
    settings: tuple[SettingSpread, ...]
    matters: Mapping[str, float]
    frequency_hz: Array
    low_db: Array
    high_db: Array
    tolerances: Tolerances

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: each setting beside what was wanted, no single boards."""
        return {
            "yield_share": self.yield_share,
            "standard_error": self.standard_error,
            "boards": self.boards,
            "distribution": self.tolerances.distribution,
            "tolerances": {**self.tolerances.shares, "pot_end_ohm": self.tolerances.pot_end_ohm},
            "settings": [
                {
                    "tone": one.wanted.tone,
                    "peak": one.wanted.peak,
                    "wanted_corner_hz": one.wanted.corner_hz,
                    "corner_hz": one.corner_hz,
                    "wanted_peak_db": one.wanted.peak_db,
                    "peak_db": one.peak_db,
                }
                for one in self.settings
            ],
            "matters": dict(self.matters),
            "frequency_hz": self.frequency_hz.tolist(),
            "low_db": self.low_db.tolist(),
            "high_db": self.high_db.tolist(),
        }


def spread(
    circuit: Circuit,
    *,
    tolerances: Tolerances | None = None,
    boards: int = BOARDS,
    seed: int = 0,
    limits: Limits | None = None,
    wanted: Sequence[Wanted] | None = None,
    frequency_hz: ArrayLike | None = None,
) -> Spread:
    """Return how the output filters of many boards differ, each part drawn from within its tolerance.

    Parameters
    ----------
    circuit
        The circuit; both ends of its tone knob and both positions of its peak switch are looked at.
    tolerances
        Tolerances of the parts; those of `Tolerances` when not given.
    boards
        How many boards, 100 to 1 000 000.
    seed
        Same circuit, tolerances, boards and seed: same answer.
    limits
        How far a board may be off; 20 % of the corner and 1 dB of the peak when not given.
    wanted
        What the boards are held against; the circuit with its nominal values when not given.
    frequency_hz
        Where to give the band (n,); 10 Hz to 20 kHz in even steps of pitch when not given.

    Raises
    ------
    CircuitError
        When a number is out of range, or the filter lets nothing through at 0 Hz.

    Notes
    -----
    Values are independent of each other, but for the gangs of a pot, which share the error of its track. What a pot
    leaves at an end of its travel is uniform from 0 Ω to its limit, whatever the distribution of the others. A part
    matters by the squared correlation of its value with each corner and peak, in units of the limits, weighted by how
    much that corner or peak varies: with many independent causes of small effect, its share of the variance. How far a
    pot strays from its taper half way is left out.
    """
    tolerances, limits = tolerances or Tolerances(), limits or Limits()
    if not FEWEST_BOARDS <= boards <= MOST_BOARDS:
        raise CircuitError(f"boards must be {FEWEST_BOARDS} to {MOST_BOARDS}, got {boards}")
    wanted = wanted_of(circuit) if wanted is None else wanted
    made = [terms(circuit.filter, tolerances, tone=one.tone, peak=one.peak) for one in wanted]
    draws = board_draws(made, boards, seed, distribution=tolerances.distribution)
    figures = [_figures(circuit, one, drawn(parts, draws, boards)) for one, parts in zip(wanted, made, strict=True)]
    used = np.array([use for one, pair in zip(wanted, figures, strict=True) for use in _used(one, *pair, limits)])
    share = float(np.mean(np.all(np.abs(used) <= 1.0, axis=0)))
    frequency, low, high = _band(circuit, tolerances, draws, min(boards, BAND_BOARDS), frequency_hz)
    return Spread(
        yield_share=share,
        standard_error=sqrt(share * (1.0 - share) / boards),
        boards=boards,
        settings=tuple(_setting(one, *pair) for one, pair in zip(wanted, figures, strict=True)),
        matters=_matters(used, draws),
        frequency_hz=frequency,
        low_db=low,
        high_db=high,
        tolerances=tolerances,
    )


def wanted_of(circuit: Circuit) -> tuple[Wanted, ...]:
    """Return corners and peaks of a circuit with its nominal values, at the ends of the knob and in both positions.

    Raises
    ------
    CircuitError
        When the filter lets nothing through at 0 Hz.
    """
    tones: tuple[float | None, ...] = (0.0, FULL_TURN) if circuit.filter.works_with_tone else (None,)
    wanted = []
    for peak in circuit.filter.peaks:
        for tone in tones:
            nominal = network_response(network_at(circuit, tone=tone, peak=peak))
            if nominal.dc_gain_db is None:
                raise CircuitError(
                    "a filter's corner is held against its gain at 0 Hz, and this one lets nothing through there"
                )
            wanted.append(Wanted(tone, peak, nominal.corner_hz, nominal.peak_db))
    return tuple(wanted)


def network_at(circuit: Circuit, *, tone: float | None, peak: Peak | None) -> Network:
    """Return a circuit's output filter at other knob and switch positions, with what its op-amps' bandwidth does."""
    return filter_network(with_settings(circuit, {"knobs.tone": tone, "switches.peak": peak}))


def board_draws(
    made: Sequence[Terms], boards: int, seed: int, *, distribution: Distribution = "uniform"
) -> dict[str, Array]:
    """Return a number between −1 and 1 for each board (n,), by what it is that varies.

    Each of n equally likely stretches is drawn from once, in an order of its own for each cause (a Latin hypercube), so
    that the answer hangs less on the seed than with plain draws. The ends of pots are uniform.
    """
    made_of = [term for parts in made for several in parts.values() for term in several]
    causes = dict.fromkeys(cause for term in made_of for cause in term.causes)
    ends = dict.fromkeys(end for term in made_of for end in term.ends)
    rng = np.random.default_rng(seed)
    return {
        name: spread_draws((rng.permutation(boards) + rng.random(boards)) / boards, kind)
        for names, kind in ((causes, distribution), (ends, "uniform"))
        for name in names
    }


def _figures(circuit: Circuit, wanted: Wanted, values: Mapping[str, Array]) -> tuple[Array, Array]:
    """Return corner and peak of each board (n,) at one setting."""
    if not values:
        return np.full(1, np.nan), np.zeros(1)
    figures = corners_and_peaks(solve_boards(network_at(circuit, tone=wanted.tone, peak=wanted.peak), values))
    return figures.corner_hz, figures.peak_db


def _used(wanted: Wanted, corner_hz: Array, peak_db: Array, limits: Limits) -> list[Array]:
    """Return how far corner and peak are off on each board (n,), in units of the limits."""
    off = np.zeros(len(corner_hz))
    if wanted.corner_hz is not None:
        off = np.where(np.isnan(corner_hz), np.inf, (corner_hz / wanted.corner_hz - 1.0) / limits.corner_share)
    return [off, (peak_db - wanted.peak_db) / limits.peak_db]


def _setting(wanted: Wanted, corner_hz: Array, peak_db: Array) -> SettingSpread:
    """Return where most boards lie at one setting."""
    corner = None if np.any(np.isnan(corner_hz)) else tuple(float(v) for v in np.percentile(corner_hz, BAND_PERCENT))
    low, high = np.percentile(peak_db, BAND_PERCENT)
    return SettingSpread(wanted, None if corner is None else (corner[0], corner[1]), (float(low), float(high)))


def _matters(used: Array, draws: Mapping[str, Array]) -> dict[str, float]:
    """Return the share of the variation that each cause has, the largest first."""
    finite = used[np.all(np.isfinite(used), axis=1)]
    centred = finite - finite.mean(axis=1, keepdims=True)
    whole = float(np.sum(centred**2))
    if whole == 0.0:
        return {}
    shares = {}
    for cause, draw in draws.items():
        step = draw - draw.mean()
        shares[cause] = float(np.sum((centred @ step) ** 2) / np.sum(step**2)) / whole
    return dict(sorted(shares.items(), key=lambda item: -item[1]))


def _band(
    circuit: Circuit, tolerances: Tolerances, draws: Mapping[str, Array], boards: int, frequency_hz: ArrayLike | None
) -> tuple[Array, Array, Array]:
    """Return frequencies and the lower and upper edge of the gain in dB, at the circuit's own positions."""
    if frequency_hz is None:
        frequency_hz = np.geomspace(LOWEST_HZ, HIGHEST_HZ, BAND_POINTS)
    frequency = np.atleast_1d(np.asarray(frequency_hz, dtype=float))
    made = terms(circuit.filter, tolerances, tone=circuit.tone, peak=circuit.peak)
    if not made:
        return frequency, np.zeros(len(frequency)), np.zeros(len(frequency))
    few = {cause: draw[:boards] for cause, draw in draws.items()}
    solved = solve_boards(filter_network(circuit), drawn(made, few, boards))
    power = np.concatenate([solved.part(slice(at, at + CHUNK)).power(frequency) for at in range(0, boards, CHUNK)])
    low, high = 10 * np.log10(np.percentile(power, BAND_PERCENT, axis=0))
    return frequency, low, high
