"""The schematic: a board drawn block by block, as SVG."""

from sublatch.board.schematic.blocks import schematic_svg

__all__ = ["schematic_svg"]
