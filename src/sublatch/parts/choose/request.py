"""What may be asked of a filter's parts, and what to say where no parts that are sold come near."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, get_args

from sublatch.circuit.components.controls import PEAKS
from sublatch.circuit.components.pots import AUDIO_MIDPOINT, Taper, wiper_fraction
from sublatch.circuit.components.preferred import series
from sublatch.circuit.components.sold import CAPACITOR_SERIES, DUAL_POTS_OHM, USUAL_CAPACITORS, USUAL_RESISTORS
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.errors import CircuitError, nearest_hint
from sublatch.parts.choose.bins import Bin
from sublatch.parts.choose.choice import MeasuredSet, Setting
from sublatch.parts.choose.swept_search import (
    APART_MISS,
    CORNER_MISS,
    CURVE_MISS_DB,
    LEAST_END_OHM,
    TAPERS,
    Stock,
    Sweep,
)
from sublatch.parts.tolerance import Limits
from sublatch.units import format_hertz, format_ohms

Kind = Literal["first-order", "third-order"]
SweptKind = Literal["swept-second-order", "swept-state-variable"]
Shape = Literal["butterworth", "bessel", "chebyshev"]

BASE = "gated-swept"
"""The built-in circuit that the parts are put into to measure them; all but its filter is left as it is."""

LOWEST_HZ, HIGHEST_HZ = 10.0, 20e3
HIGHEST_PEAK_DB = 20.0
LEAST_POT_OHM, MOST_POT_OHM = 1e3, 10e6


@dataclass(frozen=True, kw_only=True)
class ChooseRequest:
    """What is asked of a filter swept by a dual-gang pot, with a switch for its peak.

    Attributes
    ----------
    kind
        One op-amp, or a state-variable filter of three with its four other resistors alike.
    low_hz, high_hz
        Corner with the tone knob at 0 and at 10, in both positions of the switch; 10 Hz to 20 kHz.
    peak_db, flat_peak_db
        Peak in the two positions, 0 to 20 dB; 0 dB is the maximally flat curve.
    pots_ohm
        The pots that may be taken, by their track; those that are sold when none are given.
    taper
        Its taper; the one that spreads the octaves most evenly when not given.
    midpoint
        Share of its track below the wiper at half rotation, for the log tapers.
    capacitors, resistors
        Series that they are bought from, such as E12; capacitors up to E24.
    tolerances
        Tolerances of the parts.
    limits
        How far a board may be off.
    alternatives
        How many other sets to tell of at most.
    base
        The circuit that they are meant for, a built-in one or a file: headroom is judged in it.
    bins
        What is owned: what needs no order then comes first; None where nothing is said of it.
    """

    kind: SweptKind = "swept-second-order"
    low_hz: float
    high_hz: float
    peak_db: float
    flat_peak_db: float = 0.0
    pots_ohm: tuple[float, ...] = ()
    taper: Taper | None = None
    midpoint: float = AUDIO_MIDPOINT
    capacitors: str = USUAL_CAPACITORS
    resistors: str = USUAL_RESISTORS
    tolerances: Tolerances = field(default_factory=Tolerances)
    limits: Limits = field(default_factory=Limits)
    alternatives: int = 4
    base: str = BASE
    bins: tuple[Bin, ...] | None = None

    @property
    def sweep(self) -> Sweep:
        """Corners and peaks."""
        return Sweep(self.low_hz, self.high_hz, self.peak_db, self.flat_peak_db, self.kind)


@dataclass(frozen=True, kw_only=True)
class ChooseFixedRequest:
    """What is asked of a filter without knob or switch.

    Attributes
    ----------
    corner_hz
        Its corner, 3.01 dB down; 10 Hz to 20 kHz.
    kind
        First order, or third order around one op-amp with three equal resistors.
    shape
        Curve of a third-order filter: maximally flat, without overshoot, or steeper with 0.5 dB of ripple
        below its gain at 0 Hz; none of them has a peak above it.
    capacitors, resistors
        Series that they are bought from, such as E12; capacitors up to E24.
    tolerances
        Tolerances of the parts.
    limits
        How far a board may be off.
    alternatives
        How many other sets to tell of at most.
    bins
        What is owned, as for `ChooseRequest`.
    """

    corner_hz: float
    kind: Kind = "third-order"
    shape: Shape = "butterworth"
    capacitors: str = USUAL_CAPACITORS
    resistors: str = USUAL_RESISTORS
    tolerances: Tolerances = field(default_factory=Tolerances)
    limits: Limits = field(default_factory=Limits)
    alternatives: int = 4
    bins: tuple[Bin, ...] | None = None


def check_sweep(request: ChooseRequest) -> Stock:
    """Return what there is to buy from, or raise CircuitError for what cannot be asked."""
    sweep, taper, midpoint, pots_ohm = request.sweep, request.taper, request.midpoint, request.pots_ohm
    _check_word("kind", request.kind, get_args(SweptKind))
    _check_hertz("the low end", sweep.low_hz)
    _check_hertz("the high end", sweep.high_hz)
    if not sweep.low_hz < sweep.high_hz:
        hint = "; swap them?" if sweep.low_hz > sweep.high_hz else ""
        raise CircuitError(
            f"the high end must be above the low end, got {format_hertz(sweep.low_hz)} to "
            f"{format_hertz(sweep.high_hz)}{hint}"
        )
    for name, value_db in (("the peak", sweep.peak_db), ("the flat position's peak", sweep.flat_peak_db)):
        if not 0.0 <= value_db <= HIGHEST_PEAK_DB:
            raise CircuitError(f"{name} must be 0 to {HIGHEST_PEAK_DB:g} dB, got {value_db:g} dB")
    if sweep.flat_peak_db > sweep.peak_db:
        raise CircuitError(
            f"the flat position's peak must not be above the peaked one's, got {sweep.flat_peak_db:g} dB and "
            f"{sweep.peak_db:g} dB; swap them?"
        )
    _check_series(request.capacitors, request.resistors)
    tapers: tuple[Taper, ...] = TAPERS
    if taper is not None:
        wiper_fraction(5.0, taper=taper, midpoint=midpoint)  # says what is wrong
        tapers = tuple(name for name in get_args(Taper) if name == taper)
    wiper_fraction(5.0, taper="log", midpoint=midpoint)
    _check_pots(pots_ohm, sweep.ratio)
    return Stock(pots_ohm or DUAL_POTS_OHM, tapers, midpoint, request.capacitors, request.resistors)


def check_fixed(request: ChooseFixedRequest) -> None:
    """Raise CircuitError for what cannot be asked of a filter without knob or switch."""
    _check_word("kind", request.kind, get_args(Kind))
    _check_word("shape", request.shape, get_args(Shape))
    _check_hertz("the corner", request.corner_hz)
    _check_series(request.capacitors, request.resistors)


def nothing_near(names: str, nearest: MeasuredSet | None) -> CircuitError:
    """Return the error that says what no parts come near to, and what the nearest ones give.

    Parameters
    ----------
    names
        What there is to buy from, in words.
    nearest
        The nearest set of parts; None where there is none at all.
    """
    start = f"what is asked for must come from parts that are sold, and no {names} come near it"
    if nearest is None:
        return CircuitError(f"{start}; try another series or a smaller sweep")
    swept = nearest.low_end is not None
    figures = ", ".join(_sweep_misses(nearest) if swept else _fixed_misses(nearest))
    tries = "a finer series, another pot or another peak" if swept else "a finer series"
    return CircuitError(f"{start}: the nearest, {_bought(nearest)}, have {figures}; try {tries}")


def _bought(parts: MeasuredSet) -> str:
    """Return the parts of a set in a few words."""
    values = {path.removeprefix("filter."): str(value) for path, value in parts.changes.items()}
    if "pot.value" not in values:
        return " ".join(dict.fromkeys(value for name, value in values.items() if name != "kind"))
    flat, peaked = parts.pairs
    start = f"{values['start_resistor']} across it and " if "start_resistor" in values else ""
    return f"{values['pot.value']} with {start}{values['end_resistor']} and {flat} and {peaked}"


def _sweep_misses(parts: MeasuredSet) -> list[str]:
    """Return in words where the nearest parts are too far off, and what they give there."""
    places = [f"the {end} end, {peak}, at" for peak in PEAKS for end in ("low", "high")]
    corners = zip(places, parts.settings, parts.misses[:4], strict=True)
    clauses = [f"{place} {_corner(setting)}" for place, setting, miss in corners if miss > 1.0]
    apart, *curves = parts.misses[4:]
    if apart > 1.0:
        clauses.append(f"the switch's two corners {100 * APART_MISS * apart:.1f} % apart")
    return clauses + [
        f"the {setting.wanted.peak_db:g} dB curve {CURVE_MISS_DB * miss:.2f} dB off with a peak of "
        f"{setting.peak_db:.2f} dB"
        for setting, miss in zip(parts.settings[::2], curves, strict=True)
        if miss > 1.0
    ]


def _fixed_misses(parts: MeasuredSet) -> list[str]:
    """Return in words how far off the nearest parts without knob or switch are."""
    curves = [f"the curve {CURVE_MISS_DB * miss:.2f} dB off" for miss in parts.misses[1:]]
    return [f"the corner at {_corner(parts.settings[0])}", *curves]


def _corner(setting: Setting) -> str:
    """Return a corner and how far it is off."""
    return f"{format_hertz(round(setting.corner_hz, 1))} ({100 * setting.corner_off:+.1f} %)"


def _check_word(name: str, word: str, allowed: tuple[str, ...]) -> None:
    """Raise an error for a word that is none of those that there are."""
    if word not in allowed:
        raise CircuitError(f"{name} must be one of {', '.join(allowed)}, got {word!r}{nearest_hint(word, allowed)}")


def _check_hertz(name: str, value_hz: float) -> None:
    """Raise an error for a frequency that no octave circuit's filter has."""
    if not LOWEST_HZ <= value_hz <= HIGHEST_HZ:
        came = format_hertz(value_hz) if 0.0 < value_hz <= 1e7 else f"{value_hz:g} Hz"
        raise CircuitError(f"{name} must be {format_hertz(LOWEST_HZ)} to {format_hertz(HIGHEST_HZ)}, got {came}")


