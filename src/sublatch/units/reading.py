"""Readers of values as the trade writes them: a text or a number becomes a float in the SI base unit."""

from __future__ import annotations

from sublatch.units import quantity


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


def amperes(text: str | float) -> float:
    """Read a current such as "65pA", "250 nA" or "-2mA".

    Parameters
    ----------
    text : str, int or float
        What was written; a bare number is in amperes.

    Returns
    -------
    float
        Amperes, −10 to 10.

    Raises
    ------
    UnitError
        If it is not a current, or larger than 10 A either way.
    """
    return quantity.read(text, quantity.AMPERE)


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
