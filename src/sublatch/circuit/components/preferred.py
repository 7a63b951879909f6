"""Preferred values: the E series that resistors and capacitors are sold in.

Each series is one decade, 1.0 up to but not including 10, as a rising tuple. A preferred value is a member
times a power of ten, and is returned as the exact decimal (4700.0, 4.7e-9).
"""

from __future__ import annotations

import math

import numpy as np

from sublatch.arrays import Array
from sublatch.errors import CircuitError, nearest_hint

_SAME = 1e-9  # two values nearer than this, relatively, are the same part
_LOWEST, _HIGHEST = 1e-30, 1e30  # far beyond any part; keeps the number of decades small


def _rounded_series(count: int, exceptions: dict[int, int] | None = None) -> tuple[float, ...]:
    """Return round(100·10^(i/count))/100 for one decade, with the standard's exceptions put in."""
    hundredths = (round(100.0 * 10.0 ** (i / count)) for i in range(count))
    return tuple((exceptions or {}).get(value, value) / 100.0 for value in hundredths)


# IEC 60063:2015 (edition from memory). E24 does not follow the rounding rule of the longer series.
E24 = (
    *(1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0),
    *(3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1),
)
E12 = E24[::2]
E6 = E24[::4]
E3 = E24[::8]
E192 = _rounded_series(192, {919: 920})
E96 = _rounded_series(96)
E48 = _rounded_series(48)

_SERIES = {"E3": E3, "E6": E6, "E12": E12, "E24": E24, "E48": E48, "E96": E96, "E192": E192}


def series(name: str) -> tuple[float, ...]:
    """Return one decade of a preferred series.

    Parameters
    ----------
    name : str
        "E3", "E6", "E12", "E24", "E48", "E96" or "E192".

    Returns
    -------
    tuple of float
        The members from 1.0 up to below 10, rising, no unit.

    Raises
    ------
    CircuitError
        If there is no such series.

    Notes
    -----
    E48 and E96 are round(100·10^(i/n)); so is E192, but for 920 in place of 919. IEC 60063:2015 (edition
    from memory).
    """
    try:
        return _SERIES[name]
    except (KeyError, TypeError):
        known = ", ".join(_SERIES)
        hint = nearest_hint(str(name).upper(), _SERIES)
        raise CircuitError(f"a preferred series must be one of {known}, got {name!r}{hint}") from None


_members = series  # the functions below have a parameter of the same name


def nearest(value: float, series: str = "E24") -> float:
    """Return the preferred value nearest to `value` by ratio; of two equally near, the lower.

    Parameters
    ----------
    value : float
        Any unit, 1e-30 to 1e30.
    series : str
        Name of the series.

    Returns
    -------
    float
        The preferred value, in the unit of `value`.

    Raises
    ------
    CircuitError
        If there is no such series or the value is out of range.
    """
    members = _members(series)
    index, _ = _place(value, members)
    lower, upper = _value_at(index, members), _value_at(index + 1, members)
    return lower if value / lower <= upper / value else upper


def below(value: float, series: str = "E24") -> float:
    """Return the largest preferred value that is less than `value`.

    Parameters
    ----------
    value : float
        Any unit, 1e-30 to 1e30. A preferred value, to one part in 10⁹, gives its lower neighbour.
    series : str
        Name of the series.

    Returns
    -------
    float
        The preferred value, in the unit of `value`.

    Raises
    ------
    CircuitError
        If there is no such series or the value is out of range.
    """
    members = _members(series)
    index, is_member = _place(value, members)
    return _value_at(index - is_member, members)


def above(value: float, series: str = "E24") -> float:
    """Return the smallest preferred value that is greater than `value`.

    Parameters
    ----------
    value : float
        Any unit, 1e-30 to 1e30. A preferred value, to one part in 10⁹, gives its upper neighbour.
    series : str
        Name of the series.

    Returns
    -------
    float
        The preferred value, in the unit of `value`.

    Raises
    ------
    CircuitError
        If there is no such series or the value is out of range.
    """
    members = _members(series)
    index, _ = _place(value, members)
    return _value_at(index + 1, members)


def values_between(low: float, high: float, series: str = "E24") -> Array:
    """Return all preferred values from `low` to `high`, both ends included.

    Parameters
    ----------
    low, high : float
        Ends of the range, any one unit, 1e-30 to 1e30.
    series : str
        Name of the series.

    Returns
    -------
    ndarray, shape (n,)
        Rising preferred values in the unit of the ends; empty if there is none.

    Raises
    ------
    CircuitError
        If there is no such series, an end is out of range, or the ends are the wrong way round.
    """
    members = _members(series)
    (first, first_is_member), (last, _) = _place(low, members), _place(high, members)
    if low > high:
        raise CircuitError(f"the lower end must not be above the upper end, got {low:g} to {high:g}; swap them?")
    start = first if first_is_member else first + 1
    return np.array([_value_at(i, members) for i in range(start, last + 1)], dtype=np.float64)


def is_preferred(value: float, series: str = "E24") -> bool:
    """Return whether `value` is a member of the series times a power of ten, to one part in 10⁹.

    Raises
    ------
    CircuitError
        If there is no such series or the value is out of range.
    """
    _, is_member = _place(value, _members(series))
    return is_member


def _value_at(index: int, members: tuple[float, ...]) -> float:
    """Return the preferred value `index` places above 1.0, as the exact decimal."""
    decade, member = divmod(index, len(members))
    return float(f"{members[member]}e{decade}")


def _place(value: float, members: tuple[float, ...]) -> tuple[int, bool]:
    """Return how many places above 1.0 the largest member up to `value` stands, and whether it is `value`."""
    if not _LOWEST <= value <= _HIGHEST:
        raise CircuitError(f"a part value must be from {_LOWEST:g} to {_HIGHEST:g}, got {value}")
    index = math.floor(math.log10(value)) * len(members)
    while _value_at(index + 1, members) <= value * (1.0 + _SAME):
        index += 1
    return index, _value_at(index, members) >= value * (1.0 - _SAME)
