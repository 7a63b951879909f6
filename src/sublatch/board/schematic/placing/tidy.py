"""Wires as they are drawn: pieces in one line are one wire, and wires of a net that cross are joined there."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from itertools import pairwise

from sublatch.board.schematic.placing.piece import Wire
from sublatch.circuit.filters.parts import Path

Spans = dict[float, list[tuple[float, float]]]
"""From where to where wires run, by the line that they are in."""


def tidy(wires: Iterable[Wire]) -> tuple[Path, ...]:
    """Return the wires that no symbol brings: those of a net that touch or cover each other in one line are one.

    A wire that another of its net crosses ends there, since wires that merely cross are not joined.
    """
    across: dict[str, Spans] = defaultdict(lambda: defaultdict(list))
    down: dict[str, Spans] = defaultdict(lambda: defaultdict(list))
    for wire in wires:
        if wire.drawn:
            left, bottom, right, top = wire.box
            if bottom == top:
                across[wire.net][bottom].append((left, right))
            else:
                down[wire.net][left].append((bottom, top))
    paths: list[Path] = []
    for net in dict.fromkeys([*across, *down]):
        level = [(y, span) for y, spans in across[net].items() for span in _united(spans)]
        paths += [((start, y), (end, y)) for y, (start, end) in level]
        for x, spans in down[net].items():
            crossed = [y for y, (start, end) in level if start < x < end]
            for start, end in _united(spans):
                ends = [start, *sorted(y for y in crossed if start < y < end), end]
                paths += [((x, low), (x, high)) for low, high in pairwise(ends)]
    return tuple(paths)


def _united(spans: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return spans without those that touch or cover each other."""
    united: list[tuple[float, float]] = []
    for start, end in sorted(spans):
        if united and start <= united[-1][1]:
            united[-1] = (united[-1][0], max(end, united[-1][1]))
        else:
            united.append((start, end))
    return united
