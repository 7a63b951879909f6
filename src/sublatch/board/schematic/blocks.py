"""A board as sheets, and each sheet as SVG."""

from __future__ import annotations

from collections.abc import Callable

from sublatch.board.netlist import Board
from sublatch.board.schematic.canvas import Sheet
from sublatch.board.schematic.detector import draw_low_pass, draw_overtone
from sublatch.board.schematic.input_and_supply import draw_front
from sublatch.board.schematic.latch import draw_latch
from sublatch.board.schematic.latch_divider_octave import draw_octave
from sublatch.board.schematic.mix_and_output import (
    draw_direct_filter,
    draw_output,
    draw_output_filter,
    draw_packages,
)
from sublatch.board.schematic.svg import svg_text

DRAWINGS: tuple[tuple[str, str, Callable[[Sheet], None]], ...] = (
    ("input", "Input, supply and bias", draw_front),
    ("overtone", "Detector: overtones", draw_overtone),
    ("detector", "Detector: low-pass", draw_low_pass),
    ("latch", "Detector: comparators and latch", draw_latch),
    ("octave", "Divider and octave stage", draw_octave),
    ("filter", "Output filter", draw_output_filter),
    ("direct", "Direct signal: filter", draw_direct_filter),
    ("output", "Mix and output", draw_output),
    ("packages", "Supply of the integrated circuits", draw_packages),
)
"""Block whose components a sheet needs, its title, and what draws it."""


def sheets(board: Board) -> list[Sheet]:
    """Return the board's sheets, drawn; a sheet without components is left out."""
    drawn = []
    for block, title, draw in DRAWINGS:
        if board.of_block(block):
            sheet = Sheet(board, title)
            draw(sheet)
            drawn.append(sheet)
    return drawn


def schematic_svg(board: Board) -> list[tuple[str, str]]:
    """Return the schematic of a board.

    Parameters
    ----------
    board
        The board.

    Returns
    -------
    list of tuple
        Title and SVG of each sheet, at most 180 mm wide, with letters of 3 mm, black on white. Every component stands
        on one sheet; nets that leave a sheet end in their names.

    Notes
    -----
    Resistors are drawn as rectangles (IEC 60617, from memory). A network of the user's own is drawn with the user's
    names, or is a list of its parts where there are no places for them.
    """
    return [(sheet.title, svg_text(sheet)) for sheet in sheets(board)]
