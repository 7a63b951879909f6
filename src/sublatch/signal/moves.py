"""Knobs turned and switches thrown while a take plays: what is moved, from where to where, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import isfinite
from numbers import Real

import numpy as np

from sublatch.arrays import Array
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.components.quantities import UNITY
from sublatch.circuit.model import Circuit
from sublatch.errors import CircuitError, nearest_hint

Setting = float | str | bool
"""A knob's position, a switch's, or whether the effect is engaged."""

SWITCHES: dict[str, tuple[Setting, Setting]] = {
    "switches.drive": ("normal", "inverted"),
    "switches.peak": ("flat", "peaked"),
    "engaged": (False, True),
}
"""What each switch can stand at."""
KNOBS = ("knobs.volume", "knobs.direct", "knobs.tone", "knobs.direct_tone")
SWITCH_S = 0.008
"""Time that a thrown switch takes to pass from one sound to the other, where the move does not say."""
SWITCH_RANGE_S = (0.005, 0.010)
"""Long enough not to click at a bass's pitch, short enough to be heard as one instant: common practice, no source."""
SHORTEST_TURN_S = 0.005
"""Least time for a knob's move; no hand is as quick."""
ROUNDING_S = 1e-9


@dataclass(frozen=True)
class Move:
    """One control moved once.

    Attributes
    ----------
    control
        ``"knobs.tone"``, ``"knobs.volume"``, ``"knobs.direct"``, ``"knobs.direct_tone"``, ``"switches.peak"``,
        ``"switches.drive"`` or ``"engaged"``.
    start, end
        Where it stands before and after: 0 to 10 for a knob, the switch's own words, or true and false for ``engaged``.
        The first move of a volume knob that stands at unity starts at ``"unity"``, see `with_start_found`.
    start_s
        When the move begins, in seconds from the take's start.
    end_s
        When a knob arrives, in seconds. A switch may leave it out: its sound changes over in 8 ms.
    """

    control: str
    start: Setting
    end: Setting
    start_s: float
    end_s: float | None = None

    @property
    def stop_s(self) -> float:
        """When the move is over, in seconds."""
        return self.start_s + SWITCH_S if self.end_s is None else self.end_s


def checked_moves(moves: Sequence[Move], circuit: Circuit, *, seconds: float | None = None) -> tuple[Move, ...]:
    """Return moves in the order of their starts, once each of them can be made.

    Parameters
    ----------
    moves
        In any order.
    circuit
        The circuit, which must have the controls.
    seconds
        Length of the take; not looked at when not given.

    Raises
    ------
    CircuitError
        When a control is unknown or not there, a position cannot be, a time is out of order or beyond the take, or
        two moves of one control overlap or do not meet.
    """
    positions = _positions_as_set(circuit)
    for move in moves:
        if move.control not in (*KNOBS, *SWITCHES):
            hint = nearest_hint(str(move.control), (*KNOBS, *SWITCHES))
            raise CircuitError(
                f"a move's control must be one of {', '.join((*KNOBS, *SWITCHES))}, got {move.control!r}{hint}"
            )
        if move.control not in positions:
            raise CircuitError(circuit.absent_controls[move.control])
        _check_settings(move, circuit)
        _check_times(move, seconds)
    ordered = tuple(sorted(moves, key=lambda move: (move.start_s, move.control)))
    for control in positions:
        _check_sequence([move for move in ordered if move.control == control])
    return ordered


def position_at(moves: Sequence[Move], circuit: Circuit, time_s: float) -> dict[str, Setting]:
    """Return where every control of a circuit stands at a time.

    Parameters
    ----------
    moves
        The moves; before its first one a control stands where that one starts.
    circuit
        The circuit; it says where the controls without a move stand.
    time_s
        Seconds from the take's start.

    Returns
    -------
    dict
        Positions of the knobs, 0 to 10, words of the switches, and whether the effect is ``engaged``. A switch stands
        at its new position from its move's start on.

    Raises
    ------
    CircuitError
        As `checked_moves`, and when the volume knob is moved from unity: that is a number only with a take.
    """
    positions = _positions_as_set(circuit)
    ordered = checked_moves(moves, circuit)
    if any(move.start == UNITY for move in ordered):
        raise CircuitError("where a volume knob at unity stands while it moves is a number only with a take")
    for control in positions:
        control_moves = [move for move in ordered if move.control == control]
        if control_moves and control in KNOBS:
            positions[control] = float(np.interp(time_s, *knob_points(control_moves)))
        elif control_moves:
            positions_begun = [move.end for move in control_moves if move.start_s <= time_s]
            positions[control] = positions_begun[-1] if positions_begun else control_moves[0].start
    return positions


def knob_points(knob_moves: Sequence[Move]) -> tuple[Array, Array]:
    """Return the times in seconds and the positions between which one knob's moves, in order, are straight."""
    times = [time for move in knob_moves for time in (move.start_s, move.stop_s)]
    return np.array(times), np.array([float(position) for move in knob_moves for position in (move.start, move.end)])


