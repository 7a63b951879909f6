"""Files of notes that were played: read, and refused with what is wrong."""

import random
from io import BytesIO

import mido
import numpy as np
import pytest

import sublatch
from sublatch.errors import NotesError
from sublatch.pitch.given.midi_file import entries_in_midi
from sublatch.pitch.given.notes import GivenNote, one_at_a_time
from sublatch.pitch.given.read import read_notes

BASS = (28, 33, 38, 43)
"""The open strings E1, A1, D2 and G2 as MIDI counts them."""
BASS_HZ = (41.203, 55.0, 73.416, 97.999)


def text_file(folder, text, name="played.txt"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def on(note, at, **more):
    return ("note_on", note, at, more)


def off(note, at, **more):
    return ("note_off", note, at, more)


def midi_bytes(*tracks, tempi=(), kind=1, ticks=480):
    """A MIDI file: for each track its events at ticks of 480 to a quarter note; `tempi` are (tick, µs a quarter)."""
    midi = mido.MidiFile(type=kind, ticks_per_beat=ticks)
    conductor = mido.MidiTrack()
    for (tick, tempo), (before, _) in zip(tempi, [(0, 0), *tempi], strict=False):
        conductor.append(mido.MetaMessage("set_tempo", tempo=tempo, time=tick - before))
    for events in ((), *tracks) if kind == 1 else tracks:
        track, now = conductor if not events else mido.MidiTrack(), 0
        for word, note, at, more in events:
            track.append(mido.Message(word, note=note, time=at - now, **more))
            now = at
        midi.tracks.append(track)
    content = BytesIO()
    midi.save(file=content)
    return content.getvalue()


def midi_file(folder, *tracks, **more):
    path = folder / "played.mid"
    path.write_bytes(midi_bytes(*tracks, **more))
    return path


def scale(numbers=BASS, channel=0):
    return [event for k, n in enumerate(numbers) for event in (on(n, 480 * k, channel=channel), off(n, 480 * k + 360))]


def told(given):
    return [(round(note.start_s, 4), round(note.end_s, 4), round(note.pitch_hz, 3)) for note in given.notes]


def test_a_text_has_a_note_a_line_by_name_or_hertz(tmp_path):
    text = (
        "# warm-up, by hand\n\n0.5 0.45 E1\n1.0\t450ms  F#2 # a comment\n  1.5 0.5 Bb1\n2 1 41.2\n3 1 55Hz\n#4 1 E1\n"
    )
    assert told(read_notes(text_file(tmp_path, text))) == [
        *((0.5, 0.95, 41.203), (1.0, 1.45, 92.499), (1.5, 2.0, 58.27), (2.0, 3.0, 41.2), (3.0, 4.0, 55.0)),
    ]


def test_lines_may_stand_in_any_order_and_end_as_on_any_system(tmp_path):
    path = tmp_path / "a.txt"
    path.write_bytes(b"\xef\xbb\xbf1 0.5 A1\r\n0 0.5 E1\r\n")
    assert told(read_notes(path)) == [(0.0, 0.5, 41.203), (1.0, 1.5, 55.0)]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("1.5 E1", "must be start in s, length in s and a note or hertz.*got '1.5 E1'; is the length missing"),
        ("1,5 0,4 E1 x", "got '1,5 0,4 E1 x'; put spaces between, and a point before decimals"),
        ("1.5,0.4,E1", "put spaces between"),
        ("1.5 0.4 E1 A1", "got '1.5 0.4 E1 A1'$"),
        ("start length note", "a time is written like .* got 'start'"),
        ("1.5 0.4 E", "a note is a letter A to G and an octave number, like E1 or Bb0, got 'E'"),
        ("1.5 0.4 H1", "got 'H1'"),
        ("1.5 0,4 E1", "use a point for the decimals"),
        ("1.5 0.4 -41", "a frequency must be above zero"),
        ("-1 0.4 E1", "a time must be from 0 to 1000 s, got '-1'"),
        ("1.5 0 E1", "got a length of 0 s; the second number is no end but a length"),
        ("1.5 nan E1", "got 'nan'"),
        ("1.5 0.4 C0", "must be from 20 Hz to 2000 Hz, got C0 at 1.500 s"),
        ("1.5 0.4 3kHz", "20 Hz to 2000 Hz, got F#7 at 1.500 s .3000 Hz.; is it the right part"),
        ("1.5 0.4 " + "E1" * 300, "got '"),
    ],
)
def test_a_line_that_is_no_note_is_told_by_its_number(tmp_path, line, words):
    path = text_file(tmp_path, f"# by hand\n0 0.5 E1\n{line}\n")
    with pytest.raises(NotesError, match=words) as caught:
        read_notes(path)
    assert str(caught.value).startswith(f"{path}: line 3: ")
    assert len(str(caught.value)) < 1500


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "must give at least one note of 20 ms or more, got none"),
        ("# nothing\n\n", "got none"),
        ("0 0.01 E1\n1 0.01 A1", "got 2, all shorter"),
        ("0 0.5 E1\n0 0.5 B1", "one note at a time, got E1 at 0.000 s .line 1. and B1 at 0.000 s .line 2. together"),
        ("0 0.5 E1\n2 0.5 E1\n0.015 2 B1", r"\(line 1\) and B1 at 0.015 s \(line 3\) together; .* without chords"),
    ],
)
def test_a_text_without_notes_or_with_chords_is_refused(tmp_path, text, words):
    path = text_file(tmp_path, text)
    with pytest.raises(NotesError, match=words) as caught:
        read_notes(path)
    assert str(caught.value).startswith(str(path))


