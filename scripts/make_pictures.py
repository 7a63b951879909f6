"""Make the pictures in README and manual anew, by the program itself: ``python scripts/make_pictures.py``.

It renders samples/filters.toml, opens the page in the browser that the tests drive, and works it as a listener would.
Look at them before they are kept.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
SAMPLES, MANUAL = ROOT / "samples", ROOT / "src" / "sublatch" / "manual" / "pictures"
DESK, PHONE = (1280, 800), (390, 844)
"""Sizes of the page in CSS pixels."""
START_S = 0.5
"""How long it has played in the pictures."""
WRITTEN = (
    (
        SAMPLES / "output-filters.png",
        ("response", "-c", "gated-first-order", "-c", "gated-swept", "-c", "polarity-third-order"),
    ),
    (MANUAL / "layout.png", ("layout", "-c", "polarity-third-order", "--block", "filter")),
)
"""Pictures that commands write, by the option ``--plot`` or ``-o``."""


def main() -> int:
    """Make all of them, and return 0."""
    with tempfile.TemporaryDirectory() as folder:
        audition = Path(folder, "filters")
        _sublatch("audition", str(SAMPLES / "filters.toml"), "-o", str(audition))
        _page_pictures(audition)
    for path, command in WRITTEN:
        option = "--plot" if command[0] == "response" else "-o"
        _sublatch(*command, option, str(path), "--overwrite")
        print(path)
    return 0


def _page_pictures(audition: Path) -> None:
    """Make the pictures of the listening page."""
    from browsers import Driven, browser, wait

    shots: tuple[tuple[Path, tuple[int, int], Callable[[Any], object]], ...] = (
        (SAMPLES / "listening-page.png", DESK, _compare),
        (MANUAL / "turning.png", DESK, _turn),
        (MANUAL / "phone.png", PHONE, _compare),
    )
    with browser() as opened:
        for path, size, work in shots:
            driven = Driven(opened)
            driven.size(*size)
            driven.open(audition / "index.html")
            wait(driven.page, "document.querySelector('.take.ready')")
            driven.page.keyboard.press("Space")
            wait(driven.page, f"Number(document.querySelector('[data-show=time]').textContent) >= {START_S}")
            work(driven.page)
            driven.page.screenshot(path=path)
            print(path)
            driven.close()


def _compare(page: Any) -> None:
    """Hear one candidate against another."""
    page.keyboard.press("1")
    page.keyboard.press("3")
    page.wait_for_timeout(300)


def _turn(page: Any) -> None:
    """Turn the tone knob of a swept filter, and let what is told of it come to rest."""
    _compare(page)
    page.locator("[data-view=turn]").first.click()
    page.wait_for_timeout(1000)
    page.locator("[data-live-do=tone]").first.focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.wait_for_timeout(3000)


def _sublatch(*arguments: str) -> None:
    """Run the command line."""
    subprocess.run([sys.executable, "-m", "sublatch", *arguments], check=True, stdout=subprocess.DEVNULL)


if __name__ == "__main__":
    sys.exit(main())
