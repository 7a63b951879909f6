"""A second run: what it redoes, keeps, drops or refuses, and how it takes up one that was stopped."""

from __future__ import annotations

import errno

import numpy as np
import pytest

from small_auditions import CANDIDATES, RATE, content, note, rewritten, times, write_plan
from sublatch.audition.folder.manifest import MANIFEST_NAME
from sublatch.audition.run import run_audition
from sublatch.errors import OutputError
from sublatch.files import whole_files
from sublatch.files.sound import write_audio

pytestmark = pytest.mark.usefixtures("plain_page")

BOX = 'title = "Box"\n[octave]\nkind = "gain-gated"\n[filter]\nkind = "first-order"\n'


@pytest.mark.usefixtures("real_page")
def test_a_second_run_touches_nothing(folder):
    plan = write_plan(folder, ("a.wav", "b.wav"))
    first = run_audition(plan)
    before = times(folder / "audition")
    assert run_audition(plan) == first
    assert times(folder / "audition") == before


def test_a_changed_candidate_redoes_only_what_depends_on_it(folder):
    head = 'match = "none"\nheadroom = "0dB"'
    run_audition(write_plan(folder, head=head))
    before = times(folder / "audition")
    run_audition(write_plan(folder, candidates={**CANDIDATES, "swept": 'circuit = "gated-swept"'}, head=head))
    pages = {"index.html", "results.csv", "results.json", MANIFEST_NAME}
    assert rewritten(before, times(folder / "audition")) == {
        "audio/a/swept.wav",
        "page/a/swept.js",
        "reels/a.wav",
        *pages,
    }


def test_a_changed_take_leaves_the_other_alone(folder):
    plan = write_plan(folder, ("a.wav", "b.wav"))
    run_audition(plan)
    before = times(folder / "audition")
    write_audio(folder / "b.wav", note(pitch_hz=70.0), RATE)
    run_audition(plan)
    assert not [name for name in rewritten(before, times(folder / "audition")) if name.split("/")[-2:-1] == ["a"]]


def test_a_second_run_gives_what_a_first_would(folder):
    run_audition(write_plan(folder, ("b.wav",), {"open": CANDIDATES["swept"], "gone": CANDIDATES["open"]}))
    plan = write_plan(folder, ("a.wav", "b.wav"))
    run_audition(plan)
    run_audition(plan, output=folder / "fresh")
    assert content(folder / "audition") == content(folder / "fresh")


def test_what_is_no_longer_asked_for_goes_unless_it_was_changed(folder):
    run_audition(write_plan(folder, ("a.wav", "b.wav")))
    made = folder / "audition"
    (made / "audio/b/open.wav").write_bytes(b"mine now")
    (made / "notes.txt").write_text("mine")
    run_audition(write_plan(folder, ("a.wav",), {"open": CANDIDATES["open"]}))
    sounds = {name for name in content(made) if name.endswith((".wav", ".txt"))}
    assert sounds == {"audio/a/bypassed.wav", "audio/a/open.wav", "reels/a.wav", "audio/b/open.wav", "notes.txt"}
    assert {name for name in content(made) if name.startswith("page/")} == {"page/a/bypassed.js", "page/a/open.js"}


@pytest.mark.parametrize(
    "name", ["audio/a/open.wav", "page/a/open.js", "reels/a.wav", "index.html", "results.csv", "results.json"]
)
def test_what_the_user_changed_is_refused_and_then_nothing_is_written(folder, name):
    run_audition(write_plan(folder))
    made = folder / "audition"
    (made / name).write_bytes(b"mine")
    plan = write_plan(folder, ("a.wav", "b.wav"), {"more": CANDIDATES["open"], **CANDIDATES})
    before = content(made), times(made)
    with pytest.raises(OutputError, match=f"{name} exists and was not made by sublatch, or was changed since"):
        run_audition(plan)
    assert (content(made), times(made)) == before
    run_audition(plan, overwrite=True)
    run_audition(plan, output=folder / "fresh")
    assert content(made) == content(folder / "fresh")


