"""The annealing, compiled on first use; what it compiles stays plain Python."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

from sublatch.board.stripboard import kernel

STEPS = (
    *(kernel.draw, kernel.root, kernel.overlaps, kernel.touch, kernel.fill, kernel.divide, kernel.reach, kernel.join),
    *(
        kernel.jump,
        kernel.note,
        kernel.is_open,
        kernel.link,
        kernel.solder,
        kernel.copper,
        kernel.wiring,
        kernel.tree,
        kernel.comfort,
    ),
    *(kernel.distance, kernel.settle, kernel.keep, kernel.pick, kernel.gather, kernel.change, kernel.collisions),
    *(kernel.all_collisions, kernel.joining),
)
"""What the annealing calls."""


@cache
def compiled_anneal() -> Callable[..., tuple[float, float]]:
    """Return the annealing as machine code, kept on disk for the next time where there is a place for it."""
    from numba import njit
    from numba.extending import register_jitable

    for step in STEPS:
        register_jitable(step)
    try:
        made: Any = njit(cache=True)(kernel.anneal)
    except RuntimeError:  # no folder to keep it in
        made = njit(kernel.anneal)
    return made  # type: ignore[no-any-return]
