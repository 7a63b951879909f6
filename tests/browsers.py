"""A browser without a window, and a page in it that is worked as a listener works it."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

FLAGS = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync", "--autoplay-policy=no-user-gesture-required", "--mute-audio"),
)
PATIENCE_S = 20.0
"""How long a condition is waited for."""
OUTSIDE_ITS_BOX = """() => [...document.querySelectorAll("main *, header *")].filter((one) => {
  if (one.closest(".roll, figure") || one instanceof SVGElement) return false;
  const box = one.getBoundingClientRect();
  return box.width > 0 && (box.left < -0.5 || box.right > innerWidth + 0.5);
}).map((one) => one.outerHTML.slice(0, 120))"""
ROLLS = """(places) => [...document.querySelectorAll(places)].filter((box) => box.scrollWidth > box.clientWidth + 1)
  .map((box) => getComputedStyle(box).overflowX)"""
"""What of a printed page is wider than its screen, but for what rolls in a place of its own, and how that is done."""


@contextmanager
def browser() -> Iterator[Any]:
    """Give a browser without a window; skip where there is none, unless this is where everything must be tested."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    program = shutil.which("chromium")
    if program is None:
        missing = pytest.fail if os.environ.get("CI") == "true" else pytest.skip
        missing("chromium is not installed")
    with playwright.sync_playwright() as started:
        opened = started.chromium.launch(executable_path=program, args=list(FLAGS))
        yield opened
        opened.close()


def wait(page: Any, condition: str, *, patience_s: float = PATIENCE_S) -> None:
    """Wait until an expression is true; a page's policy may let nobody evaluate one inside it."""
    end = time.monotonic() + patience_s
    while not page.evaluate(f"Boolean({condition})"):
        assert time.monotonic() < end, f"never came true: {condition}"
        time.sleep(0.01)


class Driven:
    """One page with a context of its own; it notes what it asks before it is left, and leaves unless told to stay."""

    def __init__(self, opened: Any, **options: Any) -> None:
        self.context = opened.new_context(**options)
        self.page = self.context.new_page()
        self.asked: list[str] = []
        self.loads = 0
        self.stays = False
        self.page.on("dialog", self._answer)
        self.page.on("load", self._loaded)

    def _answer(self, dialog: Any) -> None:
        self.asked.append(dialog.type)
        if self.stays:
            dialog.dismiss()
        else:
            dialog.accept()

    def _loaded(self, _: Any) -> None:
        self.loads += 1

    def open(self, path: Path) -> None:
        """Open a file, as by a double-click."""
        self.page.goto(path.as_uri())

    def js(self, code: str) -> Any:
        """Return what an expression comes to, waited for where it is a promise."""
        return self.page.evaluate(code)

    def wait(self, code: str) -> None:
        """Wait until an expression is true."""
        wait(self.page, code)

    def press(self, key: str, *, shift: bool = False) -> None:
        """Press a key and let it go."""
        name = {" ": "Space"}.get(key, key)
        self.page.keyboard.press(f"Shift+{name}" if shift else name)

    def push(self, words: str, *, within: str) -> None:
        """Click the one button inside an element that says just this."""
        found = self.page.locator(f"{within} >> button").filter(has_text=words)
        exact = [one for one in found.all() if one.text_content() == words]
        assert len(exact) == 1, f"{len(exact)} buttons say {words!r}"
        exact[0].click()

    def saved(self, words: str, *, within: str, folder: Path) -> Path:
        """Push a button that saves a file, and return the file in a folder."""
        with self.page.expect_download() as coming:
            self.push(words, within=within)
        path = folder / coming.value.suggested_filename
        coming.value.save_as(path)
        return path

    def size(self, width: int, height: int = 900) -> None:
        """Give the page's window a size in CSS pixels."""
        self.page.set_viewport_size({"width": width, "height": height})

    def leave(self) -> None:
        """Go to an empty page, saying yes where the page asks whether to leave."""
        self.stays = False
        self.page.goto("about:blank")

    def asks_before_leaving(self) -> bool:
        """Return whether the page asks when it is left; it then stays, and is loaded anew otherwise."""
        self.asked.clear()
        self.stays, before, end = True, self.loads, time.monotonic() + PATIENCE_S
        self.js("setTimeout(() => location.reload(), 0), 0")
        while not self.asked and self.loads == before:
            assert time.monotonic() < end, "nothing happened"
            self.page.wait_for_timeout(20)
        assert self.asked in ([], ["beforeunload"])
        return bool(self.asked)

    def close(self) -> None:
        """Close the page without asking."""
        self.context.close()


@contextmanager
def output_sources(**options: Any) -> Iterator[Driven]:
    """Give a page in a browser of its own."""
    with browser() as opened:
        page = Driven(opened, **options)
        yield page
        page.close()
