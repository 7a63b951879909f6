"""``sublatch track`` with notes that are given, and with a second opinion on them."""

import json

import mido
import numpy as np
import pytest
from click.testing import CliRunner

from sublatch.cli import main
from sublatch.demo.strings import pluck
from sublatch.files.sound import write_audio

RATE = 16000
PLAYED = "0 0.95 E1\n1 0.95 B1\n2 0.95 D2\n"


@pytest.fixture
def here(tmp_path, monkeypatch):
    """A folder with three plucked notes from 0.25 s on, and the notes as text, as MIDI, and the first an octave off."""
    monkeypatch.chdir(tmp_path)
    strings = [pluck(hz, seconds=1.0, sample_rate=RATE) for hz in (41.2034, 61.7354, 73.4162)]
    write_audio("line.wav", np.concatenate([np.zeros(4000), *strings]), RATE)
    (tmp_path / "line.txt").write_text(PLAYED)
    (tmp_path / "high.txt").write_text(PLAYED.replace("E1", "E2"))
    midi, track = mido.MidiFile(ticks_per_beat=480), mido.MidiTrack()
    midi.tracks.append(track)
    for number in (28, 35, 38):
        track.append(mido.Message("note_on", note=number, time=48))
        track.append(mido.Message("note_off", note=number, time=912))
    midi.save(tmp_path / "line.mid")
    return tmp_path


def run(*words, command="track"):
    return CliRunner().invoke(main, [command, "line.wav", "-c", "gated-open", "--full-scale", "1V", *map(str, words)])


def told(*words):
    done = run(*words, "--json")
    assert done.exit_code == 0, done.stderr
    return json.loads(done.stdout)["results"][0]


@pytest.mark.parametrize(("file", "start_s"), [("line.txt", 0.25), ("line.mid", 0.20)])
def test_given_notes_are_found_in_the_take_and_tracked(here, file, start_s):
    done = run("--notes", file)
    assert (done.exit_code, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert lines[0] == "line, gated-open"
    assert lines[1].startswith(f"  notes as given by {file}, its zero at 0.")
    assert lines[1].endswith(" s (found): 3 of 3 starts meet an onset within 50 ms")
    found, given = told(), told("--notes", file)
    assert given["given"] == {
        "file": file,
        "start_s": pytest.approx(start_s, abs=0.03),
        "found": True,
        "starts": 3,
        "starts_met": 3,
    }
    assert [note["name"] for note in given["notes"]] == ["E1", "B1", "D2"]
    assert given["locked_share"] == pytest.approx(found["locked_share"], abs=0.03)
    assert given["locked_share"] > 0.9


def test_a_wrong_octave_is_lost_and_said(here):
    given = told("--notes", "high.txt")
    assert [note["locked_share"] > 0.9 for note in given["notes"]] == [False, True, True]
    assert "given-differs" in [remark["code"] for remark in given["remarks"]]
    assert "(E2 given, E1 found); as given\n" in run("--notes", "high.txt").stdout


@pytest.mark.parametrize(("start", "start_s"), [("0.25", 0.25), ("250ms", 0.25), ("-0.75", -0.75), ("−750ms", -0.75)])
def test_where_the_file_begins_can_be_told(here, start, start_s):
    given = told("--notes", "line.txt", "--notes-start", start)
    assert given["given"]["start_s"] == start_s
    assert given["given"]["found"] is False
    assert given["given"]["starts"] == (3 if start_s > 0 else 2)


def test_it_is_remarked_where_fewer_than_half_of_the_starts_meet_an_onset(here):
    printed = run("--notes", "line.txt", "--notes-start", "0.7").stdout
    assert "its zero at 0.700 s (as told): 0 of 3 starts meet" in printed
    assert "fewer than half of the given notes start where the take does; does it begin there?" in printed


@pytest.mark.parametrize("levels", [(), ("--levels", "--each")])
def test_tune_is_named_with_the_notes(here, levels):
    words = ("--notes", "high.txt", "--notes-start", "0.25")
    last = run(*words, *levels).stdout.splitlines()[-1]
    assert last.endswith(
        "sublatch tune line.wav -c gated-open --full-scale 1V --notes high.txt --notes-start 0.25 -o better.toml"
    )


def test_tune_takes_the_given_notes(here):
    done = run("--notes", "high.txt", "--trials", "1", command="tune")
    assert done.exit_code == 0, done.stderr
    assert "note: line: notes as given by high.txt" in done.stderr
    assert "(E2 given, E1 found)" in done.stderr


@pytest.mark.parametrize("command", ["track", "tune"])
@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("other.wav", "--notes", "line.txt"), "--notes has the notes of one take, got 2 takes; track them one by one"),
        (("--notes-start", "1s"), "--notes-start says where the notes of --notes begin; give that as well"),
        (("--notes", "line.txt", "--notes-start", "soon"), "--notes-start: a time is written like 20us, 5ms or 2s"),
        (("--notes", "lime.txt"), "lime.txt: no such file of notes; did you mean 'line.txt'?; give a .mid file"),
        (("--notes", "bad.txt"), "bad.txt: line 2: must be start in s, length in s and a note or hertz"),
    ],
)
def test_wrong_usage(here, command, words, message):
    (here / "bad.txt").write_text("0 1 E1\n1 E1\n")
    done = run(*words, command=command)
    assert done.exit_code == 2
    assert message in done.stderr
    assert done.stdout == ""


def test_the_notes_are_no_output(here):
    (here / "notes.png").write_text(PLAYED)
    done = run("--notes", "notes.png", "--plot", "notes.png", "--overwrite")
    assert done.exit_code != 0
    assert (here / "notes.png").read_text() == PLAYED


def test_a_second_opinion_stands_below_the_tables(here):
    done = run("--second-opinion", "-c", "gated-open", "--set", "detector.kind=zero-crossing")
    assert done.exit_code == 0, done.stderr
    assert "pYIN on line" in done.stderr
    said = "line, second opinion by pYIN: 3 of 3 notes agree within 50 cents (another pitch: 0, no pitch: 0)\n"
    assert done.stdout.count(said) == 1
    assert "pYIN looks at 128 ms at a time: notes that are not much longer are at its limit" in done.stdout
    assert done.stdout.index("whole take") < done.stdout.index(said)
    found = told("--second-opinion")["second_opinion"]
    assert (found["agree_share"], found["no_pitch_share"]) == (1.0, 0.0)
    assert [note["name"] for note in found["notes"]] == ["E1", "B1", "D2"]
    assert all(abs(note["difference_cents"]) < 25 for note in found["notes"])
    assert "second_opinion" not in told()


def test_a_second_opinion_is_told_note_by_note_where_it_differs(here):
    lines = run("--notes", "high.txt", "--second-opinion").stdout.splitlines()
    first = next(place for place, line in enumerate(lines) if "second opinion" in line)
    assert "2 of 3 notes agree within 50 cents (another pitch: 1, no pitch: 0)" in lines[first]
    assert lines[first + 1].split() == ["start", "s", "length", "s", "note", "Hz", "pYIN", "Hz", "cents"]
    start, length, name, hz, other, other_hz, off = lines[first + 2].split()
    assert (name, hz, other) == ("E2", "82.4", "E1")
    assert float(start) == pytest.approx(0.25, abs=0.02)
    assert 0.8 < float(length) <= 1.0
    assert float(other_hz) == pytest.approx(41.2, abs=0.6)
    assert int(off) == pytest.approx(-1200, abs=25)
