"""How long the listening page of ten candidates and a minute takes to open, and its memory; for `benchmark.py`.

It drives the browser that the tests drive, and there is nothing to tell where that is missing.
"""

from __future__ import annotations

import os
import shutil
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

SECONDS = 60.0
TONES = (1, 2, 3.5, 5, 6.5, 8)
"""With the bypassed take and three others they make ten."""


def page_openings(folder: Path, rounds: int) -> tuple[list[float], float]:
    """Return how long each opening took, in seconds by the clock, and the most memory in bytes that the page held.

    Both are empty or 0 where there is no browser, and memory is 0 where the system does not tell it as Linux does.
    """
    if shutil.which("chromium") is None:
        return [], 0.0
    try:
        from browsers import browser
        from listening_pages import Watched, write_audition
    except ImportError:
        return [], 0.0
    page = write_audition(folder, seconds=SECONDS, takes=1, tones=TONES)
    seconds, most_bytes = [], 0.0
    with browser() as chromium:
        for _ in range(rounds):
            tab = Watched(chromium)
            start = time.perf_counter()
            tab.open(page)
            tab.ready()
            seconds.append(time.perf_counter() - start)
            most_bytes = max(most_bytes, _renderer_bytes())
            tab.close()
    return seconds, most_bytes


def _renderer_bytes() -> float:
    """Return the memory of the largest of this process's page processes, what it shares counted by its part."""
    parents, pages = {}, []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            parents[int(folder.name)] = int(folder.joinpath("stat").read_text().rpartition(")")[2].split()[1])
            if b"--type=renderer" in folder.joinpath("cmdline").read_bytes():
                pages.append(int(folder.name))
        except OSError:
            continue  # it has ended
    return max((_bytes(page) for page in pages if _is_ours(page, parents)), default=0.0)


def _is_ours(process: int, parents: dict[int, int]) -> bool:
    """Return whether a process descends from this one."""
    while process in parents:
        process = parents[process]
        if process == os.getpid():
            return True
    return False


def _bytes(process: int) -> float:
    """Return the memory of a process."""
    try:
        lines = Path(f"/proc/{process}/smaps_rollup").read_text(encoding="ascii").splitlines()
    except OSError:
        return 0.0
    return next(1024.0 * int(line.split()[1]) for line in lines if line.startswith("Pss:"))
