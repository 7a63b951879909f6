"""What a meter finds on any net of a board, at rest and with a tone: the sheet's own figures, asked net by net."""

from __future__ import annotations

from dataclasses import dataclass

from sublatch.board.netlist import BIAS, STILL, ZERO, Board
from sublatch.board.sheet.amounts import amount, amount_within
from sublatch.board.sheet.bench_table import BenchTable, bench_table, held_still_row
from sublatch.board.sheet.idle_voltages import IdleRow, idle_rows, resting_v

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
    at_rest
        Direct voltage without a signal, with the range that is in order.
    tone
        Alternating voltage with the bench table's tone and the drive held high, RMS, with its range; a dash where
        nothing is said.
    """

    against: str
    at_rest: str
    tone: str = NOTHING


@dataclass(frozen=True)
class Bench:
    """A board on the bench, with its tables worked out once."""

    board: Board
    table: BenchTable
    idle: dict[str, IdleRow]

    def reading(self, net: str) -> Reading:
        """Return what is to be found on a net."""
        if net == ZERO:
            return Reading(NOTHING, "0 V")
        against, at_rest = self._at_rest(net)
        blocks = {part.block for part, _ in self.board.on_net(net)}
        told = blocks <= LINEAR or (blocks & LINEAR and net in ("note", "octave"))
        row = held_still_row(self.board, net, level_v=self.table.level_v) if told and net not in STILL else None
        if row is None:
            return Reading(against, at_rest)
        if row.high_v < READABLE_V:
            return Reading(against, at_rest, f"below {amount(READABLE_V, 'V', digits=1)}")
        return Reading(against, at_rest, amount_within(row.rms_v, row.low_v, row.high_v, "V"))

    def _at_rest(self, net: str) -> tuple[str, str]:
        """Return against what a net rests, and where."""
        if net in self.idle:
            row = self.idle[net]
            within = row.between.replace("± ", "±")
            return row.against, f"0 {within}" if row.expect == "0 V" else f"{row.expect} ({within})"
        pins = list(self.board.on_net(net))
        if any(part.block in LOGIC and part.kind in ("flip-flop", "switch") for part, _ in pins):
            return ZERO, f"0 V or {amount(self.board.circuit.supply, 'V')}"
        if not {part.block for part, _ in pins} & {*LINEAR, "octave"}:
            return NOTHING, NOTHING
        if any(part.kind == "jack" for part, _ in pins):  # behind a capacitor
            return ZERO, "0 V"
        off_v = None if any(part.block == "latch" for part, _ in pins) else resting_v(self.board, net)
        return BIAS, "0 V" if off_v is None or off_v < NO_OFFSET_V else f"0 ±{amount(off_v, 'V', digits=2)}"


def bench(board: Board) -> Bench:
    """Return a board on the bench."""
    return Bench(board, bench_table(board), {row.net: row for row in idle_rows(board)})
