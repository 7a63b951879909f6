"""Lay out random networks of up to 25 parts and prove each.

Run it with the environment's Python, from anywhere: ``python scripts/prove_layouts.py --count 200 --seed 1``. Each
network is laid out as `sublatch layout` would, on stripboard or else on perfboard, with less effort. The proof reads
the copper back from both drawings; scipy's connected components say independently what a stripboard joins. Half an
hour or so.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
STEPS = 20_000
"""Of each annealing: enough for a board, not for a small one."""
RUNS = 3


def main() -> int:
    """Prove all, and return 1 when a board is not what its netlist says, or none was found."""
    arguments = _arguments()
    failed = []
    kinds: Counter[str] = Counter()
    for place, seed in enumerate(range(arguments.seed, arguments.seed + arguments.count), 1):
        start = time.monotonic()
        kind, wrong = _proved(seed, arguments.most)
        kinds[kind] += 1
        if wrong:
            failed.append(seed)
        took = f"{time.monotonic() - start:.1f} s"
        print(f"{place}/{arguments.count} seed {seed}: {kind}, {wrong or 'proved'}, {took}", flush=True)
    print(", ".join(f"{count} {kind}" for kind, count in kinds.items()))
    print(f"failed: seeds {', '.join(map(str, failed))}" if failed else "all proved")
    return 1 if failed else 0


def _proved(seed: int, most: int) -> tuple[str, str]:
    """Return what a network was laid out on, and what is wrong with it; nothing when it is as its netlist says."""
    from joined_legs import joined_legs, netlist_legs
    from small_networks import random_network
    from sublatch.board.stripboard.search import Effort, either_layout
    from sublatch.errors import CircuitError

    parts, edge = random_network(seed, most=most)
    try:
        layout = either_layout(parts, edge=edge, seed=seed, effort=Effort(RUNS, STEPS))
    except CircuitError as problem:
        return "no board", str(problem)
    size = f"{layout.kind} {layout.columns} × {layout.rows}"
    if not layout.proved or (layout.kind == "stripboard" and joined_legs(layout) != netlist_legs(layout)):
        return size, "joins other than its netlist says"
    return layout.kind, ""


def _arguments() -> argparse.Namespace:
    """Return how many networks, from which seed on, of how many parts at most."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--most", type=int, default=25, help="parts of each at most")
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
