"""The program as a user starts it: from the demo to the page, and stopped with Ctrl-C half way."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from sublatch.files.sound import read_audio, write_audio

PROGRAM = [sys.executable, "-W", "error", "-m", "sublatch"]
DEADLINE_S = 60.0
MOST_FINISHED = 8
"""Sounds that are half written when Ctrl-C comes, or written between a look and the signal; 22 are asked for."""


def sublatch(*arguments, cwd):
    return subprocess.run(
        [*PROGRAM, *arguments], cwd=cwd, capture_output=True, text=True, encoding="utf-8", check=False
    )


def test_from_the_demo_to_the_page_and_back_to_one_render(tmp_path):
    assert sublatch("demo", "my sounds", cwd=tmp_path).returncode == 0
    plan = tmp_path / "my sounds" / "audition.toml"
    text = plan.read_text(encoding="utf-8")
    before, _, rest = text.partition("takes = [\n")
    _, _, after = rest.partition("]\n")
    after = "[[candidates]]".join(after.split("[[candidates]]")[:3])  # two candidates are enough here
    plan.write_text(f'{before}takes = ["takes/slide.flac"]\n{after}', encoding="utf-8")
    done = sublatch("audition", str(plan), "--json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    page = tmp_path / told["page"]
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    (take,) = told["takes"]
    swept = next(one for one in take["candidates"] if one["name"] == "swept at 3.5")
    done = sublatch(
        *("render", "my sounds/takes/slide.flac", "-c", "gated-swept", "--set", "knobs.tone=3.5"),
        *("--full-scale", "2V", "-o", "heard.wav", "--json"),
        cwd=tmp_path,
    )
    alone = json.loads(done.stdout)
    assert done.stderr == ""
    assert alone["loudness_lufs"] == pytest.approx(swept["levels"]["loudness_lufs"], abs=1e-9)
    heard, auditioned = (read_audio(path).samples for path in (tmp_path / "heard.wav", page.parent / swept["file"]))
    assert auditioned == pytest.approx(heard * 10 ** (swept["gain_db"] / 20), abs=2.0**-22)


def content(folder):
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def long_plan(tmp_path):
    """Give a folder with a plan that takes some seconds."""
    rate, seconds = 48000, 3
    time_s = np.arange(rate * seconds) / rate
    for name, pitch_hz in (("a", 60.0), ("b", 80.0)):
        write_audio(tmp_path / f"{name}.wav", 0.3 * np.sin(2 * np.pi * pitch_hz * time_s), rate)
    values = ", ".join(str(tenth / 10) for tenth in range(0, 100, 10))
    (tmp_path / "plan.toml").write_text(
        'takes = ["a.wav", "b.wav"]\n[[sweeps]]\nname = "tone"\ncircuit = "gated-swept"\n'
        f'vary = "knobs.tone"\nvalues = [{values}]\n',
        encoding="utf-8",
    )
    return tmp_path


def heeds_ctrl_c():
    """Have a program heed it even where the tests themselves run in the background, which ignores it."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


def sounds_in(folder):
    return list((folder / "out").rglob("*.wav"))


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C cannot be sent to one program there")
@pytest.mark.parametrize("moment", ["out", "out/audio/a/tone 0.0.wav"])
def test_ctrl_c_ends_it_at_once_with_whole_files_and_the_next_run_completes_it(long_plan, moment):
    command = [*PROGRAM, "audition", "plan.toml", "-o", "out"]
    started = subprocess.Popen(
        command, cwd=long_plan, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, preexec_fn=heeds_ctrl_c
    )
    deadline = time.monotonic() + DEADLINE_S
    while not (long_plan / moment).exists():
        assert started.poll() is None
        assert time.monotonic() < deadline
        time.sleep(0.01)
    started.send_signal(signal.SIGINT)
    there = len(sounds_in(long_plan))
    printed, errors = started.communicate(timeout=DEADLINE_S)
    assert len(sounds_in(long_plan)) - there <= MOST_FINISHED
    assert started.returncode == 130
    assert printed == ""
    assert errors.endswith("sublatch: stopped; files already written are whole, nothing else was kept\n")
    assert "Traceback" not in errors
    left = content(long_plan / "out")
    assert not [name for name in left if name.endswith(".part")]
    assert "index.html" not in left
    for name in left:
        if name.endswith(".wav"):
            assert len(read_audio(long_plan / "out" / name).samples) == 3 * 48000
    done = sublatch("audition", "plan.toml", "-o", "out", cwd=long_plan)
    assert done.returncode == 0, done.stderr
    whole = content(long_plan / "out")
    assert {name: whole[name] for name in left if name.endswith(".wav")} == {
        name: data for name, data in left.items() if name.endswith(".wav")
    }
    assert len([name for name in whole if name.endswith(".wav")]) == 2 * (1 + 10 + 1)
    assert Path(long_plan / "out" / "index.html").stat().st_size > 0
    assert os.listdir(long_plan / "out" / "reels") in (["a.wav", "b.wav"], ["b.wav", "a.wav"])
