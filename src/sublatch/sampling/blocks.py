"""Long signals worked on block by block, so that what is made on the way takes little memory."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from sublatch.arrays import Signal

BLOCK = 1 << 20
"""Samples of a block: what is made on the way takes as much memory for an hour as for a minute."""
MARGIN = 1 << 13
"""Samples ahead of a block and behind it that what happens in it may depend on: more than a rate converter's filter."""


class Block(NamedTuple):
    """A block of a signal: its place there, that of the stretch with its margins, and its place within the stretch."""

    place: slice
    stretch: slice
    within: slice


def blocks(count: int) -> Iterator[Block]:
    """Yield the blocks of a signal of so many samples; one where that is little more than a block."""
    size = count if count <= BLOCK + MARGIN else BLOCK
    for start in range(0, count, max(size, 1)):
        first, stop = max(start - MARGIN, 0), min(start + size, count)
        yield Block(slice(start, stop), slice(first, min(stop + MARGIN, count)), slice(start - first, stop - first))


def in_blocks(signal: Signal, work: Callable[[Signal, int], Signal]) -> Signal:
    """Return what `work` makes of a signal, block by block.

    Parameters
    ----------
    signal
        The signal (n,).
    work
        Given a stretch of the signal (m,) and the place of its first sample: what it makes of the stretch (m,), each
        sample from no more than `MARGIN` samples on either side.
    """
    made = np.empty(len(signal))
    for place, stretch, within in blocks(len(signal)):
        made[place] = work(signal[stretch], stretch.start)[within]
    return made
