"""A circuit as a board: one list of real components and the nets that join them."""

from sublatch.board.assemble import board
from sublatch.board.netlist import Board, Component
from sublatch.board.network import board_network

__all__ = ["Board", "Component", "board", "board_network"]
