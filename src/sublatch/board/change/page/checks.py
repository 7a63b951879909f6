"""What to check once a change is made: joints before power, then readings at the points that changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sublatch.board.change.find import Change
from sublatch.board.change.match import HOUSEKEEPING
from sublatch.board.change.page.readings import Bench, Reading
from sublatch.board.change.page.words import RAILS
from sublatch.board.change.points import Point, lead_name
from sublatch.board.netlist import Board
from sublatch.board.sheet.amounts import amount_within
from sublatch.board.sheet.bench_table import BenchRow


@dataclass(frozen=True)
class Check:
    """Readings at one place, before work begins and once it is done.

    Attributes
    ----------
    letter
        Its point, empty where it has none.
    leads
        Where it is reached, before and after.
    before, after
        What is to be found; None where the place is not there.
    joined
        The point that a place without a reading after was joined to; empty where it was not.
    """

    letter: str
    leads: str
    before: Reading | None
    after: Reading | None
    joined: str = ""

    @property
    def against(self) -> str:
        """Where the meter's other lead goes."""
        told = self.before if self.after is None else self.after
        against = "–" if told is None else told.against
        return RAILS.get(against, against).removeprefix("the ")


@dataclass(frozen=True)
class FilterCheck:
    """The output filter at one position of knob and switch: the bench table's tones, and what is found of each."""

    where: str
    readings: tuple[str, ...]


def joints(change: Change, points: Sequence[Point]) -> list[str]:
    """Return what a meter on ohms finds once all is soldered, without power and with the packages out."""
    letters = {point.net: point.letter for point in points}
    made = []
    for operation in change.operations:
        parts = {part.reference: part for part in operation.taken if part.control is None}
        for (reference, pin), (start, to) in operation.moves.items():
            if reference not in parts or operation.kind in ("use", "tie off"):
                continue
            lead = lead_name(parts[reference], pin)
            joined = f"{lead} to {letters.get(to, to)}: below 1 Ω"
            apart = f"; to {letters.get(start, start)}: no longer" if operation.kind in ("cut", "move") else ""
            made.append(joined + apart)
    return list(dict.fromkeys(made))


def checks(change: Change, points: Sequence[Point], before: Bench, after: Bench) -> list[Check]:
    """Return what is found at the points, and behind them up to the output, before and after.

    Notes
    -----
    Of new wires only those are told that reach a part that was there or an op-amp's output: the others run between a
    control and what is added for it.
    """
    there = {net for part in change.changed.components for _, net in part.pins}
    made = []
    for point in points:
        net = change.net_after(point.net)
        if point.is_there or _reaches_what_was_there(change, net):
            old = before.reading(point.net) if point.is_there else None
            new = after.reading(net) if net in there else None
            joined = "" if new else _joined(change, point, points)
            made.append(Check(point.letter, ", ".join(point.leads), old, new, joined))
    told = {change.net_after(point.net) for point in points}
    old_rows = {row.net for row in before.table.held_still}
    for net in (row.net for row in after.table.held_still if row.net not in told):
        old = before.reading(net) if net in old_rows else None
        made.append(Check("", ", ".join(_leads(change.changed, net)), old, after.reading(net)))
    return made


def filter_checks(rows: Sequence[BenchRow]) -> list[FilterCheck]:
    """Return the bench table's rows of the output filter, one line for each position of knob and switch."""
    positions = dict.fromkeys((row.tone, row.peak) for row in rows)
    return [
        FilterCheck(
            ", ".join(filter(None, (None if tone is None else f"tone {tone:g}", peak))) or "–",
            tuple(_told(row) for row in rows if (row.tone, row.peak) == (tone, peak)),
        )
        for tone, peak in positions
    ]


def _told(row: BenchRow) -> str:
    """Return a reading with its range."""
    return amount_within(row.rms_v, row.low_v, row.high_v, "V")


def _joined(change: Change, point: Point, points: Sequence[Point]) -> str:
    """Return the point to which all leads of another went; an empty text where they did not go together."""
    ways = {to for one in change.operations for start, to in one.moves.values() if start == point.net}
    return next((other.letter for other in points if {other.net} == ways), "")


def _reaches_what_was_there(change: Change, net: str) -> bool:
    """Return whether a new net is on a part of the board before, or on an op-amp's output."""
    old = {part.reference for part in change.before.components}
    pins = [(part, pin) for part, pin in change.changed.on_net(net) if part.block != HOUSEKEEPING]
    return any(part.reference in old or (part.kind == "op-amp" and pin == "out") for part, pin in pins)


def _leads(board: Board, net: str) -> Iterator[str]:
    """Yield the two leads on a net that a probe finds first."""
    pins = sorted(board.on_net(net), key=lambda one: (one[1] != "out", len(one[0].pins)))
    names = dict.fromkeys(lead_name(part, pin) for part, pin in pins if part.kind != "package")
    yield from list(names)[:2]
