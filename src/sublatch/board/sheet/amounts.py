"""Amounts as they stand on the sheet, and where on the board a probe reaches a net."""

from __future__ import annotations

from math import floor, log10

from sublatch.board.netlist import Board

PREFIXES = {-9: "n", -6: "µ", -3: "m", 0: "", 3: "k"}
NARROW = "\N{NO-BREAK SPACE}"
EASY_PINS = ("out", "Q", "/Q", "tip", "common")
"""Pins that a probe finds first: what drives a net."""


def amount(value: float, unit: str, *, digits: int = 3) -> str:
    """Return an amount in a few significant digits with its unit, such as 4.50 V or 312 mV."""
    power, decimals = _scale(value, digits)
    return f"{_scaled(value, power, decimals)}{NARROW}{PREFIXES[power]}{unit}"


def amount_range(low: float, high: float, unit: str, *, digits: int = 3) -> str:
    """Return a range with its unit, both ends to the same place, such as 296–329 mV or −1.21 to −1.17 mV."""
    power, decimals = _scale(max(abs(low), abs(high)), digits)
    dash = " to " if low < 0.0 else "–"
    return f"{_scaled(low, power, decimals)}{dash}{_scaled(high, power, decimals)}{NARROW}{PREFIXES[power]}{unit}"


def amount_within(value: float, low: float, high: float, unit: str) -> str:
    """Return an amount and its range with one unit for all, such as 64.1 (51.1–78.4) mV."""
    power, decimals = _scale(max(abs(low), abs(high)), 3)
    value_text, low_text, high_text = (_scaled(each, power, decimals) for each in (value, low, high))
    return f"{value_text} ({low_text}{' to ' if low < 0.0 else '–'}{high_text}){NARROW}{PREFIXES[power]}{unit}"


def decibels(ratio_db: float) -> str:
    """Return a gain in dB with its sign and one decimal."""
    rounded = round(ratio_db, 1) + 0.0  # no minus before a zero
    return (f"{rounded:+.1f}" if rounded else "0.0").replace("-", "−")


def probe_point(board: Board, net: str) -> str:
    """Return where a net can be reached: its easiest pin and, where there is one, a lead that is on it."""
    pins = [(part, pin) for part, pin in board.on_net(net) if part.kind not in ("package", "battery")]
    easy = [f"{part.reference} {pin}" for part, pin in pins if pin in EASY_PINS and part.kind != "switch"]
    leads = [part.reference for part, _ in pins if part.kind in ("resistor", "capacitor", "electrolytic")]
    return ", ".join(dict.fromkeys([*easy[:1], *leads[:1]]))


def _scale(value: float, digits: int) -> tuple[int, int]:
    """Return the power of ten of a prefix, and decimals that leave so many significant digits."""
    if value == 0.0:
        return 0, 0
    exponent = floor(log10(abs(float(f"{value:.{digits - 1}e}"))))
    power = min(max(3 * (exponent // 3), min(PREFIXES)), max(PREFIXES))
    return power, max(0, digits - 1 - (exponent - power))


def _scaled(value: float, power: int, decimals: int) -> str:
    """Return a number in units of a power of ten."""
    return f"{round(value / 10.0**power, decimals) + 0.0:.{decimals}f}".replace("-", "−")
