"""A real audition with its page in a browser, watched: what it says on the console, and what it asks for."""

from __future__ import annotations

import json
import shutil
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from sublatch.audition.plan import load_audition
from sublatch.audition.run import run_audition
from sublatch.demo.strings import pluck
from sublatch.files import write_audio

RATE = 48000
FLAGS = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync", "--autoplay-policy=no-user-gesture-required", "--mute-audio"),
)
TITLE = "</script><img src=x onerror=globalThis.hurt=1>"
NAMES = (
    "<script>globalThis.hurt=1<script>",
    "\"quoted\" & 'so' onerror=globalThis.hurt=1 🎸 低音 %41#?",
    "long " * 39 + "name.",
)
"""Besides the bypassed take, in their order; a sweep of three follows."""
SETTINGS = ('circuit = "gated-first-order"', 'circuit = "polarity-third-order"', 'circuit = "gated-open"')
SWEEP = '[[sweeps]]\nname = "swept"\ncircuit = "gated-swept"\nvary = "knobs.tone"\nvalues = '


def line(seconds: float) -> np.ndarray:
    """Plucked notes, one a second."""
    notes = [pluck(f, seconds=1.0, sample_rate=RATE) for f in (41.2, 55.0, 73.4, 98.0)]
    samples = np.tile(np.concatenate(notes), int(np.ceil(seconds / 4)))[: round(seconds * RATE)]
    return 0.8 * samples / np.max(np.abs(samples))


def write_audition(folder: Path, *, seconds: float = 4.0, takes: int = 2, tones: Sequence[float] = (2, 5, 8)) -> Path:
    """Write takes and a plan, run it, and return the folder with the page."""
    names = [f"take {n} & co.wav" for n in range(takes)]
    for n, name in enumerate(names):
        write_audio(folder / name, (0.6 + 0.1 * n) * line(seconds), RATE)
    lines = [f"title = {_text(TITLE)}", f"takes = {_text(names)}", 'full_scale = "2V"']
    for name, settings in zip(NAMES, SETTINGS, strict=True):
        lines += ["[[candidates]]", f"name = {_text(name)}", settings]
    plan = folder / "plan.toml"
    plan.write_text("\n".join([*lines, f"{SWEEP}{list(tones)}"]), encoding="utf-8")
    run_audition(load_audition(plan))
    return folder / "audition"


def _text(value: object) -> str:
    """Return texts as TOML has them, which is as JSON has them without surrogates."""
    return json.dumps(value, ensure_ascii=False)


@contextmanager
def browser() -> Iterator[object]:
    """Give a browser without a window; skip where there is none."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("chromium is not installed")
    with playwright.sync_playwright() as started:
        opened = started.chromium.launch(executable_path=program, args=list(FLAGS))
        yield opened
        opened.close()


def wait(page, condition: str, *, patience_s: float = 20.0) -> None:
    """Wait until an expression is true; the page's policy lets nobody evaluate one inside it."""
    end = time.monotonic() + patience_s
    while not page.evaluate(f"Boolean({condition})"):
        assert time.monotonic() < end, f"never came true: {condition}"
        time.sleep(0.01)


class Watched:
    """A page, and everything about it that should not be."""

    def __init__(self, browser, **options) -> None:
        self.context = browser.new_context(**options)
        self.page = self.context.new_page()
        self.said: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda problem: self.said.append(str(problem)))
        self.page.on("dialog", lambda dialog: (self.said.append(dialog.message), dialog.dismiss()))
        self.context.on("request", lambda request: self.asked.append(request.url))

    def open(self, folder: Path) -> None:
        """Open an audition's page as by a double-click."""
        self.page.goto((folder / "index.html").as_uri())

    def ready(self) -> None:
        """Wait until the first take's sounds are there."""
        wait(self.page, "document.querySelector('.take').classList.contains('ready')")

    def close(self) -> None:
        """Close the page; nothing may have been said, and nothing asked for elsewhere."""
        self.context.close()
        assert self.said == []
        assert self.asked
        assert [url for url in self.asked if not url.startswith(("file:", "data:"))] == []
