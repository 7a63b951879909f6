"""Options of commands that look at many boards of one circuit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from typing import TYPE_CHECKING, Any

import click

from sublatch.cli.options import quantity_option, read_positive_volts

if TYPE_CHECKING:
    from sublatch.tracking.boards import BoardDraws

DRAWN = (
    *("board_count", "first_board", "resistor_tolerance", "capacitor_tolerance", "distribution", "battery_down_to"),
)
"""What the options are called as parameters."""


def boards_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add --boards and how they are drawn, of which the command gets `boards`: a `BoardDraws`, or None without."""

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
            help="Also look at so many boards, their parts and devices off by what is usual.",
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
    decorated: Callable[..., Any] = with_draws
    for option in reversed(options):
        decorated = option(decorated)
    return decorated


def _draws(given: Mapping[str, Any]) -> BoardDraws | None:
    """Return which boards are asked for; None where none are."""
    from sublatch.circuit.components.tolerances import Tolerances
    from sublatch.tracking.boards import BoardDraws

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
