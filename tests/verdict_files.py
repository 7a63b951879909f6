"""Files of verdicts as the listening page saves them, made without it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

CANDIDATES = [
    {"name": "bypassed", "circuit": "", "settings": {}},
    {"name": "as built", "circuit": "gated-first-order", "settings": {}},
    {"name": "swept", "circuit": "gated-swept", "settings": {"knobs.tone": 3.5}},
    {"name": "volume 2", "circuit": "gated-open", "settings": {"knobs.volume": 2}},
    {"name": "volume 9.5", "circuit": "gated-open", "settings": {"knobs.volume": 9.5}},
]
PLAN = """title = "Which filter"
takes = ["walk.wav", "slide.wav"]
full_scale = "2V"
output = "audition"
[[candidates]]
name = "as built"
circuit = "gated-first-order"
[[candidates]]
name = "swept"
circuit = "gated-swept"
set = { "knobs.tone" = 3.5 }
[[sweeps]]
name = "volume"
circuit = "gated-open"
vary = "knobs.volume"
values = [2, 9.5]
"""


def verdicts(*given: str, listener: str = "Ann", session: int | str = 1, **changes: Any) -> dict[str, Any]:
    """Return a document: each verdict as "take: candidate: word" or "take: candidate: word: note"."""
    parts = [one.split(": ") for one in given]
    return {
        "audition_verdicts": 1,
        "program": "sublatch 0.4.0",
        "session": session if isinstance(session, str) else f"{session:016x}",
        "saved": "2030-01-31T18:30:00.000Z",
        "listener": listener,
        "audition": "Which filter",
        "plan": "plan.toml",
        "takes": ["walk", "slide"],
        "candidates": CANDIDATES,
        "verdicts": [
            {"take": take, "candidate": name, "verdict": word or None, "note": "".join(note), "sound": "sha256:0"}
            for take, name, word, *note in parts
        ],
        **changes,
    }


def write(path: Path, document: Any) -> Path:
    """Write a document, or a text as it is."""
    path.write_text(document if isinstance(document, str) else json.dumps(document), encoding="utf-8")
    return path
