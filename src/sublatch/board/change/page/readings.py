"""What a meter finds on any net of a board, at rest and with a tone: the sheet's own figures, asked net by net."""

from __future__ import annotations

from dataclasses import dataclass

from sublatch.board.netlist import BIAS, STILL, ZERO, Board
from sublatch.board.sheet.amounts import amount, amount_range
from sublatch.board.sheet.bench_table import BenchTable, bench_table, held_still_row
from sublatch.board.sheet.idle_voltages import NEAR_SUPPLY_V, IdleRow, idle_rows, resting_v

LOGIC = ("latch", "divider")
"""Blocks whose nets, inputs of comparators apart, are at 0 V or at the supply."""
LINEAR = {"input", "overtone", "detector", "filter", "mix", "output"}
"""Blocks on whose nets alone the bench table's tone is a sine that the network tells."""
NO_OFFSET_V = 1e-4
"""A smaller offset is called none."""
READABLE_V = 1e-3
"""Below it a plain meter tells nothing."""
NOTHING = "–"


@dataclass(frozen=True)
class Reading:
    """What is to be found on a net.

    Attributes
    ----------
    against
        Where the meter's other lead goes.
    at_rest, within
        Direct voltage without a signal, and the range that is in order.
    tone, between
        Alternating voltage with the bench table's tone and the drive held high, RMS, and its range; a dash where
        nothing is said.
    """

    against: str
    at_rest: str
    within: str
    tone: str = NOTHING
    between: str = NOTHING


@dataclass(frozen=True)
class Bench:
    """A board on the bench, with its tables worked out once."""

    board: Board
    table: BenchTable
    idle: dict[str, IdleRow]

    def reading(self, net: str) -> Reading:
        """Return what is to be found on a net."""
        if net == ZERO:
            return Reading(ZERO, "0 V", "the black lead’s place")
        against, at_rest, within = self._at_rest(net)
        blocks = {part.block for part, _ in self.board.on_net(net)}
        told = blocks <= LINEAR or (blocks & LINEAR and net in ("note", "octave"))
        row = held_still_row(self.board, net, level_v=self.table.level_v) if told and net not in STILL else None
        if row is None:
            return Reading(against, at_rest, within)
        if row.high_v < READABLE_V:
            return Reading(against, at_rest, within, "nothing", f"below {amount(READABLE_V, 'V', digits=1)}")
        return Reading(against, at_rest, within, amount(row.rms_v, "V"), amount_range(row.low_v, row.high_v, "V"))

    def _at_rest(self, net: str) -> tuple[str, str, str]:
        """Return against what, which voltage and within which range a net rests."""
        if net in self.idle:
            row = self.idle[net]
            return row.against, row.expect, row.between
        pins = list(self.board.on_net(net))
        if any(part.block in LOGIC and part.kind in ("flip-flop", "switch") for part, _ in pins):
            either = f"0 V or {amount(self.board.circuit.supply, 'V')}"
            return ZERO, either, f"± {amount(NEAR_SUPPLY_V, 'V', digits=2)}"
        if not {part.block for part, _ in pins} & {*LINEAR, "octave"}:
            return NOTHING, NOTHING, NOTHING
        if any(part.kind == "jack" for part, _ in pins):  # behind a capacitor
            return ZERO, "0 V", NOTHING
        off_v = None if any(part.block == "latch" for part, _ in pins) else resting_v(self.board, net)
        within = "as good as none" if off_v is not None and off_v < NO_OFFSET_V else None
        return BIAS, "0 V", within or (NOTHING if off_v is None else f"± {amount(off_v, 'V', digits=2)}")


def bench(board: Board) -> Bench:
    """Return a board on the bench."""
    return Bench(board, bench_table(board), {row.net: row for row in idle_rows(board)})
