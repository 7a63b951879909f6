"""Print how detectors lock on recorded bass notes, note by note, as a table in Markdown.

Run it with the environment's Python, from anywhere: ``python scripts/lock_report.py``. The notes are those of the sound
set that Debian and Ubuntu package as ``fluid-soundfont-gm``. Each counts from its pluck until it has died away, as the
command ``sublatch track`` finds it.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

import sublatch
from sublatch.arrays import Array, Flags

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
CIRCUIT = "gated-open"
"""The circuit that detectors are tried in; lock depends on nothing after them."""
PLAIN: Mapping[str, Any] = {"detector.kind": "peak-latch", "devices.values": "ideal"}
"""The textbook's latch is told of ideal parts: offsets of real ones take much of its lock."""
BEST_PLAIN: Mapping[str, Any] = {
    "devices.values": "ideal",
    "switches.drive": "inverted",
    "detector": {
        "kind": "peak-latch",
        "filter": {"kind": "first-order", "resistor": "9k1", "capacitor": "100n"},
        "fraction": "95%",
        "hold_resistor": "220k",
        "floor": "390uV",
    },
}
"""The best of 500 peak latches tried on these very notes, its threshold lower than a comparator's own offset."""


def main() -> int:
    """Print the table; say what is missing where there are no notes."""
    try:
        from recordings.soundfont import bass_notes, why_missing
        from recordings.whole_notes import as_take, is_hard
    except ImportError as problem:
        print(f"the report needs what the tests need ({problem}): pip install -e '.[test]'", file=sys.stderr)
        return 1
    if reason := why_missing():
        print(f"no report: {reason}", file=sys.stderr)
        return 1
    notes, circuits = bass_notes(), _circuits()
    takes = [as_take(note) for note in notes]
    shares = np.array([[_locked_share(take, circuit) for circuit in circuits.values()] for take in takes])
    hard = np.array([is_hard(note) for note in notes])
    print("\n".join(table(list(circuits), [note.name for note in notes], shares, hard)))
    return 0


def table(detectors: Sequence[str], names: Sequence[str], shares: Array, hard: Flags) -> list[str]:
    """Return the lines of the table.

    Parameters
    ----------
    detectors, names
        Headings of the columns (k,), and the notes (n,).
    shares
        Lock, 0 to 1, of shape (n, k).
    hard
        Which notes are hard to track, of shape (n,).
    """
    worst = np.argmin(shares, axis=0)
    rows = [(f"{name}{' *' if is_hard else ''}", row) for name, is_hard, row in zip(names, hard, shares, strict=True)]
    means: dict[str, Any] = {"all notes": slice(None), "hard notes *": hard, "the rest": ~hard}
    rows += [(f"**mean of {what}**", np.mean(shares[which], axis=0)) for what, which in means.items()]
    lines = [f"| locked, % of the note | {' | '.join(detectors)} |", f"|---|{'---:|' * len(detectors)}"]
    lines += [f"| {name} | {' | '.join(f'{100 * share:.1f}' for share in row)} |" for name, row in rows]
    cells = (f"{100 * shares[note, k]:.1f} ({names[note]})" for k, note in enumerate(worst))
    return [
        *lines,
        f"| **worst note** | {' | '.join(cells)} |",
        "",
        "\\* Open strings, and the D and G strings in first position. A final O in a name is an open string's 0.",
    ]


def _circuits() -> dict[str, sublatch.Circuit]:
    """Return each detector that a built-in circuit has, once, then the best plain one and the built-in latches."""
    alike: dict[tuple[Any, ...], list[str]] = {}
    for name in sublatch.circuit_names():
        circuit = sublatch.load_circuit(name)
        alike.setdefault((circuit.input, circuit.detector, circuit.switches.drive), []).append(name)
    return {
        **{", ".join(names): sublatch.load_circuit(names[0]) for names in alike.values()},
        "best plain peak latch, ideal parts": sublatch.load_circuit(CIRCUIT, changes=BEST_PLAIN),
        "peak latch, ideal parts": sublatch.load_circuit(CIRCUIT, changes=PLAIN),
        "logarithmic latch": sublatch.load_circuit(CIRCUIT, changes={"detector.kind": "logarithmic-latch"}),
    }


def _locked_share(take: sublatch.Take, circuit: sublatch.Circuit) -> float:
    """Return the lock of a take's notes; 0 where none is found."""
    return sublatch.track(take, circuit).locked_share or 0.0


if __name__ == "__main__":
    sys.exit(main())