def switch_gate(switch_moves: Sequence[Move], *, control: str, count: int, sample_rate: float) -> Array:
    """Return how far a switch is over at each sample (n,), 0 at its first position and 1 at its second.

    Notes
    -----
    It goes over as ½ − ½ cos πx, x from 0 to 1 in the move's time: the sum of both sounds has no step, and no kink.
    """
    second = SWITCHES[control][1]
    time_s = np.arange(count) / sample_rate
    gate = np.full(count, float(switch_moves[0].start == second))
    for move in switch_moves:
        change = float(move.end == second) - float(move.start == second)
        progress = np.clip((time_s - move.start_s) / (move.stop_s - move.start_s), 0.0, 1.0)
        gate += change * (0.5 - 0.5 * np.cos(np.pi * progress))
    return gate


def with_start_found(moves: Sequence[Move], circuit: Circuit) -> tuple[Move, ...]:
    """Return moves that start at numbers: what starts at unity starts where the circuit's volume knob stands."""
    return tuple(replace(move, start=circuit.volume) if move.start == UNITY else move for move in moves)


def _positions_as_set(circuit: Circuit) -> dict[str, Setting]:
    """Return where the controls that a circuit has stand."""
    controls: dict[str, Setting | None] = {
        "knobs.volume": circuit.knobs.volume,
        "knobs.direct": circuit.knobs.direct if circuit.has_direct else None,
        "knobs.tone": circuit.tone,
        "knobs.direct_tone": circuit.direct_tone,
        "switches.drive": circuit.switches.drive,
        "switches.peak": circuit.peak,
        "engaged": True,
    }
    return {control: position for control, position in controls.items() if position is not None}


def _check_settings(move: Move, circuit: Circuit) -> None:
    """Refuse a move from or to where its control cannot stand."""
    for name, value in (("start", move.start), ("end", move.end)):
        if value == UNITY and move.control == "knobs.volume":
            if name == "end":
                raise CircuitError('a move of knobs.volume must end at 0 to 10; it can start at "unity", not end there')
            if circuit.knobs.volume != UNITY:
                raise CircuitError(
                    'a move of knobs.volume can start at "unity" only where the knob stands there, got '
                    f"knobs.volume = {circuit.volume:g}"
                )
            continue
        if move.control in SWITCHES:
            allowed = SWITCHES[move.control]
            if not any(type(value) is type(position) and value == position for position in allowed):
                allowed_words = " or ".join(str(position).lower() for position in allowed)
                raise CircuitError(f"a move of {move.control} must {name} at {allowed_words}, got {value!r}")
        elif isinstance(value, bool) or not isinstance(value, Real) or not 0.0 <= float(value) <= FULL_TURN:
            is_tenfold = isinstance(value, Real) and FULL_TURN < float(value) <= 10 * FULL_TURN
            hint = f"; was it meant as {float(value) / 10:g}?" if is_tenfold else ""
            raise CircuitError(f"a move of {move.control} must {name} at 0 to 10, got {value!r}{hint}")


def _check_times(move: Move, seconds: float | None) -> None:
    """Refuse times that are out of order or beyond the take."""
    times = f"start_s = {move.start_s}" + ("" if move.end_s is None else f" and end_s = {move.end_s}")
    if not (isfinite(move.start_s) and isfinite(move.stop_s) and move.start_s >= 0.0):
        raise CircuitError(f"a move of {move.control} must have times of 0 s or more, got {times}")
    if move.control in KNOBS and move.end_s is None:
        raise CircuitError(f"a move of {move.control} must say when the knob arrives, got no end_s")
    if move.stop_s < move.start_s:
        raise CircuitError(
            f"a move of {move.control} must end after its start, got {times}; are they the wrong way round?"
        )
    length_s = move.stop_s - move.start_s
    if move.control in KNOBS and length_s < SHORTEST_TURN_S - ROUNDING_S:
        raise CircuitError(f"a move of {move.control} must take at least {1e3 * SHORTEST_TURN_S:g} ms, got {times}")
    low, high = SWITCH_RANGE_S
    if move.control in SWITCHES and not low - ROUNDING_S <= length_s <= high + ROUNDING_S:
        raise CircuitError(
            f"a move of {move.control} must take {1e3 * low:g} to {1e3 * high:g} ms, got {times}; leave end_s out"
        )
    last_s = move.start_s if move.end_s is None else move.end_s
    if seconds is not None and last_s > seconds + ROUNDING_S:
        hint = "; are these milliseconds?" if last_s > 100.0 * max(seconds, 1.0) else ""
        raise CircuitError(f"a move of {move.control} must lie within the take's {seconds:.3f} s, got {times}{hint}")


def _check_sequence(control_moves: Sequence[Move]) -> None:
    """Refuse moves of one control, in order, that overlap or do not meet."""
    for before, after in pairwise(control_moves):
        if after.start_s < before.stop_s - ROUNDING_S:
            raise CircuitError(
                f"moves of {after.control} must follow one another, got one at {after.start_s:g} s while the one "
                f"before lasts until {before.stop_s:g} s"
            )
        if after.start != before.end:
            raise CircuitError(
                f"a move of {after.control} must start where the one before ended, at {before.end}, got "
                f"{after.start} at {after.start_s:g} s"
            )


def on_samples(move: Move, sample_rate: float) -> Move:
    """Return a move whose times are brought to the nearest sample."""
    start, stop = (round(time_s * sample_rate) / sample_rate for time_s in (move.start_s, move.stop_s))
    return replace(move, start_s=start, end_s=stop)
