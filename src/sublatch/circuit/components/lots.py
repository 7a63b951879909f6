"""Drawing lots: how far each thing on a board is off, the same every time for the same board and name.

A lot follows the board's number and the name alone, so that it stays what it is whatever else is on the board.
"""

from __future__ import annotations

from functools import lru_cache
from hashlib import blake2b

from scipy.special import ndtr, ndtri

from sublatch.circuit.components.tolerances import SIGMAS, Distribution


def lot(board: int, name: str, distribution: Distribution = "uniform") -> float:
    """Return a number from −1 to 1 for a name on a board.

    Parameters
    ----------
    board
        Number of the board.
    name
        What the lot is for.
    distribution
        ``uniform``, or ``normal`` with 1 at three standard deviations and nothing beyond.
    """
    share = _share(board, name)
    if distribution == "uniform":
        return 2.0 * share - 1.0
    tail = ndtr(-SIGMAS)
    return float(ndtri(tail + share * (1.0 - 2.0 * tail)) / SIGMAS)


@lru_cache(maxsize=1 << 16)
def _share(board: int, name: str) -> float:
    """Return a number from 0 to 1, uniform over boards and over names."""
    digest = blake2b(f"{board}/{name}".encode(), digest_size=8).digest()
    return int.from_bytes(digest, "big") / 2.0**64
