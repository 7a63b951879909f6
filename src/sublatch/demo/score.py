"""What is played in the invented takes, and exactly when: the truth that a tracker can be held against.

A bar is written as one word a note: string and fret (``A3``), the fret a slide ends on (``A3>10``), a mark
for the touch (``!`` hard accent, ``.`` soft, ``x`` dead note), and its length in beats (``:0.5``; 1 if left
out). ``-`` is a rest. Strings are named by their pitch, B (below E) to G.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sublatch.units.scales import hz_to_note, note_to_hz

LEAD_IN_S = 0.4
"""Silence before the first note, in seconds: room to measure the noise."""
TAIL_S = 0.4
"""Silence after the last note, in seconds."""
LIFT_S = 0.02
"""How long before the next note the finger stops the last one, in seconds."""
LOOSENESS_S = 0.004
"""Spread of the onsets about the beat, in seconds (invented; a steady player)."""
SLIDE_SPAN = (0.25, 0.5)
"""Share of a note's length at which a slide starts and ends."""
OPEN_STRINGS: Mapping[str, str] = {"B": "B0", "E": "E1", "A": "A1", "D": "D2", "G": "G2"}
"""The open strings of a five-string bass."""

_WORD = re.compile(
    r"(?:-|(?P<string>[BEADG])(?P<fret>\d+)(?:>(?P<to_fret>\d+))?(?P<touch>[!.x]?))(?::(?P<beats>[\d.]+))?"
)


@dataclass(frozen=True)
class Note:
    """One note as played: the truth about a take."""

    onset_s: float
    """When the string is let go, in seconds from the start of the take."""
    end_s: float
    """When the finger stops it, in seconds; it is silent a tenth of a second later."""
    pitch_hz: float
    """Pitch in hertz; of a slide, where it starts; of a dead note, the pitch of that fret."""
    name: str
    """Name of that pitch, such as E1."""
    string: str
    """B, E, A, D or G."""
    fret: int
    """0 for the open string."""
    touch: str = ""
    """Empty for a plain note, ``!`` hard, ``.`` soft, ``x`` dead: a thump in which no pitch is to be found."""
    to_hz: float | None = None
    """Where a slide ends, in hertz."""


@dataclass(frozen=True)
class Score:
    """One take: its tempo in beats a minute, and its bars."""

    beats_per_minute: float
    bars: tuple[str, ...]

    @property
    def beat_s(self) -> float:
        """Length of a beat in seconds."""
        return 60.0 / self.beats_per_minute

    @property
    def words(self) -> list[re.Match[str]]:
        """The notes and rests of all bars."""
        matches = []
        for word in " ".join(self.bars).split():
            match = _WORD.fullmatch(word)
            if match is None:
                raise ValueError(f"every word of a score must be a note or a rest, got {word!r}")
            matches.append(match)
        return matches

    @property
    def seconds(self) -> float:
        """Length of the take, with the silence before and after."""
        return LEAD_IN_S + self.beat_s * sum(_beats(word) for word in self.words) + TAIL_S


SCORES: Mapping[str, Score] = {
    "open-strings": Score(60, ("E0:2.8 B0:2.8 A0:2.8 D0:2.8 G0:2.8", "E0:0.8 -:0.4 A0:0.8 -:0.4")),
    "walking-line": Score(
        126,
        (
            "A0 A3 D2:0.67 A0x:0.33 D0",
            "D2 A3 A0 E2:0.67 E2x:0.33",
            "E1 A0 A3:0.67 A3x:0.33 A2",
            "E0 E4 A2:0.67 E0x:0.33 A1",
            "A0 A2 D2:0.67 D2:0.33 A2",
            "A3 D2 G0 D2:0.67 A0x:0.33",
            "D0 D3 D2 E4",
            "A0:0.67 A0x:0.33 D2 A0:2",
        ),
    ),
    "hard-accents": Score(
        100,
        (
            "E0!:0.75 E0x:0.25 E0.:0.25 E0x:0.25 E3!:0.5 E5:0.5 E0.:0.5 E0x:0.25 E0x:0.25 A2!:0.5",
            "E0!:1 E0.:0.25 E0x:0.25 E0.:0.5 D2!:0.5 A2.:0.5 A0:0.5 E3!:0.5",
            "B0!:0.75 B0x:0.25 B0.:0.25 B0x:0.25 B3!:0.5 E0:0.5 B0.:0.5 B0x:0.25 B0x:0.25 E3!:0.5",
            "E0!:0.5 E0.:0.25 E0.:0.25 E7!:0.5 E5:0.5 E3!:0.5 -:0.25 E0x:0.25 E0!:1",
        ),
    ),
    "slide": Score(72, ("E1>8:2.5 A3>10:2.5 D9>2:2", "-:0.5 A7>2:2 B3>8:2.5")),
    "dead-notes": Score(
        104,
        (
            "E0x:0.5 E0x:0.25 E0x:0.25 A0x:0.5 E3:0.5 E0x:0.5 E0x:0.5 A0x:0.5 A0:0.5",
            "E0x:0.5 E0x:0.25 E0x:0.25 A0x:0.5 E5:0.5 -:0.25 E0x:0.25 E0x:0.5 E3:0.5 E0.:0.5",
            "E0x:0.5 A0x:0.25 A0x:0.25 D0x:0.5 A3:0.5 E0x:0.5 E0x:0.25 E0x:0.25 E3:0.5 A0x:0.5",
            "E0x:0.25 E0x:0.25 E0x:0.25 E0x:0.25 A0x:0.5 D2!:0.5 -:0.5 E0x:0.5 E0!:1",
        ),
    ),
}
"""The takes: a trio of invented people rehearsing in a boathouse, and the bass player warming up."""


def demo_notes() -> dict[str, list[Note]]:
    """Return what is played in each invented take.

    Returns
    -------
    dict of str to list of Note
        By name of the take, in order of time.
    """
    return {name: _played(score, seed=100 + index) for index, (name, score) in enumerate(SCORES.items())}


def fretted_hz(string: str, fret: int) -> float:
    """Return the pitch in hertz of a string stopped at a fret, in equal temperament."""
    return float(note_to_hz(OPEN_STRINGS[string]) * 2 ** (fret / 12))


def _beats(word: re.Match[str]) -> float:
    """Return the length of a note or rest in beats."""
    return float(word["beats"] or 1)


def _played(score: Score, *, seed: int) -> list[Note]:
    """Return the notes of one take, each stopped a little before the next one starts."""
    rng = np.random.default_rng(seed)
    notes, beat = [], 0.0
    for word in score.words:
        if word["string"]:
            late_s = LOOSENESS_S * float(np.clip(rng.standard_normal(), -2, 2))
            onset_s = LEAD_IN_S + score.beat_s * beat + late_s
            end_s = LEAD_IN_S + score.beat_s * (beat + _beats(word)) - LIFT_S
            notes.append(_note(word, onset_s, end_s))
        beat += _beats(word)
    return notes


def _note(word: re.Match[str], onset_s: float, end_s: float) -> Note:
    """Return the note that one word of the score stands for."""
    string, fret = word["string"], int(word["fret"])
    pitch_hz = fretted_hz(string, fret)
    to_hz = fretted_hz(string, int(word["to_fret"])) if word["to_fret"] else None
    return Note(onset_s, end_s, pitch_hz, hz_to_note(pitch_hz), string, fret, word["touch"], to_hz)
