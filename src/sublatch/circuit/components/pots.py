"""Potentiometers: from the position of a knob to the two resistances of its track.

Position runs from 0 (fully anticlockwise) to 10 (fully clockwise). A taper says how the share of the track
below the wiper follows the position; its midpoint is that share at half rotation.
"""

from __future__ import annotations

import math
from typing import Literal, get_args, overload

import numpy as np
from numpy.typing import ArrayLike

from sublatch.arrays import Array
from sublatch.errors import CircuitError, nearest_hint

Taper = Literal["linear", "log", "reverse-log"]

FULL_TURN = 10.0  # knob position fully clockwise
AUDIO_MIDPOINT = 0.15  # share of the track at half rotation; 10 % to 20 % is sold: common practice, no source
_MIDPOINT_MIN = 1e-6  # 1 Ω of a 1 MΩ track: no real track's end is as good


@overload
def wiper_fraction(position: float, *, taper: Taper = ..., midpoint: float = ...) -> float: ...
@overload
def wiper_fraction(position: Array, *, taper: Taper = ..., midpoint: float = ...) -> Array: ...
def wiper_fraction(
    position: float | Array, *, taper: Taper = "linear", midpoint: float = AUDIO_MIDPOINT
) -> float | Array:
    """Return the share of the track that lies between the anticlockwise end and the wiper.

    Parameters
    ----------
    position : float or ndarray
        Knob position, 0 to 10.
    taper : {"linear", "log", "reverse-log"}
        How the share follows the position.
    midpoint : float
        Share at half rotation of the log taper, 1e-6 to below 0.5; the reverse-log taper mirrors it (0.15
        gives 0.85 at half rotation) and the linear one ignores it.

    Returns
    -------
    float or ndarray
        Share of the track resistance, 0 to 1, same shape.

    Raises
    ------
    CircuitError
        If a position, the taper or the midpoint is not as described.

    Notes
    -----
    With x = position/10 and midpoint m: r(x) = (bˣ − 1)/(b − 1), b = (1/m − 1)², so r(½) = m; reverse-log is
    1 − r(1 − x). Naming a log taper by its share at half rotation is common practice, no source.
    """
    rate = _taper_rate(taper, midpoint)
    turn = _checked_positions(position) / FULL_TURN
    if taper == "linear":
        share = turn
    elif taper == "log":
        share = _log_share(turn, rate)
    else:
        share = 1.0 - _log_share(1.0 - turn, rate)
    return share if share.ndim else float(share)


@overload
def position_of(fraction: float, *, taper: Taper = ..., midpoint: float = ...) -> float: ...
@overload
def position_of(fraction: Array, *, taper: Taper = ..., midpoint: float = ...) -> Array: ...
def position_of(fraction: float | Array, *, taper: Taper = "linear", midpoint: float = AUDIO_MIDPOINT) -> float | Array:
    """Return the knob position at which the wiper has a given share of the track below it.

    Parameters
    ----------
    fraction : float or ndarray
        Share of the track between the anticlockwise end and the wiper, 0 to 1.
    taper : {"linear", "log", "reverse-log"}
        How the share follows the position.
    midpoint : float
        As for `wiper_fraction`.

    Returns
    -------
    float or ndarray
        Knob position, 0 to 10, same shape.

    Raises
    ------
    CircuitError
        If a share, the taper or the midpoint is not as described.

    Notes
    -----
    The inverse of `wiper_fraction`: x = ln(1 + r·(b − 1))/ln b.
    """
    rate = _taper_rate(taper, midpoint)
    share = np.asarray(fraction, dtype=np.float64)
    if not np.all((share >= 0.0) & (share <= 1.0)):
        hint = "; was it meant in percent?" if np.max(share) > 1.0 else ""
        raise CircuitError(f"a share of the track must be 0 to 1, got {fraction}{hint}")
    if taper == "linear":
        turn = share
    elif taper == "log":
        turn = _log_turn(share, rate)
    else:
        turn = 1.0 - _log_turn(1.0 - share, rate)
    position = np.clip(FULL_TURN * turn, 0.0, FULL_TURN)
    return position if share.ndim else float(position)


