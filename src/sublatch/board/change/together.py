"""Many small steps of one kind at one stage as a single operation, which tells each of them in a table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby

from sublatch.board.change.operations import Kind, Operation
from sublatch.board.netlist import Component

FEWEST = 3
"""Steps that become one: fewer are read as easily one by one."""
KINDS: tuple[Kind, ...] = ("lift", "replace", "move", "tie off")
STAGES = {"overtone": "detector", "latch": "detector"}
"""Blocks of the schematic that are part of a stage of another name."""


def together(operations: Iterable[Operation]) -> tuple[Operation, ...]:
    """Return operations of which many in a row, of one kind and at one stage, are one.

    Parameters
    ----------
    operations
        What is done, in the order of work.
    """
    made: list[Operation] = []
    for (kind, stage), run in groupby(operations, key=lambda one: (one.kind, stage_of(one))):
        several = tuple(run)
        joins = kind in KINDS and stage and len(several) >= FEWEST
        made += [_as_one(kind, several)] if joins else several
    return tuple(made)


def stage_of(operation: Operation) -> str:
    """Return the stage of which an operation takes soldered parts; an empty text for a control or a package."""
    parts = operation.taken or operation.put
    if not parts or any(part.on_panel or part.kind == "package" for part in parts):
        return ""
    return STAGES.get(parts[0].block, parts[0].block)


def _as_one(kind: Kind, operations: Sequence[Operation]) -> Operation:
    """Return operations as one that leads to the same board, and is undone as a whole."""
    taken: dict[str, Component] = {}
    put: dict[str, Component] = {}
    for operation in operations:
        for part in operation.taken:
            if put.pop(part.reference, None) is None:
                taken[part.reference] = part
        put |= {part.reference: part for part in operation.put}
    return Operation(kind, tuple(taken.values()), tuple(put.values()), tuple(operations))
