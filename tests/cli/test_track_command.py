"""``sublatch track`` as a user types it."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from sublatch.cli import main
from sublatch.demo.strings import pluck
from sublatch.files import write_audio

RATE = 16000


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with an open E and an A at the fifth fret, and a silent take."""
    line = np.concatenate([np.zeros(4000)] + [pluck(f, seconds=1.0, sample_rate=RATE) for f in (41.2034, 61.7354)])
    write_audio(tmp_path / "line.wav", line, RATE)
    write_audio(tmp_path / "silent.wav", np.zeros(RATE), RATE)
    return tmp_path


def run(*words: object):
    return CliRunner().invoke(main, ["track", *map(str, words)])


def test_it_prints_notes_open_strings_apart_and_a_line_for_each_circuit(folder):
    done = run(folder / "line.wav", "-c", "gated-open", "-c", "polarity-swept", "--full-scale", "1V")
    assert done.exit_code == 0, done.stderr
    assert done.stdout.index("open strings") < done.stdout.index("E1") < done.stdout.index("other notes")
    assert "B1" in done.stdout
    assert done.stdout.count("line, ") == 2
    assert [line.split()[0] for line in done.stdout.splitlines()[-2:]] == ["gated-open", "polarity-swept"]
    assert done.stderr == ""


def test_json_is_one_document(folder):
    done = run(folder / "line.wav", folder / "silent.wav", "-c", "gated-open", "--json")
    assert done.exit_code == 0
    results = json.loads(done.stdout)["results"]
    assert [result["take"] for result in results] == ["line", "silent"]
    assert results[1]["locked_share"] is None
    assert results[1]["remarks"]
    assert "0 dBFS is taken for 1 V peak" in done.stderr


def test_a_setting_changes_every_circuit(folder):
    before, after = (
        json.loads(run(folder / "line.wav", "-c", "gated-open", "--json", *more).stdout)["results"][0]
        for more in ((), ("--set", "detector.kind=zero-crossing", "--set", "detector.hysteresis=0.9V"))
    )
    assert before["locked_share"] > 0.9
    assert after["locked_share"] == 0.0
    assert [dropout["kind"] for dropout in after["notes"][0]["dropouts"]] == ["stall"]


def test_a_bad_take_does_not_stop_the_rest(folder):
    done = run(folder / "gone.wav", folder / "line.wav", "-c", "gated-open", "--full-scale", "1V")
    assert done.exit_code == 1
    assert "gone.wav" in done.stderr
    assert "E1" in done.stdout


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("-c", "gated-opne"), "gated-open"),
        (("-c", "gated-open", "--tuning", "bass-9"), "bass"),
        (("-c", "gated-open", "--set", "knobs.volume=11"), "0 .* to 10"),
    ],
)
def test_wrong_usage(folder, words, message):
    done = run(folder / "line.wav", *words)
    assert done.exit_code == 2
    assert re.search(message, done.stderr)


def test_the_picture_is_written_and_only_its_own_is_replaced(folder):
    picture = folder / "tracking.png"
    done = run(folder / "line.wav", "-c", "gated-open", "--plot", picture)
    assert done.exit_code == 0, done.stderr
    first = picture.read_bytes()
    assert first.startswith(b"\x89PNG")
    assert run(folder / "line.wav", "-c", "gated-open", "--plot", picture).exit_code == 0
    assert picture.read_bytes() == first
    picture.write_bytes(b"mine")
    done = run(folder / "line.wav", "-c", "gated-open", "--plot", picture)
    assert done.exit_code == 1
    assert picture.read_bytes() == b"mine"
    assert run(folder / "line.wav", "-c", "gated-open", "--plot", picture, "--overwrite").exit_code == 0


def test_a_picture_ends_in_png_and_is_no_input(folder):
    assert "must end in .png" in run(folder / "line.wav", "-c", "gated-open", "--plot", folder / "x.jpg").stderr
