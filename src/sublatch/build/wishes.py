"""What may be asked of a filter's parts, and what to say where no parts that are sold come near."""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args

from sublatch.build.curves import THIRD_ORDER_CAPACITORS
from sublatch.build.fixed_search import FixedParts
from sublatch.build.swept_search import (
    APART_MISS,
    CORNER_MISS,
    CURVE_MISS_DB,
    LEAST_END_OHM,
    POTS_OHM,
    TAPERS,
    Stock,
    Sweep,
    SweptParts,
)
from sublatch.circuit.pots import Taper, wiper_fraction
from sublatch.circuit.preferred import series
from sublatch.errors import CircuitError, nearest_hint
from sublatch.units import format_hertz, format_ohms

LOWEST_HZ, HIGHEST_HZ = 10.0, 20e3
HIGHEST_PEAK_DB = 20.0
LEAST_POT_OHM, MOST_POT_OHM = 1e3, 10e6
CAPACITOR_SERIES = ("E3", "E6", "E12", "E24")
"""Capacitors are not sold in finer series (common practice, no source)."""
FIXED_KINDS = ("first-order", "third-order")


def check_sweep(
    sweep: Sweep, pot_ohm: float | None, taper: Taper | None, midpoint: float, capacitors: str, resistors: str
) -> Stock:
    """Return what there is to buy from, or raise CircuitError for what cannot be asked."""
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
    _check_series(capacitors, resistors)
    tapers: tuple[Taper, ...] = TAPERS
    if taper is not None:
        wiper_fraction(5.0, taper=taper, midpoint=midpoint)  # says what is wrong
        tapers = tuple(name for name in get_args(Taper) if name == taper)
    wiper_fraction(5.0, taper="log", midpoint=midpoint)
    _check_pot(pot_ohm, sweep.ratio)
    pots = POTS_OHM if pot_ohm is None else (pot_ohm,)
    return Stock(pots, tapers, midpoint, capacitors, resistors)


def check_fixed(corner_hz: float, kind: str, shape: str, capacitors: str, resistors: str) -> None:
    """Raise CircuitError for what cannot be asked of a filter without knob or switch."""
    for name, value, allowed in (("kind", kind, FIXED_KINDS), ("shape", shape, tuple(THIRD_ORDER_CAPACITORS))):
        if value not in allowed:
            raise CircuitError(
                f"{name} must be one of {', '.join(allowed)}, got {value!r}{nearest_hint(value, allowed)}"
            )
    _check_hertz("the corner", corner_hz)
    _check_series(capacitors, resistors)


def nothing_near(
    wish: Sweep | float, stock: Stock | str, nearest: Sequence[SweptParts] | Sequence[FixedParts]
) -> CircuitError:
    """Return the error that says what no parts come near to, and what the nearest ones give.

    Parameters
    ----------
    wish
        What was asked for: a sweep, or a corner in hertz.
    stock
        What there is to buy from, or the capacitors' series.
    nearest
        Sets of parts, the nearest first; none where there are none at all.
    """
    names = f"{stock.capacitors} capacitors" if isinstance(stock, Stock) else f"{stock} capacitors"
    if isinstance(stock, Stock):
        pot = f", a pot of {format_ohms(stock.pots_ohm[0])}" if len(stock.pots_ohm) == 1 else ""
        names += f"{pot} and {stock.resistors} end resistors"
    start = f"what is asked for must come from parts that are sold, and no {names} come near it"
    if not nearest:
        return CircuitError(f"{start}; try another series or a smaller sweep")
    parts = nearest[0]
    figures = _sweep_misses(wish, parts) if isinstance(wish, Sweep) and isinstance(parts, SweptParts) else []
    if isinstance(wish, float | int) and isinstance(parts, FixedParts):
        figures = [f"the corner {100 * CORNER_MISS * parts.misses[0]:.1f} % off"]
        figures += [f"the curve {CURVE_MISS_DB * miss:.2f} dB off" for miss in parts.misses[1:]]
    tries = "a finer series, another pot or another peak" if isinstance(wish, Sweep) else "a finer series"
    return CircuitError(f"{start}: the nearest have {', '.join(figures)}; try {tries}")


def _sweep_misses(sweep: Sweep, parts: SweptParts) -> list[str]:
    """Return in words where the nearest parts are too far off."""
    flat, peaked = f"{sweep.flat_peak_db:g} dB", f"{sweep.peak_db:g} dB"
    words = (
        *(("the low end, flat,", CORNER_MISS), ("the high end, flat,", CORNER_MISS)),
        *(("the low end, peaked,", CORNER_MISS), ("the high end, peaked,", CORNER_MISS)),
        ("the switch's two corners", APART_MISS),
        *((f"the {flat} curve", CURVE_MISS_DB), (f"the {peaked} curve", CURVE_MISS_DB)),
    )
    told = []
    for (name, unit), miss in zip(words, parts.misses, strict=True):
        if miss > 1.0:
            off = f"{unit * miss:.2f} dB off" if unit == CURVE_MISS_DB else f"{100 * unit * miss:.1f} %"
            told.append(f"{name} {off}" + (" apart" if unit == APART_MISS else "" if "dB" in off else " off"))
    return told


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


def _check_pot(pot_ohm: float | None, ratio: float) -> None:
    """Raise an error for a pot that there is not, or that does not reach from end to end."""
    if pot_ohm is not None and not LEAST_POT_OHM <= pot_ohm <= MOST_POT_OHM:
        raise CircuitError(
            f"a pot must be {format_ohms(LEAST_POT_OHM)} to {format_ohms(MOST_POT_OHM)}, got {pot_ohm:g} Ω"
        )
    largest = max(POTS_OHM) if pot_ohm is None else pot_ohm
    reach = (1.0 + largest / LEAST_END_OHM) * (1.0 + CORNER_MISS) / (1.0 - CORNER_MISS)
    if ratio <= reach:
        return
    needed = [pot for pot in POTS_OHM if 1.0 + pot / LEAST_END_OHM >= ratio]
    hint = f"; take {format_ohms(needed[0])} or more" if needed else "; ask for a smaller sweep"
    which = f"a pot of {format_ohms(largest)}" if pot_ohm is not None else f"the largest pot, {format_ohms(largest)},"
    raise CircuitError(
        f"the high end must be at most {1.0 + largest / LEAST_END_OHM:.4g} times the low end for {which} with an end "
        f"resistor of {format_ohms(LEAST_END_OHM)}, got {ratio:.4g} times{hint}"
    )