@overload
def wiper_resistances(
    track_ohm: float, position: float, *, taper: Taper = ..., midpoint: float = ...
) -> tuple[float, float]: ...
@overload
def wiper_resistances(
    track_ohm: float, position: Array, *, taper: Taper = ..., midpoint: float = ...
) -> tuple[Array, Array]: ...
def wiper_resistances(
    track_ohm: float,
    position: float | Array,
    *,
    taper: Taper = "linear",
    midpoint: float = AUDIO_MIDPOINT,
) -> tuple[float | Array, float | Array]:
    """Return the resistances on the two sides of the wiper.

    Parameters
    ----------
    track_ohm : float
        Resistance of the whole track, above 0 Ω.
    position : float or ndarray
        Knob position, 0 to 10.
    taper : {"linear", "log", "reverse-log"}
        How the wiper's share of the track follows the position.
    midpoint : float
        As for `wiper_fraction`.

    Returns
    -------
    lower_ohm, upper_ohm : float or ndarray
        Anticlockwise end to wiper and wiper to clockwise end, in ohms, together `track_ohm`; one of them
        is exactly 0 at each end of the travel.

    Raises
    ------
    CircuitError
        If the track is not above zero ohms, or the knob is not as `wiper_fraction` describes.
    """
    if not 0.0 < track_ohm < math.inf:
        raise CircuitError(f"a pot's track must be above 0 Ω and finite, got {track_ohm} Ω")
    lower_ohm = track_ohm * wiper_fraction(position, taper=taper, midpoint=midpoint)
    return lower_ohm, track_ohm - lower_ohm


def _log_share(turn: Array, rate: float) -> Array:
    """Return (bˣ − 1)/(b − 1) with rate = ln b, in a form that neither overflows nor cancels."""
    return np.asarray(np.exp((turn - 1.0) * rate) * np.expm1(-turn * rate) / np.expm1(-rate))


def _log_turn(share: Array, rate: float) -> Array:
    """Return the x at which the log law with rate = ln b reaches `share`."""
    return np.asarray(np.log1p(share * np.expm1(rate)) / rate)


def _taper_rate(taper: str, midpoint: float) -> float:
    """Return ln b of the exponential law (0 for a linear track), after checking taper and midpoint."""
    tapers = get_args(Taper)
    if taper not in tapers:
        raise CircuitError(f"a taper must be one of {', '.join(tapers)}, got {taper!r}{_taper_hint(taper)}")
    if taper == "linear":
        return 0.0
    if not _MIDPOINT_MIN <= midpoint < 0.5:
        raise CircuitError(
            f"the midpoint of a log taper must be from {_MIDPOINT_MIN:g} to below 0.5, got {midpoint}"
            + _midpoint_hint(midpoint)
        )
    return 2.0 * math.log1p((1.0 - 2.0 * midpoint) / midpoint)  # ln b = 2·ln((1 − m)/m)


def _taper_hint(taper: str) -> str:
    """Return a guess at the taper that was meant."""
    other_names = {"audio": "log", "logarithmic": "log", "antilog": "reverse-log", "anti-log": "reverse-log"}
    word = str(taper).lower()
    if word in ("a", "b", "c"):
        return "; taper letters changed their meaning over the years, so give the word"
    return nearest_hint(other_names.get(word, word), get_args(Taper))


def _midpoint_hint(midpoint: float) -> str:
    """Return a guess at the midpoint that was meant."""
    if midpoint == 0.5:
        return "; that is a linear taper"
    if 0.5 < midpoint < 1.0:
        return f"; for {midpoint:g} at half rotation use reverse-log with {1.0 - midpoint:g}"
    return f"; was it meant as {midpoint / 100.0:g}?" if 1.0 <= midpoint < 50.0 else ""


def _checked_positions(position: ArrayLike) -> Array:
    """Return knob positions as an array, or raise CircuitError for the first one off the scale."""
    positions = np.asarray(position, dtype=np.float64)
    wrong = positions[~((positions >= 0.0) & (positions <= FULL_TURN))]
    if wrong.size == 0:
        return positions
    first = float(wrong.flat[0])
    hint = ""
    if 2.0 * FULL_TURN <= first <= 100.0:
        hint = f"; was it meant as {first / 10.0:g}?"
    elif first > FULL_TURN:
        hint = "; 10 is fully clockwise, there is nothing beyond it"
    elif first < 0.0:
        hint = "; 0 is fully anticlockwise"
    raise CircuitError(f"a knob position must be 0 to 10, got {first:g}{hint}")
