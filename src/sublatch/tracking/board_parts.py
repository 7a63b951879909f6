"""The part to select, or to buy tighter: which one takes most lock from the poorest boards of a circuit.

On the poorest tenth of the boards a set of parts is put back to what was drawn; the half of it that gains more is
halved again, until one is left. What that gains by itself is measured, so that no part is named for what others do.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import ceil, log2
from typing import Any

import numpy as np

from sublatch.arrays import Signal
from sublatch.circuit.boards import BoardDraws, drawn_paths
from sublatch.circuit.model import Circuit

PERCENT = 10.0
"""The percentile over boards that counts: nine boards in ten do better."""
SHORT = 0.01
"""How far that may lie below the circuit as drawn before a part is looked for, as a share of the notes' time."""
LEAST_GAIN = 0.005
"""Share of the notes' time that a part must gain to be named."""
POOREST = 10
"""One board in so many, those with the least lock, is heard with parts put back."""
_INSTEAD = {
    "devices.op_amp_offset": "op-amps without offset",
    "devices.op_amp_bias": "op-amps without bias current",
    "devices.comparator_offset": "comparators without offset",
    "devices.comparator_bias": "comparators without bias current",
    "devices.diode_leakage": "diodes without leakage",
    "supply": "a fresh battery",
}


@dataclass(frozen=True)
class BoardPart:
    """A part, a class of devices or the supply, and what it takes from the poorest boards.

    Attributes
    ----------
    path
        Its setting: ``detector.hold_capacitor``, ``devices.comparator_offset``, ``supply``.
    gained
        What the poorest boards gain on average with it at its nominal value, as a share of the notes' time.
    """

    path: str
    gained: float


@dataclass(frozen=True)
class Selection:
    """Which part to select for a circuit.

    Attributes
    ----------
    as_drawn
        Locked share of the circuit as drawn, 0 to 1, of the same notes in the same way.
    falls_short
        Whether the boards' 10th percentile lies more than a point below that; else no part is looked for.
    part
        The part; None where no single one gains half a point.
    """

    as_drawn: float
    falls_short: bool
    part: BoardPart | None = None

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it, for an object that tells of the boards too."""
        return {
            "locked_as_drawn": self.as_drawn,
            "falls_short": self.falls_short,
            "part_to_select": self.part,
        }

    def words(self, references: Mapping[str, str] | None = None) -> str:
        """Return what there is to say of it; nothing where the boards do not fall short.

        Parameters
        ----------
        references
            What parts are called on the sheet, by their paths.
        """
        if not self.falls_short:
            return ""
        if self.part is None:
            return (
                "no single part, and no class of devices, was found that would give the poorest boards half a point of "
                "lock at its nominal value"
            )
        path, would = self.part.path, f"would give the poorest boards {100.0 * self.part.gained:.1f} points more lock"
        if path in _INSTEAD:
            return f"{_INSTEAD[path]} {would}{'' if path == 'supply' else ': buy ones with less'}"
        reference = (references or {}).get(path)
        named = f"{path} ({reference})" if reference else path
        return f"{named} at its nominal value {would}: select it, or buy it tighter"


def hearings(circuit: Circuit, draws: BoardDraws) -> int:
    """Return how many circuits are heard at most until the part is found."""
    return 1 + 2 * ceil(log2(len(_candidates(circuit, draws)))) * _poorest_count(draws)


def part_to_select(
    circuit: Circuit, draws: BoardDraws, locked: Signal, *, locked_share: Callable[[Circuit], float]
) -> Selection:
    """Return which part of a circuit to select, or to buy tighter.

    Parameters
    ----------
    circuit
        The circuit as drawn.
    draws
        Its boards.
    locked
        Locked share of each board (boards,), 0 to 1.
    locked_share
        What gives that share of any circuit.
    """
    as_drawn = locked_share(circuit)
    if np.percentile(locked, PERCENT) >= as_drawn - SHORT:
        return Selection(as_drawn, falls_short=False)
    poorest = np.argsort(locked, kind="stable")[: _poorest_count(draws)]
    numbers, before = [draws.numbers[place] for place in poorest], float(np.mean(locked[poorest]))

    def gained(paths: tuple[str, ...]) -> float:
        boards = (draws.board(circuit, number, nominal=paths) for number in numbers)
        return float(np.mean([locked_share(board) for board in boards])) - before

    best = BoardPart(*_halved(_candidates(circuit, draws), gained))
    return Selection(as_drawn, falls_short=True, part=best if best.gained >= LEAST_GAIN else None)


def _halved(paths: tuple[str, ...], gained: Callable[[tuple[str, ...]], float]) -> tuple[str, float]:
    """Return the one of several that is left when the half that gains more is kept each time, and what it gains."""
    gain = 0.0
    while len(paths) > 1:
        half = len(paths) // 2
        gain, paths = max(((gained(some), some) for some in (paths[:half], paths[half:])), key=lambda one: one[0])
    return paths[0], gain


def _candidates(circuit: Circuit, draws: BoardDraws) -> tuple[str, ...]:
    """Return the paths of what lock can depend on and a builder can choose: all up to the drive but the pickup."""
    sections = ("input.", "detector.", "devices.", *(() if draws.least_supply_v is None else ("supply",)))
    paths = drawn_paths(circuit)
    return tuple(path for path in paths if path.startswith(sections) and not path.startswith("input.pickup."))


def _poorest_count(draws: BoardDraws) -> int:
    """Return how many boards are heard with parts put back."""
    return ceil(draws.count / POOREST)
