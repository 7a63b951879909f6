"""Wires as they are drawn: pieces in one line are one wire."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from sublatch.board.schematic.placing.piece import Wire
from sublatch.circuit.filters.parts import Path


def tidy(wires: Iterable[Wire]) -> tuple[Path, ...]:
    """Return the wires that no symbol brings, those of a net that touch or cover each other in one line as one."""
    lines: dict[tuple[str, bool, float], list[tuple[float, float]]] = defaultdict(list)
    for wire in wires:
        if wire.drawn:
            left, bottom, right, top = wire.box
            level = bottom == top
            lines[(wire.net, level, bottom if level else left)].append((left, right) if level else (bottom, top))
    paths: list[Path] = []
    for (_, level, at), spans in lines.items():
        for start, end in _united(spans):
            paths.append(((start, at), (end, at)) if level else ((at, start), (at, end)))
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
