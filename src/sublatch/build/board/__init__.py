"""A circuit as a board: one list of real components and the nets that join them."""

from sublatch.build.board.assemble import board
from sublatch.build.board.network import board_network
from sublatch.build.board.records import Board, Component

__all__ = ["Board", "Component", "board", "board_network"]
