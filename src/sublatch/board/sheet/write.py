"""The build sheet: all that a builder takes to the bench, as one printable HTML file that needs nothing else."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sublatch.circuit.components.quantities import UNITY
from sublatch.circuit.model import Circuit
from sublatch.files.own_files import OwnFiles

if TYPE_CHECKING:
    from sublatch.board.netlist import Board
    from sublatch.board.orders.files import OrderFiles
    from sublatch.board.sheet.supply import SupplyEstimate
    from sublatch.board.stripboard.records import Layout

SHEETS = OwnFiles("sheets", "<!-- sublatch build sheet ", " -->\n", (".html", ".htm"))


@dataclass(frozen=True)
class SheetReport:
    """What a written sheet is of.

    Attributes
    ----------
    output, title
        The file, and the circuit's title.
    parts
        How many parts are to be bought.
    supply_amps, battery_hours
        Estimated current, and how long a battery lasts, by the kind of op-amp; no hours where none fits.
    supply_remarks
        Which parts the supply, or its battery when fresh or empty, does not suit.
    """

    output: str
    title: str
    parts: int
    supply_amps: dict[str, float]
    battery_hours: dict[str, float]
    supply_remarks: tuple[str, ...]


def build_sheet(circuit: Circuit, *, layouts: bool = False) -> str:
    """Return the build sheet of a circuit.

    Parameters
    ----------
    circuit
        The circuit; its knobs and switches stand on the sheet as they are set, a volume at unity where the effect is
        as loud as the tone of `tone_take`.
    layouts
        Add a board layout of each block where one is found, which takes a minute or more.

    Returns
    -------
    str
        An HTML document without scripts that asks for no other file: schematic, parts, knob chart, response, wiring,
        bench table, supply and cautions. The same circuit gives the same text.

    Raises
    ------
    CircuitError
        When the circuit has no board (see `board`), or its board does not pass its electrical check.
    """
    return SHEETS.with_check(_sheet(circuit, layouts=layouts)[0])


def write_sheet(
    circuit: Circuit,
    output: str | Path,
    *,
    inputs: Iterable[str | Path] = (),
    overwrite: bool = False,
    layouts: bool = False,
    orders: OrderFiles | None = None,
) -> SheetReport:
    """Write the build sheet of a circuit, whole or not at all.

    Parameters
    ----------
    circuit
        The circuit.
    output
        The file; it ends in ``.html``.
    inputs
        Files that must never be replaced, whatever `overwrite` says.
    overwrite
        Replace a file that is no sheet of this program, or that was changed since.
    layouts
        Add a board layout of each block where one is found, which takes a minute or more.
    orders
        Where order list and netlist are written besides.

    Raises
    ------
    OutputError
        When a file cannot be written, or must not be replaced.
    CircuitError
        When the circuit has no board (see `board`), or its board does not pass its electrical check.
    """
    from sublatch.board.parts_list import parts_list

    inputs = list(inputs)
    SHEETS.guard(output, inputs=inputs, overwrite=overwrite)
    if orders is not None:
        orders.guard(inputs=inputs, overwrite=overwrite)
    text, board, supply, found = _sheet(circuit, layouts=layouts)
    SHEETS.write(output, text)
    if orders is not None:
        orders.write(board, layouts=found)
    return SheetReport(
        output=str(output),
        title=circuit.title,
        parts=sum(line.quantity for line in parts_list(board)),
        supply_amps=dict(zip(supply.kinds, supply.amps, strict=True)),
        battery_hours=dict(zip(supply.kinds, supply.hours, strict=False)),
        supply_remarks=supply.remarks,
    )


def with_volume(circuit: Circuit) -> Circuit:
    """Return a circuit whose volume knob stands at a number, found with the tone that stands in for a take."""
    from sublatch.signal.chain import output_sources
    from sublatch.signal.unity import tone_take, with_volume_found

    if circuit.knobs.volume != UNITY:
        return circuit
    return with_volume_found(output_sources(tone_take(), circuit), circuit, measure="rms")


def _sheet(circuit: Circuit, *, layouts: bool) -> tuple[str, Board, SupplyEstimate, list[Layout]]:
    """Return a circuit's sheet without the line that tells whether it was changed since, what it is of, and layouts."""
    from sublatch.board.assemble import board
    from sublatch.board.check.electrical_check import must_be_sound
    from sublatch.board.sheet.page import page
    from sublatch.board.sheet.supply import supply_estimate
    from sublatch.board.stripboard.page import block_layouts

    assembled = board(with_volume(circuit))
    must_be_sound(assembled)
    supply = supply_estimate(assembled)
    found = block_layouts(assembled) if layouts else []
    text = page(assembled, supply, circuit, layouts=found)
    return text, assembled, supply, [layout for _, layout in found if not isinstance(layout, str)]