def test_a_note_that_overlaps_the_next_is_shortened_and_said(tmp_path):
    path = text_file(tmp_path, "0 1.2 E1\n1 5 A1\n1.5 0.5 D2\n3 0.015 D2\n")
    given = read_notes(path)
    assert told(given) == [(0.0, 1.0, 41.203), (1.0, 1.5, 55.0), (1.5, 2.0, 73.416)]
    assert [(remark.code, remark.text) for remark in given.remarks] == [
        ("given-overlap", f"{path}: shortened where the next begins: E1 at 0.000 s and 1 more"),
        ("given-left-out", f"{path}: left out, shorter than 20 ms: D2 at 3.000 s"),
    ]


def test_notes_that_end_where_the_next_begins_do_not_overlap(tmp_path):
    assert read_notes(text_file(tmp_path, "0 0.1 E1\n0.1 0.2 A1\n0.3 0.1 A1\n")).remarks == ()


def test_a_midi_file_gives_its_notes_in_seconds(tmp_path):
    """At 120 beats a minute, what a file without a tempo has, 480 ticks are 0.5 s."""
    given = read_notes(midi_file(tmp_path, scale()))
    assert [note.start_s for note in given.notes] == pytest.approx([0.0, 0.5, 1.0, 1.5])
    assert [note.end_s - note.start_s for note in given.notes] == pytest.approx([0.375] * 4)
    assert [note.pitch_hz for note in given.notes] == pytest.approx(BASS_HZ, rel=1e-4)
    assert given.remarks == ()


def test_tempo_changes_count(tmp_path):
    given = read_notes(midi_file(tmp_path, scale(), tempi=((0, 500_000), (960, 1_000_000))))
    assert [note.start_s for note in given.notes] == pytest.approx([0.0, 0.5, 1.0, 2.0])
    assert given.notes[-1].end_s == pytest.approx(2.75)


def test_all_channels_and_tracks_count_but_the_drums(tmp_path):
    drums = [event for k in range(16) for event in (on(36, 120 * k, channel=9), off(36, 120 * k + 60, channel=9))]
    one, other = scale()[:4], [(*event[:3], {"channel": 3}) for event in scale()[4:]]
    assert told(read_notes(midi_file(tmp_path, drums, one, other))) == told(read_notes(midi_file(tmp_path, scale())))


def test_a_note_ends_at_a_stroke_without_velocity_at_its_own_next_stroke_and_with_the_file(tmp_path):
    events = [on(28, 0), on(28, 240, velocity=0), on(33, 480), on(33, 960), off(33, 1200), on(38, 1440), off(40, 1920)]
    given = read_notes(midi_file(tmp_path, events))
    assert [at for note in given.notes for at in (note.start_s, note.end_s)] == pytest.approx(
        [0.0, 0.25, 0.5, 1.0, 1.0, 1.25, 1.5, 2.0]
    )


