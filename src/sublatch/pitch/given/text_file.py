"""Notes written by hand: a line each, with start, length and pitch."""

from __future__ import annotations

import re

from sublatch.errors import NotesError, UnitError
from sublatch.pitch.given.notes import Entry, in_range
from sublatch.units import hertz, note_to_hz, seconds

_COMMENT = re.compile(r"(^|\s)#.*")
_RULE = "must be start in s, length in s and a note or hertz, such as '0.5 0.45 E1'"


def entries_in_text(text: str, *, file: str) -> list[Entry]:
    """Return the notes of a text: one a line, `#` at a line's start or after a space begins a comment.

    Raises
    ------
    NotesError
        When a line is no note, with its number.
    """
    lines = ((number, _COMMENT.sub("", line).split()) for number, line in enumerate(text.split("\n"), start=1))
    return [_entry(words, f"line {number}", file) for number, words in lines if words]


def _entry(words: list[str], where: str, file: str) -> Entry:
    """Return the note that a line's words stand for."""
    if len(words) != 3:
        line = " ".join(words)
        came = f"{line[:57]}…" if len(line) > 60 else line
        raise NotesError(f"{file}: {where}: {_RULE}, got {came!r}{_hint(words)}")
    try:
        start_s, length_s = seconds(words[0]), seconds(words[1])
        pitch_hz = note_to_hz(words[2]) if words[2][0].isalpha() else hertz(words[2])
    except UnitError as problem:
        raise NotesError(f"{file}: {where}: {_RULE}: {problem}") from None
    if length_s == 0.0:
        raise NotesError(f"{file}: {where}: {_RULE}, got a length of 0 s; the second number is no end but a length")
    return in_range(Entry(where, start_s, length_s, pitch_hz), file=file)


def _hint(words: list[str]) -> str:
    """Return what was probably meant by a line with too few or too many words."""
    if any("," in word or ";" in word for word in words):
        return "; put spaces between, and a point before decimals"
    return "; is the length missing?" if len(words) == 2 else ""
