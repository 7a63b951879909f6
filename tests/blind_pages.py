"""A page with blind listening alone on it, for tests: its own scripts, a player without sound, a listener."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

PAGE = files("sublatch.audition") / "page"
SCRIPTS = ("keys", "markup", "odds", "trial", "blind-setup", "blind-trial", "blind-result", "blind")
NAMES = ("plainly bypassed", "gated at four", "gated at six & <b>seven</b>", "third-order low-pass")

SECTION = "document.querySelector('section.blind')"
HEARD = "silent.names[silent.chosen]"


def audition(names=NAMES, takes=("riff",)):
    candidates = [
        {
            "name": name,
            "circuit": "gated-swept" if i else "",
            "settings": {"knobs.tone": i} if i else {},
            "digest": f"sha256:{i:064x}",
            "key": f"k{i}",
            "file": f"audio/{i}.wav",
        }
        for i, name in enumerate(names)
    ]
    return {
        "title": "Which filter",
        "takes": [{"name": take, "seconds": 4.0, "sample_rate": 48000, "candidates": candidates} for take in takes],
    }


def write_page(path: Path, data: dict, *, player: str | None = None) -> Path:
    """Write the page of an audition, with a player without sound where none is given as a script."""
    style = "".join((PAGE / name).read_text(encoding="utf-8") for name in ("style.css", "blind.css"))
    player = player or (Path(__file__).parent / "silent_player.js").read_text(encoding="utf-8")
    scripts = [player, *((PAGE / "scripts" / f"{name}.js").read_text(encoding="utf-8") for name in SCRIPTS)]
    places = "".join(f'<section class="blind" data-take="{i}"></section>' for i in range(len(data["takes"])))
    path.write_text(
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">'
        f'<meta name="generator" content="sublatch 0.1.0"><title>x</title><style>{style}</style></head>'
        f'<body><h1>Which filter</h1>{places}<script type="application/json" id="audition">'
        f"{json.dumps(data).replace('<', chr(92) + 'u003c')}</script>"
        + "".join(f"<script>{script}</script>" for script in scripts)
        + "</body></html>",
        encoding="utf-8",
    )
    return path


OPEN = "document.querySelector('section.blind > button').click()"


def opened(page, path):
    page.open(path)
    page.js(OPEN)


def push(page, words, *, within="section.blind >> nth=0"):
    """Click the one button that says this."""
    page.push(words, within=within)


def begin(page, kind="forced-choice", *, times=6, reference=1, other=2):
    """Begin a session."""
    page.js(f"{SECTION}.querySelector('[value={kind}]').click()")
    if kind == "forced-choice":
        page.js(f"{SECTION}.querySelector('[name=reference]').value = {reference}")
        page.js(f"{SECTION}.querySelector('[name=other]').value = {other}")
    name = "trials" if kind == "forced-choice" else "rounds"
    page.js(f"{SECTION}.querySelector('[name={name}]').value = {times}")
    push(page, "Begin")
    page.wait(f"{SECTION}.querySelector('[data-hear]')")


def title(page):
    return page.js(f"{SECTION}.querySelector('h3').textContent")


def hear(page, letter):
    page.js(f"{SECTION}.querySelector('[data-hear={letter}]').click()")
    return page.js(HEARD)


def saved(page, folder):
    """Save the result and return its file."""
    file = page.saved("Save the result", within="section.blind >> nth=0", folder=folder)
    assert file.match("blind *.json")
    assert file.read_text(encoding="utf-8") == page.js(f"{SECTION}.querySelector('textarea').value")
    return file


def asks_before_leaving(page):
    """Return whether the page asks when it is left; it then stays."""
    asks = page.asks_before_leaving()
    if not asks:
        page.js(OPEN)
    return asks