def test_a_take_that_cannot_be_read_for_once_keeps_its_sounds(folder):
    plan = write_plan(folder, ("a.wav", "b.wav"))
    run_audition(plan)
    before = times(folder / "audition")
    (folder / "b.wav").rename(folder / "elsewhere.wav")
    (folder / "b.wav").write_bytes(b"")
    run_audition(plan)
    assert not rewritten(times(folder / "audition"), before) - {
        "index.html",
        "results.csv",
        "results.json",
        MANIFEST_NAME,
    }
    (folder / "elsewhere.wav").replace(folder / "b.wav")
    run_audition(plan)
    assert {name for name in rewritten(before, times(folder / "audition")) if name.endswith(".wav")} == set()


@pytest.mark.usefixtures("real_page")
def test_a_changed_circuit_file_is_seen_even_when_all_is_silence(folder):
    write_audio(folder / "c.wav", np.zeros(4000), RATE)
    (folder / "box.toml").write_text(BOX, encoding="utf-8")
    run_audition(write_plan(folder, ("c.wav",), {"box": 'circuit = "box.toml"'}))
    before = content(folder / "audition")
    (folder / "box.toml").write_text(BOX + 'capacitor = "1n"\n', encoding="utf-8")
    run_audition(write_plan(folder, ("c.wav",), {"box": 'circuit = "box.toml"'}))
    assert "index.html" in rewritten(before, content(folder / "audition"))


class Stop(BaseException):
    """What a test ends a run with."""


@pytest.mark.parametrize("after", [1, 4, 5])
def test_a_run_that_is_stopped_leaves_whole_files_and_the_next_completes_it(folder, after):
    plan, seen = write_plan(folder, ("a.wav", "b.wav")), []

    def stop(name):
        seen.append(name)
        if len(seen) == after:
            raise Stop

    with pytest.raises(Stop):
        run_audition(plan, progress=stop)
    left = content(folder / "audition")
    assert not [name for name in left if name.endswith(".part")]
    assert ("audio/a/open.wav" in left) == (after > len(CANDIDATES))
    before = times(folder / "audition")
    run_audition(plan)
    assert not {name for name in rewritten(before, times(folder / "audition")) if name in before} - {MANIFEST_NAME}
    run_audition(plan, output=folder / "fresh")
    assert content(folder / "audition") == content(folder / "fresh")


@pytest.mark.parametrize("lasts", [0, 3, 10])
def test_a_full_disk_is_told_and_the_next_run_completes_the_work(folder, monkeypatch, lasts):
    plan, room, flush = write_plan(folder, ("a.wav", "b.wav")), [lasts], whole_files._flush

    def full(path):
        room[0] -= 1
        if room[0] < 0:
            raise OSError(errno.ENOSPC, "No space left on device", str(path))
        flush(path)

    with monkeypatch.context() as patch:
        patch.setattr(whole_files, "_flush", full)
        with pytest.raises(OutputError, match="cannot be written: the disk is full") as caught:
            run_audition(plan, jobs=1)
    assert MANIFEST_NAME not in str(caught.value)  # it cannot be written either, but that is not the news
    left = content(folder / "audition")
    assert len(left) <= lasts
    assert not [name for name in left if name.endswith(".part")]
    run_audition(plan)
    run_audition(plan, output=folder / "fresh")
    assert content(folder / "audition") == content(folder / "fresh")


def test_a_run_that_was_killed_is_taken_up_again(folder):
    plan = write_plan(folder)
    run_audition(plan)
    for name in (MANIFEST_NAME, "index.html", "results.csv", "results.json", "audio/a/third.wav"):
        (folder / "audition" / name).unlink()
    run_audition(plan)
    run_audition(plan, output=folder / "fresh")
    assert content(folder / "audition") == content(folder / "fresh")
