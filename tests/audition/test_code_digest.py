"""What an audition keeps depends on the code that made it: one changed byte of the package, and all is made anew."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import zipfile
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pytest

import sublatch
from small_auditions import RATE, note, times, write_plan
from sublatch.audition.folder import code_digest as module
from sublatch.audition.folder.code_digest import LIBRARIES, code_digest, source_digest
from sublatch.audition.folder.manifest import MANIFEST_NAME
from sublatch.files.sound import write_audio

pytestmark = pytest.mark.long

PACKAGE = Path(sublatch.__file__).parent
FILES = ("run.py", "deep/library.toml", "page/index.html.jinja", "page/play.js", "page/look.css")


@pytest.fixture
def package(tmp_path):
    """Give a package with a file of every kind."""
    for name in FILES:
        path = tmp_path / "package" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"one")
    return tmp_path / "package"


@pytest.mark.parametrize("name", FILES)
def test_any_byte_of_any_file_counts_and_so_does_its_name(package, name):
    before = source_digest(package)
    (package / name).write_bytes(b"One")
    assert source_digest(package) != before
    (package / name).write_bytes(b"one")
    assert source_digest(package) == before
    (package / name).rename((package / name).with_stem("other"))
    assert source_digest(package) != before


def test_what_python_compiles_and_hidden_files_do_not_count(package):
    before = source_digest(package)
    (package / "deep" / "__pycache__").mkdir()
    (package / "deep" / "__pycache__" / "x.pyc").write_bytes(b"compiled")
    (package / ".run.py.swp").write_bytes(b"an editor's")
    assert source_digest(package) == before


def test_a_package_that_is_still_packed_gives_the_same(package):
    packed = shutil.make_archive(str(package), "zip", package)
    assert source_digest(zipfile.Path(packed)) == source_digest(package)


def test_it_holds_for_this_package_and_is_worked_out_once(monkeypatch):
    assert code_digest() == code_digest.__wrapped__()
    monkeypatch.setattr(module, "source_digest", None)
    assert len(code_digest()) == 32


@pytest.mark.parametrize("library", LIBRARIES)
def test_every_library_that_shapes_a_file_counts(monkeypatch, library):
    before = code_digest.__wrapped__()
    monkeypatch.setattr(module, "version", lambda name: "0" if name == library else version(name))
    assert code_digest.__wrapped__() != before


def test_the_library_that_writes_sound_files_counts(monkeypatch):
    before = code_digest.__wrapped__()
    monkeypatch.setattr(module, "LIBSNDFILE_VERSION", "0")
    assert code_digest.__wrapped__() != before


def run(copy, plan):
    """Carry a plan out with a copy of the package."""
    environment = os.environ | {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1", "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-m", "sublatch", "audition", str(plan), "--jobs", "1"]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_one_changed_byte_makes_everything_anew_and_none_keeps_everything(tmp_path):
    copy = tmp_path / "copy"
    shutil.copytree(PACKAGE, copy / "sublatch", ignore=shutil.ignore_patterns("__pycache__"))
    write_audio(tmp_path / "a.wav", note(), RATE)
    plan = write_plan(tmp_path, candidates={"open": 'circuit = "gated-open"'}).path
    seen = []
    for change in (None, None, "signal/octave.py"):
        if change:
            with (copy / "sublatch" / change).open("a", encoding="utf-8") as file:
                file.write("\n# changed\n")
        run(copy, plan)
        seen.append(times(tmp_path / "audition"))
    first, second, third = seen
    assert second == first
    assert {name for name in third if third[name] != second[name]} == set(first)
    assert {"audio/a/open.wav", "page/a/open.js", "reels/a.wav", "index.html", MANIFEST_NAME} < set(first)


def test_measurements_of_other_code_are_forgotten_and_its_files_still_known(tmp_path, monkeypatch):
    from sublatch.audition.folder import manifest as home
    from sublatch.audition.folder.manifest import Manifest

    first = Manifest(tmp_path)
    (tmp_path / "a.txt").write_text("a")
    (tmp_path / "b.txt").write_text("b")
    first.wrote(tmp_path / "a.txt", "key")
    first.wrote(tmp_path / "b.txt", "key")
    first.keep_measured("k", {"x": 1})
    first.save()
    with monkeypatch.context() as patch:
        patch.setattr(home, "code_digest", lambda: "other code")
        second = Manifest(tmp_path)
        assert second.measured("k", dict) is None
        assert not second.is_current(tmp_path / "a.txt", "key")
        assert second.is_ours(tmp_path / "a.txt")
        second.wrote(tmp_path / "a.txt", "key")
        second.save_so_far()  # as when it is stopped here
        third = Manifest(tmp_path)
        assert third.is_current(tmp_path / "a.txt", "key")
        assert not third.is_current(tmp_path / "b.txt", "key")
    assert not Manifest(tmp_path).is_current(tmp_path / "a.txt", "key")
    assert np.all([Manifest(tmp_path).is_ours(tmp_path / name) for name in ("a.txt", "b.txt")])
