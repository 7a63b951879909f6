"""The change from one board to another: operations in the order of work, and the board that they lead to."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sublatch.board.change.holes import holes
from sublatch.board.change.match import Match, match
from sublatch.board.change.operations import Operation, apply
from sublatch.board.change.sections import place_sections
from sublatch.board.change.together import together
from sublatch.board.change.work import Work
from sublatch.board.netlist import Board, Component


@dataclass(frozen=True)
class Change:
    """What turns one board into another.

    Attributes
    ----------
    before
        The board as it is.
    after
        The board as its own sheet would have it.
    changed
        The board that the operations lead to: it does what `after` does, with the designators of the board before, and
        further ones for what is new. Its nets have the names of `after`.
    operations
        What is done, in the order of work, with nets as the board before names them.
    nets
        For each net of `after`, its name in the names of the board before.
    fixed
        Controls that the box loses, and where each stands for good.
    """

    before: Board
    after: Board
    changed: Board
    operations: tuple[Operation, ...]
    nets: dict[str, str]
    fixed: dict[str, str]

    def net_after(self, net: str) -> str:
        """Return what `changed` calls a net of the operations."""
        return {old: new for new, old in self.nets.items()}.get(net, net)


def find_change(before: Board, after: Board) -> Change:
    """Return what turns one board into another.

    Parameters
    ----------
    before
        The board as it is.
    after
        What it shall do.

    Notes
    -----
    The order of work: what comes out, wires that are cut, controls, parts of other values, leads that move, parts in
    series with a wire, sections of packages, and at last what is added. No part that can stay is touched. Many parts
    of one stage that are lifted, replaced, moved or tied off in a row are one operation.
    """
    found = match(before, after)
    work = Work(found)
    sections = place_sections(found)
    work.lift()
    for parts in sections.packages_out:
        work.do("lift", out=parts)
    work.cut()
    changed_holes = holes(found, work.moves)
    fixed = {str(hole.gone[0].control): hole.at for hole in changed_holes if hole.gone and hole.at}
    work.controls(changed_holes)
    work.replace()
    work.move()
    work.insert()
    for old, new in sections.used:
        work.do("use", out=(old,), into=(new,), twin=found.new)
    for old, spare in sections.tied_off:
        work.do("tie off", out=(old,), into=spare)
    work.add(sections.added)
    operations = together(work.operations)
    parts = apply(operations, before.components)
    changed = Board(after.circuit, _as_after(parts, found, work.counterparts), after.notes, after.left_out)
    return Change(before, after, changed, operations, dict(found.nets), fixed)


def _as_after(parts: tuple[Component, ...], found: Match, counterparts: dict[str, Component]) -> tuple[Component, ...]:
    """Return components with the roles, notes and nets of the board after; what it does not have keeps its own."""
    names = {old: new for new, old in found.nets.items()}
    drawn = {part.role: part.pins for part in found.after.components if part.kind in ("resistor", "capacitor")}
    made = []
    for part in parts:
        like = counterparts.get(part.reference, part)
        pins = tuple((pin, names.get(net, net)) for pin, net in part.pins)
        own = drawn.get(like.role, pins)
        pins = own if sorted(net for _, net in own) == sorted(net for _, net in pins) else pins  # turned round or not
        made.append(replace(like, reference=part.reference, package=part.package, pins=pins))
    return tuple(made)


def fresh_board(change: Change) -> Board:
    """Return what is new on the board that a change leads to, as a board of its own."""
    fresh = {part.reference for one in change.operations for part in one.new}
    parts = tuple(part for part in change.changed.components if part.reference in fresh)
    return replace(change.changed, components=parts)
