"""What a box needs besides its parts: sockets, knobs, clip, wire, board and enclosure. From memory."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import ceil

from sublatch.board.netlist import Board, Component
from sublatch.board.orders.items import KNOB_SHAFT, kind_of_package, quantity_of
from sublatch.board.packages.pins import PINOUTS
from sublatch.board.stripboard.bodies import PITCH_MM
from sublatch.board.stripboard.records import Layout
from sublatch.board.stripboard.search import needed
from sublatch.board.stripboard.soldered import OFF_BOARD, soldered

PIECE_MM, PIECE_HOLES = (100, 160), 39 * 62
"""A piece of stripboard as it is sold, and its holes."""
LOOSE = 3.0
"""Holes of a board laid out by hand over those that its parts cover; common practice, no source."""
ENCLOSURE = "about 188 × 120 × 37 mm"
ROOM_NOTE = "lay boards, pots and jacks into it before you drill"

Ware = tuple[int, str, str, str, str, str]
"""Quantity, kind, value, package, pitch and note."""


def hardware(board: Board, *, layouts: Sequence[Layout], whole: bool) -> Iterator[Ware]:
    """Yield what a board's parts need besides themselves.

    Parameters
    ----------
    board
        The board, or what a change adds to one.
    layouts
        Layouts that are to be built of it; without any the board is reckoned by the parts that it takes.
    whole
        Whether it is a whole box, with an enclosure.
    """
    yield from _sockets(board, copies_on(layouts))
    for kind, shafts in (("knob", board.ganged("pot")),):
        panel = [one[0].package or one[0].reference for one in shafts if one[0].on_panel]
        if panel:
            note = f"for {', '.join(panel)}" + ("" if whole else "; or the old one where it fits")
            yield len(panel), kind, f"for a {KNOB_SHAFT}", "with set screw", "", note
    for part in board.components:
        if part.kind == "lamp":
            yield 1, "lamp holder", "for 5 mm", "panel, 8 mm hole", "", f"for {part.reference}"
        if part.kind == "battery":
            count = quantity_of(board.circuit, part)
            yield count, "battery clip", "for 6LR61", "snap contacts, wire ends", "", f"for {part.reference}"
    yield from _board_and_wire(board, layouts)
    if whole:
        yield 1, "enclosure", ENCLOSURE, "die-cast aluminium, with lid and screws", "", ROOM_NOTE


def copies_on(layouts: Sequence[Layout]) -> dict[str, int]:
    """Return on how many layouts each part stands, by designator: a chip may have sections on several."""
    return Counter(part.reference for layout in layouts for part in layout.parts)


def _sockets(board: Board, copies: Mapping[str, int]) -> Iterator[Ware]:
    """Yield a socket for each package, those of one size together."""
    chips = [part for part in board.components if part.kind == "package"]
    names = {str(part.package): PINOUTS[kind_of_package(board, part)].name for part in chips}
    for name in sorted(set(names.values()), key=lambda one: int(one.split("-")[1])):
        own = [chip for chip, size in names.items() if size == name]
        count = sum(copies.get(chip, 1) for chip in own)
        note = f"for {', '.join(own)}"
        yield count, "chip socket", name, "turned contacts", f"{PITCH_MM:g} mm, rows 7.62 mm apart", note


def _board_and_wire(board: Board, layouts: Sequence[Layout]) -> Iterator[Ware]:
    """Yield stripboard or perfboard, and wire; nothing where nothing is soldered on a board."""
    kinds: Counter[str] = Counter()
    for layout in layouts:
        kinds[layout.kind] += layout.columns * layout.rows
    on_board = [part for part in board.components if part.kind not in (*OFF_BOARD, "block")]
    if not layouts and on_board:
        kinds["stripboard"] = ceil(LOOSE * needed(soldered(_whole_chips(on_board))))
    for kind, holes in sorted(kinds.items()):
        size = f"{PIECE_MM[0]} × {PIECE_MM[1]} mm"
        note = f"{holes} of its {PIECE_HOLES} holes are needed, about" if not layouts else f"{holes} holes are used"
        yield ceil(holes / PIECE_HOLES), kind, size, "paper or epoxy, 1.6 mm", f"{PITCH_MM:g} mm", note
    if board.components:
        yield 1, "stranded wire", "5 m, 0.22 mm²", "insulated, several colours", "", "to pots, switches and jacks"
    if kinds:
        yield 1, "bare wire", "1 m, 0.6 mm thick", "tinned", "", "for links; sleeve or insulated wire where a star says"


def _whole_chips(parts: Iterable[Component]) -> list[Component]:
    """Return components without packages of which no section is there."""
    kept = list(parts)
    there = {part.package for part in kept if part.kind != "package"}
    return [part for part in kept if part.kind != "package" or part.package in there]
