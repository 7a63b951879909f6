"""In which bands a bass stands above the bed it is heard with, in words."""

from __future__ import annotations

from collections.abc import Collection

from sublatch.signal.bands import NOMINAL_HZ


def above_in_words(above_hz: Collection[float]) -> str:
    """Return where a bass stands above a bed: "above the bed from 50 Hz to 160 Hz and at 800 Hz".

    Parameters
    ----------
    above_hz
        The bands by their nominal frequencies, as `Standing.above_hz` has them.
    """
    runs: list[list[float]] = []
    before = False
    for hertz in NOMINAL_HZ:
        inside = hertz in above_hz
        if inside and not before:
            runs.append([])
        if inside:
            runs[-1].append(hertz)
        before = inside
    if not runs:
        return "nowhere above the bed"
    *first, last = [_run(run) for run in runs]
    return f"above the bed {' and '.join([', '.join(first), last] if first else [last])}"


def _run(run: list[float]) -> str:
    """Return bands side by side in words."""
    start, end = (f"{hertz:g}\N{NO-BREAK SPACE}Hz" for hertz in (run[0], run[-1]))
    return f"at {start}" if len(run) == 1 else f"from {start} to {end}"