def _check_series(capacitors: str, resistors: str) -> None:
    """Raise an error for a series that there is not, or that capacitors are not sold in."""
    series(resistors)
    series(capacitors)
    if capacitors not in CAPACITOR_SERIES:
        raise CircuitError(
            f"capacitors are sold in {', '.join(CAPACITOR_SERIES)} and no finer, got {capacitors!r}; take E24?"
        )


def _check_pots(pots_ohm: tuple[float, ...], ratio: float) -> None:
    """Raise an error for a pot that there is not, or for pots of which none reaches from end to end."""
    for pot_ohm in pots_ohm:
        if not LEAST_POT_OHM <= pot_ohm <= MOST_POT_OHM:
            raise CircuitError(
                f"a pot must be {format_ohms(LEAST_POT_OHM)} to {format_ohms(MOST_POT_OHM)}, got {pot_ohm:g} Ω"
            )
    largest = max(pots_ohm or DUAL_POTS_OHM)
    reach = (1.0 + largest / LEAST_END_OHM) * (1.0 + CORNER_MISS) / (1.0 - CORNER_MISS)
    if ratio <= reach:
        return
    needed = [pot for pot in DUAL_POTS_OHM if 1.0 + pot / LEAST_END_OHM >= ratio]
    hint = f"; take {format_ohms(needed[0])} or more" if needed else "; ask for a smaller sweep"
    which = f"a pot of {format_ohms(largest)}" if pots_ohm else f"the largest pot, {format_ohms(largest)},"
    raise CircuitError(
        f"the high end must be at most {1.0 + largest / LEAST_END_OHM:.4g} times the low end for {which} with an end "
        f"resistor of {format_ohms(LEAST_END_OHM)}, got {ratio:.4g} times{hint}"
    )
