"""The notes that were played, read from a file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from sublatch.errors import NotesError
from sublatch.files.text import decoded, read_content
from sublatch.pitch.given.midi_file import MAGIC, entries_in_midi
from sublatch.pitch.given.notes import LATEST_S, GivenNotes, one_at_a_time
from sublatch.pitch.given.text_file import entries_in_text


def read_notes(path: str | Path, *, start_s: float | None = None) -> GivenNotes:
    """Read the notes that were played from a MIDI or text file.

    Parameters
    ----------
    path
        A Standard MIDI File, all of whose channels but the drums' count (10); or a text with a line for each note:
        start in s, length in s, and the note's name or hertz, as in ``0.5 0.45 E1``. Blank lines and comments after
        ``#`` are passed over.
    start_s
        Where the file's zero lies in the take, in seconds, −1000 to 1000; found by the take's onsets when not given.

    Returns
    -------
    GivenNotes
        For `track` and `tune_notes`. A note that overlaps the next one is shortened, with a remark.

    Raises
    ------
    NotesError
        When the file cannot be read, a line is no note, notes start together, or a number is out of range.
    """
    if start_s is not None and not -LATEST_S <= start_s <= LATEST_S:
        raise NotesError(f"start_s must be −{LATEST_S:g} to {LATEST_S:g}, in seconds, got {start_s:g}")
    path = Path(path)
    content = read_content(
        path,
        what="a MIDI file or a text of notes",
        missing="no such file of notes",
        hint="give a .mid file, or a text with a line such as '0.5 0.45 E1' for each note",
        error=NotesError,
    )
    if content.startswith(MAGIC):
        entries = entries_in_midi(content, file=str(path))
    elif path.suffix.lower() in (".mid", ".midi"):
        raise NotesError(f"{path}: must be a Standard MIDI File, which begins with MThd, got something else")
    else:
        entries = entries_in_text(decoded(content, path, error=NotesError), file=str(path))
    return replace(one_at_a_time(entries, file=str(path)), start_s=start_s)
