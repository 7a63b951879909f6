"""Small auditions for tests: takes of half a second, a plan of three candidates, and what is in a folder."""

from __future__ import annotations

import json

import numpy as np

from sublatch.audition.plan.load import load_audition

RATE = 8000
CANDIDATES = {
    "open": 'circuit = "gated-open"',
    "swept": 'circuit = "gated-swept"\nset = { "knobs.tone" = 3.5 }',
    "third": 'circuit = "polarity-third-order"',
}


def note(seconds=0.6, *, rate=RATE, pitch_hz=60.0, peak=0.3):
    time_s = np.arange(round(seconds * rate)) / rate
    return peak * np.exp(-2 * time_s) * np.sin(2 * np.pi * pitch_hz * time_s)


def write_plan(folder, takes=("a.wav",), candidates=CANDIDATES, head=""):
    """Write a plan and return it, made ready."""
    tables = "".join(f'[[candidates]]\nname = "{name}"\n{text}\n' for name, text in candidates.items())
    path = folder / "plan.toml"
    path.write_text(f"takes = {json.dumps(list(takes))}\n{head}\n{tables}", encoding="utf-8")
    return load_audition(path)


def content(folder):
    """Return every file's bytes by its name from the folder on."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def times(folder):
    """Return when every file was written last."""
    return {
        path.relative_to(folder).as_posix(): path.stat().st_mtime_ns for path in folder.rglob("*") if path.is_file()
    }


def rewritten(before, after):
    return {name for name in after if after[name] != before.get(name)}
