"""``sublatch demo``: what it writes and says, and that a second time changes nothing of the user's."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

import numpy as np
import pytest

from command_line import sublatch
from sublatch.demo import write


@pytest.fixture
def short(monkeypatch):
    """Have the demo's sounds cut short: how they are made has tests of its own."""
    cut = np.full(100, 0.01)
    monkeypatch.setattr(write, "demo_takes", lambda rate: dict.fromkeys(write.SCORES, cut))
    monkeypatch.setattr(write, "demo_bed", lambda rate: cut)


@pytest.mark.usefixtures("short")
def test_it_lists_what_it_wrote_and_says_what_to_do_next(tmp_path):
    result = sublatch("demo", tmp_path / "my sounds")
    assert result.exit_code == 0
    *written, last = result.stdout.splitlines()
    assert all(Path(line).is_file() for line in written)
    assert shlex.split(last.removeprefix("Now: ")) == [
        "sublatch",
        "audition",
        str(tmp_path / "my sounds" / "audition.toml"),
    ]


@pytest.mark.usefixtures("short")
def test_what_it_wrote_as_json(tmp_path):
    result = sublatch("demo", tmp_path, "--json")
    assert all(Path(path).is_file() for path in json.loads(result.stdout)["written"])


@pytest.mark.usefixtures("short")
def test_a_plan_that_was_changed_is_left_alone(tmp_path):
    sublatch("demo", tmp_path)
    plan = tmp_path / "audition.toml"
    plan.write_text("mine")
    result = sublatch("demo", tmp_path)
    assert (result.exit_code, result.stdout, plan.read_text()) == (1, "", "mine")
    assert "audition.toml exists and was not made by sublatch, or was changed since" in result.stderr
    assert sublatch("demo", tmp_path, "--overwrite").exit_code == 0
    assert plan.read_text() != "mine"


def test_a_file_in_the_way_is_refused(tmp_path):
    (tmp_path / "file").write_text("mine")
    result = sublatch("demo", tmp_path / "file")
    assert result.exit_code == 1
    assert "file" in result.stderr
    assert sublatch("demo").exit_code == 2


def test_a_way_over_a_folder_that_is_not_there_replaces_nothing(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "audition.toml").write_text("my plan")
    result = sublatch("demo", "nope/../mine")
    assert result.exit_code == 1
    assert "audition.toml exists and was not made by sublatch" in result.stderr
    assert [path.name for path in tmp_path.rglob("*")] == ["mine", "audition.toml"]
