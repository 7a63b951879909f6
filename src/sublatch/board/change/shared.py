"""Whether two boards have enough in common to change one into the other, and what is nearest where they have not."""

from __future__ import annotations

from sublatch.board.assemble import board
from sublatch.board.change.find import Change, find_change
from sublatch.board.change.match import HOUSEKEEPING
from sublatch.board.netlist import Component
from sublatch.circuit.model import Circuit
from sublatch.errors import CircuitError

TABLES = ("detector", "output", "mix", "input")
"""Tables of a circuit file that can be kept whatever the others are."""


def check_shared(change: Change) -> None:
    """Refuse a change that is none: nothing to do, or nothing that stays.

    Raises
    ------
    CircuitError
        When the boards are the same, or no part that a circuit file names stays as it is.
    """
    before, after = change.before.circuit, change.after.circuit
    if not change.operations:
        raise CircuitError(
            f"BEFORE and AFTER must be different boards, got {before.title!r} and {after.title!r} with the same parts "
            "and wires; do they differ in where knobs and switches stand alone? That needs no iron"
        )
    if shared_parts(change):
        return
    raise CircuitError(
        f"BEFORE and AFTER must share parts for a change, got {before.title!r} and {after.title!r}, which share none "
        "that their circuit files name: all between the jacks would be taken out and built anew. Build AFTER as a new "
        f"board, with 'sublatch sheet'; {nearest(before, after)}"
    )


def shared_parts(change: Change) -> list[Component]:
    """Return the components that a circuit file names and that stay as they are, on the nets that they are on."""
    altered = {part.reference for one in change.operations for part in one.taken}
    parts = (part for part in change.before.components if part.block not in (HOUSEKEEPING, "supply"))
    return [part for part in parts if part.path and part.value and part.reference not in altered]


def nearest(before: Circuit, after: Circuit) -> str:
    """Return which change comes nearest and works, in words: to AFTER with one table of BEFORE's file kept."""
    stay = {}
    for table in TABLES:
        mixed = after.model_copy(update={table: getattr(before, table)})
        stay[table] = len(shared_parts(find_change(board(before), board(mixed))))
    best = max(stay, key=lambda table: stay[table])
    return f"the nearest that works is AFTER with BEFORE's [{best}] in its file, with which {stay[best]} parts stay"
