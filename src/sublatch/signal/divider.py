"""The divider: flip-flops that halve the rate of the comparator's edges."""

from __future__ import annotations

from sublatch.arrays import Array


def drive_edges(edges: Array, *, stages: int) -> Array:
    """Return the times at which the drive changes.

    Parameters
    ----------
    edges
        Times at which the comparator changes state (m,), in turn set and reset, the first a set.
    stages
        Number of flip-flops in a row; each toggles when its clock rises, and starts low.

    Notes
    -----
    A D flip-flop whose D is tied to its inverted output toggles on every rising clock edge
    (Texas Instruments SCHS023E, CD4013B).
    """
    for _ in range(stages):
        edges = edges[::2]
    return edges
