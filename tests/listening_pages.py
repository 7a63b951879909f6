"""A real audition with its page in a browser, watched: what it says on the console, and what it asks for."""

from __future__ import annotations

import json
from base64 import b64decode
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from browsers import wait
from sublatch.audition.plan.load import load_audition
from sublatch.audition.run import run_audition
from sublatch.demo.strings import pluck
from sublatch.files.sound import write_audio

RATE = 48000
TITLE = "</script><img src=x onerror=globalThis.hurt=1>"
NAMES = (
    "<script>globalThis.hurt=1<script>",
    "\"quoted\" & 'so' onerror=globalThis.hurt=1 🎸 低音 %41#?",
    "long " * 39 + "name.",
)
"""Besides the bypassed take, in their order; a sweep of three follows."""
SETTINGS = ('circuit = "gated-first-order"', 'circuit = "polarity-third-order"', 'circuit = "gated-open"')
EDGE = 240
"""Length in samples of the fade where playing begins and at a loop's seam (5 ms)."""
OFFLINE = """async (asked) => {
  const take = JSON.parse(document.getElementById('audition').textContent).takes[0];
  const sounds = await sublatch.Player.sounds(take);
  const sound = await sublatch.Player.offline({ take, ...sounds, ...asked });
  const bytes = new Uint8Array(sound.getChannelData(0).buffer);
  let text = '';
  for (const byte of bytes) text += String.fromCharCode(byte);
  return btoa(text);
}"""
READY = "document.querySelector('.take').classList.contains('ready')"
"""Whether the first take's sounds are there."""
SWEEP = '[[sweeps]]\nname = "swept"\ncircuit = "gated-swept"\nvary = "knobs.tone"\nvalues = '


def line(seconds: float) -> np.ndarray:
    """Plucked notes, one a second."""
    notes = [pluck(f, seconds=1.0, sample_rate=RATE) for f in (41.2, 55.0, 73.4, 98.0)]
    samples = np.tile(np.concatenate(notes), int(np.ceil(seconds / 4)))[: round(seconds * RATE)]
    return 0.8 * samples / np.max(np.abs(samples))


def offline(page, **asked: object) -> np.ndarray:
    """Return what would be heard of the first take, sample by sample."""
    return np.frombuffer(b64decode(page.evaluate(OFFLINE, asked)), np.float32).astype(float)


def steps(samples: np.ndarray) -> np.ndarray:
    """Return how far each sample lies from the one before."""
    return np.abs(np.diff(samples))


def write_audition(
    folder: Path,
    *,
    seconds: float = 4.0,
    takes: int = 2,
    tones: Sequence[float] = (2, 5, 8),
    head: str = "",
    more: str = "",
) -> Path:
    """Write takes and a plan, run it, and return the folder with the page.

    `head` stands in the plan before the candidates, `more` after them.
    """
    names = [f"take {n} & co.wav" for n in range(takes)]
    for n, name in enumerate(names):
        write_audio(folder / name, (0.6 + 0.1 * n) * line(seconds), RATE)
    lines = [f"title = {_text(TITLE)}", f"takes = {_text(names)}", 'full_scale = "2V"', head]
    for name, settings in zip(NAMES, SETTINGS, strict=True):
        lines += ["[[candidates]]", f"name = {_text(name)}", settings]
    plan = folder / "plan.toml"
    plan.write_text("\n".join([*lines, more, f"{SWEEP}{list(tones)}"]), encoding="utf-8")
    run_audition(load_audition(plan))
    return folder / "audition"


def _text(value: object) -> str:
    """Return texts as TOML has them, which is as JSON has them without surrogates."""
    return json.dumps(value, ensure_ascii=False)


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
        wait(self.page, READY)

    def close(self) -> None:
        """Close the page; nothing may have been said, and nothing asked for elsewhere."""
        self.context.close()
        assert self.said == []
        assert self.asked
        assert [url for url in self.asked if not url.startswith(("file:", "data:"))] == []