def test_files_of_one_track_are_read(tmp_path):
    assert len(read_notes(midi_file(tmp_path, scale(), kind=0)).notes) == 4


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"MThd", "must be a Standard MIDI File: it ends too early"),
        (b"MThd" + b"\0" * 40, "must be a Standard MIDI File"),
        (midi_bytes(scale())[:60], "must be a Standard MIDI File: it ends too early"),
        (b"RIFF" + midi_bytes(scale()), "must be a Standard MIDI File, which begins with MThd, got something else"),
        (b"0 0.5 E1\n", "which begins with MThd"),
        (midi_bytes(scale(), kind=2), "must be of type 0 or 1, got type 2"),
        (midi_bytes(scale(), ticks=-6360), "must count its time in beats, got frames"),
        (midi_bytes(scale(), ticks=0), "must count its time in beats"),
        (midi_bytes([on(36, 0, channel=9), off(36, 480, channel=9)]), "at least one note of 20 ms or more, got none"),
        (midi_bytes([on(28, 0), on(40, 0), off(28, 480), off(40, 480)]), "one note at a time.*without chords"),
        (midi_bytes(scale((28, 120))), "note 2: a note must be from 20 Hz to 2000 Hz, got C9 at 0.500 s"),
        (
            midi_bytes(scale(), tempi=((0, 16_000_000),), ticks=1),
            "note 1: a note must start at 0 to 1000 s and .* 5760.000 s long",
        ),
    ],
    ids=lambda value: "" if isinstance(value, bytes) else value,
)
def test_a_midi_file_that_cannot_be_used_is_refused(tmp_path, content, words):
    path = tmp_path / "played.mid"
    path.write_bytes(content)
    with pytest.raises(NotesError, match=words) as caught:
        read_notes(path)
    assert str(caught.value).startswith(str(path))


def test_a_midi_file_is_known_by_what_it_holds(tmp_path):
    (tmp_path / "played.kar").write_bytes(midi_bytes(scale()))
    assert len(read_notes(tmp_path / "played.kar").notes) == 4


def test_a_damaged_midi_file_is_read_or_refused():
    """Bytes changed, lost or cut off, three thousand times: never anything but notes or a NotesError."""
    chance, whole, outcomes = random.Random(5), midi_bytes(scale(), tempi=((0, 600_000),)), set()
    for _ in range(3000):
        content = bytearray(whole)
        for _ in range(chance.randint(1, 4)):
            place = chance.randrange(4, len(content))
            content[place : place + 1] = chance.choice(([], [chance.randrange(256)], [chance.randrange(128)]))
        try:
            one_at_a_time(entries_in_midi(bytes(content), file="x"), file="x")
            outcomes.add("read")
        except NotesError:
            outcomes.add("refused")
    assert outcomes == {"read", "refused"}


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("plaid.mid", "no such file of notes; did you mean 'played.mid'.; give a .mid file, or a text"),
        (".", "must be a MIDI file or a text of notes, got a folder"),
        ("wide.txt", "must be a text file in UTF-8, got something else"),
    ],
)
def test_what_is_no_such_file_is_refused(tmp_path, name, words):
    (tmp_path / "wide.txt").write_bytes("0 0.5 E1".encode("utf-16"))
    midi_file(tmp_path, scale())
    with pytest.raises(NotesError, match=words):
        read_notes(tmp_path / name)


@pytest.mark.parametrize("start_s", [np.nan, np.inf, 1001.0, -1001.0])
def test_a_start_out_of_range_is_refused(tmp_path, start_s):
    with pytest.raises(NotesError, match="start_s must be −1000 to 1000, in seconds, got"):
        sublatch.read_notes(text_file(tmp_path, "0 0.5 E1"), start_s=start_s)


def test_notes_know_their_file_and_where_they_begin(tmp_path):
    path = text_file(tmp_path, "0 0.5 E1")
    given = sublatch.read_notes(str(path), start_s=-0.25)
    assert (given.file, given.start_s) == (str(path), -0.25)
    assert given.notes == (GivenNote(0.0, 0.5, pytest.approx(41.2034, abs=1e-3)),)
    assert sublatch.read_notes(path).start_s is None
