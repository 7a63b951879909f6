"""Options of commands that look at many boards of one circuit."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

import click

from sublatch.cli.options import quantity_option, read_positive_volts


def boards_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add --boards and how they are drawn, of which the command gets `boards`: a `BoardDraws`, or None without."""

    @wraps(function)
    def with_draws(
        *args: Any,
        board_count: int | None,
        first_board: int,
        resistor_tolerance: float,
        capacitor_tolerance: float,
        distribution: str,
        battery_down_to: str | None,
        **others: Any,
    ) -> Any:
        from sublatch.circuit.components.tolerances import Tolerances
        from sublatch.tracking.boards import BoardDraws

        tolerances = Tolerances(
            resistor=resistor_tolerance,
            capacitor=capacitor_tolerance,
            distribution=distribution,  # type: ignore[arg-type]
        )
        least_v = None if battery_down_to is None else read_positive_volts("--battery-down-to", battery_down_to)
        draws = None
        if board_count is not None:
            draws = BoardDraws(board_count, first=first_board, tolerances=tolerances, least_supply_v=least_v)
        return function(*args, boards=draws, **others)

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
