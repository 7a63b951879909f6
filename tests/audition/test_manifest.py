"""The manifest of an audition folder: what it knows as its own, what it keeps, what it drops."""

from __future__ import annotations

import json

import numpy as np
import pytest

from sublatch.audition.folder.manifest import MANIFEST_NAME, Manifest, digest
from sublatch.errors import OutputError
from sublatch.files.sound import write_audio
from sublatch.files.whole_files import make_folder

FACTS = {"levels": {"peak_dbfs": -3.0, "low_band_dbfs": None}, "regions": [0.25, 0.0, 1e-9]}


def written(folder, name="a.txt", key="key", text="text"):
    """Write a file as a first run would, and return a manifest for the second."""
    manifest = Manifest(folder)
    make_folder((folder / name).parent)
    (folder / name).write_text(text)
    manifest.wrote(folder / name, key)
    manifest.save()
    return Manifest(folder)


def test_equal_facts_have_an_equal_digest():
    assert digest("a", {"x": 1, "y": 2.5}) == digest("a", {"y": 2.5, "x": 1})
    assert len({digest("a", "b"), digest("ab"), digest("a", ["b"]), digest("a", None), digest("a", 0.1 + 0.2)}) == 5


def test_a_file_is_current_only_while_its_facts_and_its_bytes_are_the_same(tmp_path):
    manifest = written(tmp_path)
    assert manifest.is_current(tmp_path / "a.txt", "key")
    assert not manifest.is_current(tmp_path / "a.txt", "other")
    assert not manifest.is_current(tmp_path / "b.txt", "key")
    (tmp_path / "a.txt").write_text("changed")
    assert not manifest.is_current(tmp_path / "a.txt", "key")
    assert not manifest.is_ours(tmp_path / "a.txt")


def test_measurements_are_known_again(tmp_path):
    manifest = Manifest(tmp_path)
    manifest.keep_measured("k", FACTS)
    manifest.save()
    assert Manifest(tmp_path).measured("k", dict) == FACTS
    assert Manifest(tmp_path).measured("other", dict) is None


def test_what_is_not_its_own_is_refused_and_named(tmp_path):
    manifest = written(tmp_path)
    manifest.guard([tmp_path / "a.txt", tmp_path / "new.txt"], overwrite=False)
    (tmp_path / "b.txt").write_text("the user's")
    with pytest.raises(OutputError, match=r"b\.txt exists and was not made by sublatch"):
        manifest.guard([tmp_path / "a.txt", tmp_path / "b.txt"], overwrite=False)
    manifest.guard([tmp_path / "b.txt"], overwrite=True)


def test_a_sound_of_a_run_that_was_killed_is_known_by_what_it_says_itself(tmp_path):
    path = tmp_path / "a.wav"
    write_audio(path, np.zeros(100), 8000)
    manifest = Manifest(tmp_path)
    manifest.guard([path], overwrite=False)
    assert not manifest.is_current(path, "key")
    manifest.drop_leftovers()
    assert path.exists()


@pytest.mark.parametrize("text", ["{}", "[1]", "null", '{"format": 1}', '{"format": 1, "files": {"a": 1}}', "no JSON"])
def test_a_file_of_the_users_with_the_ledgers_name_is_refused(tmp_path, text):
    (tmp_path / MANIFEST_NAME).write_text(text)
    manifest = Manifest(tmp_path)
    with pytest.raises(OutputError, match=r"\.sublatch\.json exists and was not made by sublatch"):
        manifest.guard([], overwrite=False)
    manifest.guard([], overwrite=True)


def test_leftovers_go_with_their_folders_unless_somebody_changed_them(tmp_path):
    first = Manifest(tmp_path)
    for name in ("audio/x/a.txt", "audio/x/b.txt", "audio/y/c.txt", "d.txt"):
        make_folder((tmp_path / name).parent)
        (tmp_path / name).write_text(name)
        first.wrote(tmp_path / name, "key")
    first.save()
    (tmp_path / "audio/x/b.txt").write_text("changed")
    second = Manifest(tmp_path)
    assert second.is_current(tmp_path / "d.txt", "key")
    second.drop_leftovers()
    second.save()
    left = {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*")}
    assert left == {MANIFEST_NAME, "audio", "audio/x", "audio/x/b.txt", "d.txt"}
    assert not Manifest(tmp_path).is_ours(tmp_path / "audio/x/b.txt")


def test_a_file_that_is_kept_is_no_leftover(tmp_path):
    manifest = written(tmp_path)
    manifest.keep_file(tmp_path / "a.txt")
    manifest.keep_file(tmp_path / "never-there.txt")
    manifest.drop_leftovers()
    manifest.save()
    assert Manifest(tmp_path).is_current(tmp_path / "a.txt", "key")


def test_a_manifest_cannot_reach_out_of_its_folder(tmp_path):
    folder = tmp_path / "audition"
    folder.mkdir()
    outside = tmp_path / "mine.txt"
    written(folder, text="same")
    outside.write_text("same")
    stored = json.loads((folder / MANIFEST_NAME).read_text())
    for name in ("../mine.txt", str(outside), "x/../../mine.txt"):
        stored["files"][name] = stored["files"]["a.txt"]
    (folder / MANIFEST_NAME).write_text(json.dumps(stored))
    manifest = Manifest(folder)
    manifest.drop_leftovers()
    assert outside.exists()
    assert not (folder / "a.txt").exists()


def test_a_run_that_changes_nothing_leaves_the_manifest_as_it_is(tmp_path):
    manifest = written(tmp_path)
    before = (tmp_path / MANIFEST_NAME).stat().st_mtime_ns
    assert manifest.is_current(tmp_path / "a.txt", "key")
    manifest.save()
    assert (tmp_path / MANIFEST_NAME).stat().st_mtime_ns == before


def test_an_unfinished_run_forgets_nothing(tmp_path):
    manifest = written(tmp_path)
    (tmp_path / "b.txt").write_text("new")
    manifest.wrote(tmp_path / "b.txt", "new key")
    manifest.keep_measured("k", FACTS)
    manifest.save_so_far()
    again = Manifest(tmp_path)
    assert again.is_current(tmp_path / "a.txt", "key")
    assert again.is_current(tmp_path / "b.txt", "new key")
    assert again.measured("k", dict) == FACTS
