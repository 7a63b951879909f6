"""Writers of values as the trade writes them, in four digits at most."""

from __future__ import annotations

from sublatch.units import quantity

_SMALL = ((-9, "n"), (-6, "µ"), (-3, "m"), (0, ""))


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


def format_ohms_with_unit(value_ohm: float) -> str:
    """Write a resistance with its unit, in four digits at most, as an order has it.

    Parameters
    ----------
    value_ohm : float
        Ohms, 0.001 to 1e12.

    Returns
    -------
    str
        Text such as "4.7 kΩ", which `ohms` reads back to within 0.05 %.

    Raises
    ------
    UnitError
        If it is outside that range or not a number.
    """
    return quantity.write_plain(value_ohm, quantity.OHM, ((0, ""), (3, "k"), (6, "M")))


def format_farads_with_unit(value_f: float) -> str:
    """Write a capacitance with its unit, in four digits at most, as an order has it.

    Parameters
    ----------
    value_f : float
        Farads, 1e-14 to 10.

    Returns
    -------
    str
        Text such as "47 nF", which `farads` reads back to within 0.05 %.

    Raises
    ------
    UnitError
        If it is outside that range or not a number.
    """
    return quantity.write_plain(value_f, quantity.FARAD, ((-12, "p"), (-9, "n"), (-6, "µ")))


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


def format_amperes(value_a: float) -> str:
    """Write a current with its unit, in four digits at most.

    Parameters
    ----------
    value_a : float
        Amperes, −10 to 10.

    Returns
    -------
    str
        Text such as "250 nA", which `amperes` reads back to within 0.05 %.

    Raises
    ------
    UnitError
        If it is outside that range or not a number.
    """
    return quantity.write_plain(value_a, quantity.AMPERE, ((-15, "f"), (-12, "p"), *_SMALL))


def format_henries(value_h: float) -> str:
    """Write an inductance with its unit, in four digits at most.

    Parameters
    ----------
    value_h : float
        Henries, above 0 and at most 1e4.

    Returns
    -------
    str
        Text such as "650 mH", which `henries` reads back to within 0.05 %.

    Raises
    ------
    UnitError
        If it is outside that range or not a number.
    """
    return quantity.write_plain(value_h, quantity.HENRY, _SMALL)


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
