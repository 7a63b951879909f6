"""Which legs a stripboard joins, by a general-purpose library: scipy's connected components."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from sublatch.board.stripboard.records import Layout

Legs = frozenset[frozenset[tuple[str, str]]]


def joined_legs(layout: Layout) -> Legs:
    """Return which legs a layout's record joins: every hole a node, neighbours in a row joined unless one is cut."""
    width, cut = layout.columns, set(layout.cuts)
    edges = [
        (row * width + column, row * width + column + 1)
        for row in range(layout.rows)
        for column in range(width - 1)
        if (column, row) not in cut and (column + 1, row) not in cut
    ]
    edges += [(a[1] * width + a[0], b[1] * width + b[0]) for a, b in layout.links]
    size = layout.rows * width
    graph = coo_array((np.ones(len(edges)), tuple(np.array(edges, dtype=int).reshape(-1, 2).T)), shape=(size, size))
    label = connected_components(graph, directed=False)[1]
    groups: dict[int, set[tuple[str, str]]] = {}
    for part in layout.parts:
        for leg, (column, row) in part.legs:
            groups.setdefault(int(label[row * width + column]), set()).add((part.reference, leg))
    return frozenset(map(frozenset, groups.values()))


def netlist_legs(layout: Layout) -> Legs:
    """Return which legs a layout's netlist joins."""
    nets: dict[str, set[tuple[str, str]]] = {}
    for reference, leg, net in layout.netlist:
        nets.setdefault(net or f"{reference}.{leg}", set()).add((reference, leg))
    return frozenset(map(frozenset, nets.values()))
