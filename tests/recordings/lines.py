"""Random lines of recorded notes: written as MIDI by seed, played by FluidSynth from one of two open sound sets.

What was played is known to the millisecond: the MIDI file's time, and how late each recording sounds after its key is
pressed, which is measured on that note played alone. Nothing here is tuned to the seeds that the tests use.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory

import mido  # type: ignore[import-untyped]
import numpy as np
import pytest
import soundfile as sf

from recordings.soundfont import SOUNDFONT, pitch_of_key_hz
from sublatch.arrays import Signal

SETS = {
    "fluid-soundfont-gm": SOUNDFONT,
    "timgm6mb-soundfont": Path("/usr/share/sounds/sf2/TimGM6mb.sf2"),
}
PROGRAMS = {"fingered": 33, "picked": 34, "slapped": 36, "clean guitar": 27, "jazz guitar": 26}
"""General MIDI programs, counted from 0."""
RATE_HZ = 48000
TICKS_A_SECOND = 1920
NOTES = 32
LEAD_S = 0.25


@dataclass(frozen=True)
class Line:
    """How a line is played.

    Attributes
    ----------
    beats_a_minute, notes_a_beat
        Its pace.
    lowest, highest
        Between which MIDI keys it moves.
    octaves
        Whether it goes from a note to its octave and back, eight notes on one root.
    """

    beats_a_minute: int
    notes_a_beat: int
    lowest: int = 28
    highest: int = 50
    octaves: bool = False


@dataclass(frozen=True)
class Played:
    """A note that was played: when it begins to sound, for how many seconds its key is held, and its key."""

    start_s: float
    held_s: float
    key: int

    @property
    def pitch_hz(self) -> float:
        """Return its pitch in equal temperament at A4 = 440 Hz (ISO 16:1975)."""
        return pitch_of_key_hz(self.key)


def why_missing() -> str:
    """Return why no lines can be played here, or an empty text."""
    missing = [package for package, path in SETS.items() if not path.is_file()]
    missing += [] if shutil.which("fluidsynth") else ["fluidsynth"]
    missing += [] if find_spec("mido") else ["mido"]
    return f"not installed: {', '.join(missing)}" if missing else ""


requires_lines = pytest.mark.skipif(bool(why_missing()) and os.environ.get("CI") != "true", reason=why_missing())
"""Mark for tests that need them: without them they are skipped, but under CI=true they run, and so fail."""


def play(line: Line, *, style: str, sound_set: str, seed: int) -> tuple[Signal, list[Played]]:
    """Return the samples of a random line (n,) at 48 kHz, full scale ±1, and what was played."""
    rng = np.random.default_rng([seed, line.beats_a_minute, line.notes_a_beat, line.lowest, PROGRAMS[style]])
    step_s = 60.0 / line.beats_a_minute / line.notes_a_beat
    keys = _octave_keys(line, rng) if line.octaves else _walking_keys(line, rng)
    events = [
        (LEAD_S + n * step_s, step_s * float(rng.uniform(0.8, 1.0)), key, int(rng.integers(60, 120)))
        for n, key in enumerate(keys)
    ]
    samples = _rendered(events, PROGRAMS[style], SETS[sound_set])
    late_s = _late_s(style, sound_set)
    return samples, [Played(start_s + late_s[key], held_s, key) for start_s, held_s, key, _ in events]


def _walking_keys(line: Line, rng: np.random.Generator) -> list[int]:
    """Return keys that repeat (15 %), step by up to a third (60 %) or leap by a fourth to an octave, in the range."""
    keys = [int(rng.integers(line.lowest, line.highest - 5))]
    for _ in range(NOTES - 1):
        kind = rng.random()
        steps = (0,) if kind < 0.15 else (1, 2, 3, 4) if kind < 0.75 else (5, 7, 9, 12)
        step = int(rng.choice(steps)) * int(rng.choice((-1, 1)))
        up = keys[-1] + step
        keys.append(up if line.lowest <= up <= line.highest else min(max(keys[-1] - step, line.lowest), line.highest))
    return keys


def _octave_keys(line: Line, rng: np.random.Generator) -> list[int]:
    """Return four notes and their octaves on one root after the other."""
    roots = rng.integers(line.lowest, line.highest + 1, NOTES // 8)
    return [int(root) + 12 * (n % 2) for root in roots for n in range(8)]


def _rendered(events: list[tuple[float, float, int, int]], program: int, sound_set: Path) -> Signal:
    """Return what a synthesizer makes of start, length, key and velocity of some notes, without room or chorus."""
    track = mido.MidiTrack(
        [mido.MetaMessage("set_tempo", tempo=500000), mido.Message("program_change", program=program)]
    )
    moves = [(start_s, True, key, velocity) for start_s, _, key, velocity in events]
    moves += [(start_s + held_s, False, key, 0) for start_s, held_s, key, _ in events]
    tick = 0
    for time_s, pressed, key, velocity in sorted(moves):
        at = round(time_s * TICKS_A_SECOND)
        track.append(mido.Message("note_on" if pressed else "note_off", note=key, velocity=velocity, time=at - tick))
        tick = at
    track.append(mido.MetaMessage("end_of_track", time=TICKS_A_SECOND // 2))
    with TemporaryDirectory() as folder:
        song, sound = Path(folder, "line.mid"), Path(folder, "line.wav")
        mido.MidiFile(ticks_per_beat=TICKS_A_SECOND // 2, tracks=[track]).save(song)
        dry = ["-ni", "-q", "-R", "0", "-C", "0", "-g", "0.6", "-r", str(RATE_HZ)]
        subprocess.run(["fluidsynth", *dry, "-F", sound, sound_set, song], check=True, capture_output=True)
        samples, _ = sf.read(sound)
    return np.asarray(samples.mean(axis=1), dtype=np.float64)


@cache
def _late_s(style: str, sound_set: str) -> dict[int, float]:
    """Return how late each recording reaches a tenth of its peak, played alone: some begin with the finger's way."""
    keys = range(23, 76)
    samples = _rendered([(2.0 * n, 0.25, key, 100) for n, key in enumerate(keys)], PROGRAMS[style], SETS[sound_set])
    late = {}
    for n, key in enumerate(keys):
        begun = np.abs(samples[2 * n * RATE_HZ : round((2 * n + 0.2) * RATE_HZ)])
        late[key] = float(np.argmax(begun >= 0.1 * np.max(begun)) / RATE_HZ)
    return late
