"""From the box as it is to the box as it shall be: what to lift, cut, hardwire, replace and add, and the way back."""

from sublatch.board.change.find import Change, find_change
from sublatch.board.change.operations import Operation, apply, inverse

__all__ = ["Change", "Operation", "apply", "find_change", "inverse"]
