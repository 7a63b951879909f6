"""Controls that are moved while a take plays, as a plan writes them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from sublatch import units
from sublatch.checked import Checked, Unit, shown
from sublatch.circuit.model import Circuit
from sublatch.errors import CircuitError
from sublatch.signal.moves import SWITCHES, Move, checked_moves, position_at


def _position(value: Any) -> Any:
    """Refuse where no control can be moved to."""
    if not isinstance(value, (bool, int, float, str)):
        raise ValueError(f"must be a knob's number, a switch's word, true or false, got {shown(value)}")
    return value


Time = Annotated[float, BeforeValidator(units.seconds), Unit("s"), Field(ge=0.0, le=1000.0)]
"""A time of a take, 0 to 1000 s."""


class MoveEntry(Checked):
    """One control moved once; it sets out from where it stands then."""

    control: str = Field(
        min_length=1,
        description="`knobs.tone`, `knobs.volume`, `knobs.direct`, `knobs.direct_tone`, `switches.peak`, "
        "`switches.drive` or `engaged`.",
    )
    to: Annotated[Any, BeforeValidator(_position)] = Field(
        description="Where it is moved to: 0 to 10, the switch's word, or for `engaged` true or false."
    )
    start: Time = Field(description="When the move begins, from the take's start.")
    end: Time | None = Field(None, description="When a knob arrives; a switch is thrown at once and has none.")


def planned_moves(entries: Sequence[MoveEntry], circuit: Circuit) -> tuple[Move, ...]:
    """Return a candidate's moves in order of time, each from where its control stands by then.

    Parameters
    ----------
    entries
        The moves as the plan has them, in any order.
    circuit
        The candidate's circuit, which says where its controls stand at first. Whether it is ``engaged`` at first is
        told by the first move: it is not when that one engages it.

    Raises
    ------
    CircuitError
        When a move cannot be made, or leads nowhere.
    """
    positions = position_at((), circuit, 0.0)
    moves: list[Move] = []
    for entry in sorted(entries, key=lambda entry: entry.start):
        to = entry.to if isinstance(entry.to, (bool, str)) else float(entry.to)
        if entry.control == "engaged" and isinstance(to, bool) and all(move.control != "engaged" for move in moves):
            positions["engaged"] = not to
        start = positions.get(entry.control, to)
        if entry.control in positions and type(start) is type(to) and start == to:
            to_shown = str(to).lower() if entry.control in SWITCHES else shown(to)
            raise CircuitError(
                f"a move of {entry.control} must lead elsewhere, got to = {to_shown} at {entry.start:g} s, where it "
                "stands already"
            )
        positions[entry.control] = to
        moves.append(Move(entry.control, start, to, entry.start, entry.end))
    try:
        return checked_moves(moves, circuit)
    except CircuitError as problem:
        raise CircuitError(in_plan_words(problem)) from None


def move_in_words(move: Move) -> str:
    """Return a move as a cell of a table has it: "knobs.tone 2 to 8 from 3 s to 6 s"."""
    start, end = (str(at).lower() if isinstance(at, bool) else shown(at).strip("'") for at in (move.start, move.end))
    when = f"at {move.start_s:g} s" if move.end_s is None else f"from {move.start_s:g} s to {move.end_s:g} s"
    return f"{move.control} {start} to {end} {when}"


def in_plan_words(problem: CircuitError) -> str:
    """Return a problem with the names that times have in a plan."""
    return str(problem).replace("start_s", "start").replace("end_s", "end")
