"""Notes of a Standard MIDI File, read by the library mido."""

from __future__ import annotations

from io import BytesIO
from struct import error as StructError

from sublatch.errors import NotesError
from sublatch.pitch.given.notes import LATEST_S, Entry, in_range
from sublatch.units import CONCERT_A_HZ

MAGIC = b"MThd"
"""What a Standard MIDI File begins with."""
_DRUMS = 9  # channel 10, counted from 0
_A4 = 69


def entries_in_midi(content: bytes, *, file: str) -> list[Entry]:
    """Return the notes of a Standard MIDI File, of all tracks and of all channels but 10, the drums'.

    Raises
    ------
    NotesError
        When it is no such file, or its time is not counted in beats.

    Notes
    -----
    Note 69 is A4, 440 Hz, in equal temperament, and channel 10 has the drums (General MIDI, from memory). Tempo
    changes count, pitch bends do not.
    """
    struck = _struck(content, file)
    ordered = sorted(struck, key=lambda note: note[0])
    return [
        in_range(Entry(f"note {count}", start_s, end_s - start_s, _hz(number)), file=file)
        for count, (start_s, end_s, number) in enumerate(ordered, start=1)
    ]


def _struck(content: bytes, file: str) -> list[tuple[float, float, int]]:
    """Return start and end in seconds, and number, of each note."""
    from mido import KeySignatureError, MidiFile

    try:
        midi = MidiFile(file=BytesIO(content))
    except (OSError, EOFError, ValueError, LookupError, TypeError, StructError, KeySignatureError) as problem:
        raise NotesError(f"{file}: must be a Standard MIDI File: {str(problem) or 'it ends too early'}") from None
    if midi.type not in (0, 1):
        raise NotesError(f"{file}: a MIDI file must be of type 0 or 1, got type {midi.type}; save it as one song")
    if midi.ticks_per_beat <= 0:
        raise NotesError(f"{file}: a MIDI file must count its time in beats, got frames; save it with a tempo")
    return _sounding(midi)


def _sounding(midi: object) -> list[tuple[float, float, int]]:
    """Return the notes of a file that is read: each ends when it is released, struck again, or the file ends."""
    now_s, begun, found = 0.0, dict[tuple[int, int], float](), list[tuple[float, float, int]]()
    for message in midi:  # type: ignore[attr-defined]
        now_s += message.time
        if message.type not in ("note_on", "note_off") or message.channel == _DRUMS:
            continue
        key = message.channel, message.note
        if key in begun:
            found.append((begun.pop(key), now_s, message.note))
        if message.type == "note_on" and message.velocity > 0:
            begun[key] = now_s
    return found + [(start_s, min(now_s, start_s + LATEST_S), number) for (_, number), start_s in begun.items()]


def _hz(number: int) -> float:
    """Return the pitch of a note by its number."""
    return float(CONCERT_A_HZ * 2.0 ** ((number - _A4) / 12))
