"""Values as the trade writes them: "4k7" ↔ 4700.0, decibels ↔ ratio, note names ↔ hertz.

Readers take a text or a number and return a float in the SI base unit; a bare number is in that unit
already. They know the letter codes of IEC 60062:2016 ("4k7", "R47", "2u2") and SI prefixes ("4.7 kΩ",
"500mV"); m (milli) and M (mega) differ, k and K are both kilo. Writers give at most four digits.
"""

from __future__ import annotations

from sublatch.units import quantity
from sublatch.units.scales import CONCERT_A_HZ, cents, db_to_ratio, hz_to_note, note_to_hz, ratio_to_db

__all__ = [
    "CONCERT_A_HZ",
    "cents",
    "db_to_ratio",
    "decibels",
    "farads",
    "format_decibels",
    "format_farads",
    "format_hertz",
    "format_ohms",
    "format_seconds",
    "format_volts",
    "fraction",
    "hertz",
    "hz_to_note",
    "note_to_hz",
    "ohms",
    "ratio_to_db",
    "seconds",
    "volts",
]

_SMALL = ((-9, "n"), (-6, "µ"), (-3, "m"), (0, ""))


def ohms(text: str | float) -> float:
    """Read a resistance such as "4k7", "470R", "R47", "4.7 kΩ" or 4700.

    Parameters
    ----------
    text : str, int or float
        What was written; a bare number is in ohms.

    Returns
    -------
    float
        Ohms, 0.001 to 1e12.

    Raises
    ------
    UnitError
        If it is not a resistance, or outside 1 mΩ to 1 TΩ. A lone "m" is refused too: "1m" is nearly
        always "1M" mistyped, and 1 mΩ can be written "1mΩ" or "1L".
    """
    return quantity.read(text, quantity.OHM)


def farads(text: str | float) -> float:
    """Read a capacitance such as "47n", "4n7", "2u2", "p33" or "47 nF".

    Parameters
    ----------
    text : str, int or float
        What was written; a bare number is in farads.

    Returns
    -------
    float
        Farads, 1e-14 to 10.

    Raises
    ------
    UnitError
        If it is not a capacitance, or outside 0.01 pF to 10 F.
    """
    return quantity.read(text, quantity.FARAD)


def volts(text: str | float) -> float:
    """Read a voltage such as "9V", "500mV" or "1V5".

    Parameters
    ----------
    text : str, int or float
        What was written; a bare number is in volts.

    Returns
    -------
    float
        Volts, −1000 to 1000.

    Raises
    ------
    UnitError
        If it is not a voltage, or larger than 1 kV either way.
    """
    return quantity.read(text, quantity.VOLT)


def hertz(text: str | float) -> float:
    """Read a frequency such as "300Hz", "3kHz" or "3k3".

    Parameters
    ----------
    text : str, int or float
        What was written; a bare number is in hertz.

    Returns
    -------
    float
        Hertz, above 0 and at most 1e7.

    Raises
    ------
    UnitError
        If it is not a frequency, not above zero, or above 10 MHz.
    """
    return quantity.read(text, quantity.HERTZ)


def seconds(text: str | float) -> float:
    """Read a time such as "20us", "5 ms" or "2s".

    Parameters
    ----------
    text : str, int or float
        What was written; a bare number is in seconds.

    Returns
    -------
    float
        Seconds, 0 to 1000.

    Raises
    ------
    UnitError
        If it is not a time, negative, or above 1000 s.
    """
    return quantity.read(text, quantity.SECOND)


def decibels(text: str | float) -> float:
    """Read a level such as "-60dB" or "+6 dB".

    Parameters
    ----------
    text : str, int or float
        What was written; a bare number is in decibels.

    Returns
    -------
    float
        Decibels, −400 to 400.

    Raises
    ------
    UnitError
        If it is not a level, or beyond 400 dB either way.
    """
    return quantity.read(text, quantity.DECIBEL)


def fraction(text: str | float) -> float:
    """Read a share such as "60%" or 0.6.

    Parameters
    ----------
    text : str, int or float
        What was written; a number without "%" is a share of one.

    Returns
    -------
    float
        Share of one, 0 to 1.

    Raises
    ------
    UnitError
        If it is not a share, or outside 0 to 1.
    """
    return quantity.read(text, quantity.FRACTION)


def format_ohms(value_ohm: float) -> str:
    """Write a resistance as an IEC 60062 code, in four digits at most.

    Parameters
    ----------
    value_ohm : float
        Ohms, 0.001 to 1e12.

    Returns
    -------
    str
        Text such as "4k7", which `ohms` reads back to within 0.05 %.

    Raises
    ------
    UnitError
        If it is outside that range or not a number.
    """
    return quantity.write_code(value_ohm, quantity.OHM, ((0, "R"), (3, "k"), (6, "M"), (9, "G"), (12, "T")))


def format_farads(value_f: float) -> str:
    """Write a capacitance as an IEC 60062 code, in four digits at most.

    Parameters
    ----------
    value_f : float
        Farads, 1e-14 to 10.

    Returns
    -------
    str
        Text such as "47n", which `farads` reads back to within 0.05 %.

    Raises
    ------
    UnitError
        If it is outside that range or not a number.
    """
    letters = ((-12, "p"), (-9, "n"), (-6, "u"), (-3, "m"), (0, "F"))
    return quantity.write_code(value_f, quantity.FARAD, letters)


def format_hertz(value_hz: float) -> str:
    """Write a frequency with its unit, in four digits at most.

    Parameters
    ----------
    value_hz : float
        Hertz, above 0 and at most 1e7.

    Returns
    -------
    str
        Text such as "3.3 kHz", which `hertz` reads back to within 0.05 %.

    Raises
    ------
    UnitError
        If it is outside that range or not a number.
    """
    return quantity.write_plain(value_hz, quantity.HERTZ, ((0, ""), (3, "k"), (6, "M")))


def format_volts(value_v: float) -> str:
    """Write a voltage with its unit, in four digits at most.

    Parameters
    ----------
    value_v : float
        Volts, −1000 to 1000.

    Returns
    -------
    str
        Text such as "500 mV", which `volts` reads back to within 0.05 %.

    Raises
    ------
    UnitError
        If it is outside that range or not a number.
    """
    return quantity.write_plain(value_v, quantity.VOLT, _SMALL)


def format_seconds(value_s: float) -> str:
    """Write a time with its unit, in four digits at most.

    Parameters
    ----------
    value_s : float
        Seconds, 0 to 1000.

    Returns
    -------
    str
        Text such as "20 µs", which `seconds` reads back to within 0.05 %.

    Raises
    ------
    UnitError
        If it is outside that range or not a number.
    """
    return quantity.write_plain(value_s, quantity.SECOND, _SMALL)


def format_decibels(value_db: float) -> str:
    """Write a level with its unit, in four digits at most.

    Parameters
    ----------
    value_db : float
        Decibels, −400 to 400.

    Returns
    -------
    str
        Text such as "-60 dB", which `decibels` reads back to within 0.05 %.

    Raises
    ------
    UnitError
        If it is outside that range or not a number.
    """
    return quantity.write_plain(value_db, quantity.DECIBEL, ((0, ""),))
