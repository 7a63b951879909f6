"""Options of commands that look at many boards of one circuit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from typing import TYPE_CHECKING, Any

import click

from sublatch.cli.options import quantity_option, read_positive_volts

if TYPE_CHECKING:
    from sublatch.circuit.boards import BoardDraws
    from sublatch.circuit.model import Circuit
    from sublatch.tracking.board_parts import Selection

DRAWN = (
    *("board_count", "first_board", "resistor_tolerance", "capacitor_tolerance", "distribution", "battery_down_to"),
)
"""What the options are called as parameters."""
BOARDS = {
    "Boards": (
        *("--boards", "--first-board", "--resistor-tolerance", "--capacitor-tolerance", "--distribution"),
        "--battery-down-to",
    ),
}
"""Under which title they stand in a command's help."""
Command = Callable[..., Any]


def boards_options(*, text: str, count: int | None = None) -> Callable[[Command], Command]:
    """Add --boards and how they are drawn, of which the command gets `boards`: a `BoardDraws`.

    Parameters
    ----------
    text
        What help says of --boards.
    count
        How many boards when it is not given; the command then gets None without one.
    """

    def decorate(function: Command) -> Command:
        return _with_options(function, text, count)

    return decorate


def _with_options(function: Command, text: str, count: int | None) -> Command:
    """Return a command with the options."""

    @wraps(function)
    def with_draws(*args: Any, **given: Any) -> Any:
        own = {name: given.pop(name) for name in DRAWN}
        return function(*args, boards=_draws(own), **given)

    options = (
        click.option(
            "--boards",
            "board_count",
            type=click.IntRange(1, 1000),
            metavar="COUNT",
            default=count,
            show_default=count is not None,
            help=text,
        ),
        click.option("--first-board", type=click.IntRange(min=1), default=1, show_default=True, help="Its number."),
        quantity_option("--resistor-tolerance", "fraction", "Of each resistor of a board.", default="5%"),
        quantity_option("--capacitor-tolerance", "fraction", "Of each capacitor of a board.", default="10%"),
        click.option(
            "--distribution",
            default="uniform",
            show_default=True,
            help="How parts and devices are spread: uniform or normal.",
        ),
        click.option(
            "--battery-down-to", metavar="VOLTS", help="Least supply of a board, such as 7V. Not aged when not given."
        ),
    )
    decorated: Command = with_draws
    for option in reversed(options):
        decorated = option(decorated)
    return decorated


def _draws(given: Mapping[str, Any]) -> BoardDraws | None:
    """Return which boards are asked for; None where none are."""
    from sublatch.circuit.boards import BoardDraws
    from sublatch.circuit.components.tolerances import Tolerances

    tolerances = Tolerances(
        resistor=given["resistor_tolerance"],
        capacitor=given["capacitor_tolerance"],
        distribution=given["distribution"],
    )
    battery = given["battery_down_to"]
    least_v = None if battery is None else read_positive_volts("--battery-down-to", battery)
    if given["board_count"] is None:
        return None
    return BoardDraws(given["board_count"], first=given["first_board"], tolerances=tolerances, least_supply_v=least_v)


def selection_line(selection: Selection | None, circuit: Circuit) -> str:
    """Return what there is to say of the part to select, by what the sheet calls it where there is a board."""
    from sublatch.board.assemble import board
    from sublatch.errors import CircuitError

    if selection is None:
        return ""
    references: dict[str, str] = {}
    try:
        for part in board(circuit).components if selection.part else ():
            if part.path:
                references[part.path] = ", ".join(filter(None, (references.get(part.path), part.reference)))
    except CircuitError:
        pass  # a circuit that cannot be built has no sheet
    return selection.words(references)
