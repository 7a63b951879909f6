"""What an audition reads is looked for before anything is written, and is never written over."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from command_line import sublatch
from small_auditions import CANDIDATES, content, times, write_plan
from sublatch.audition.folder.manifest import MANIFEST_NAME
from sublatch.audition.run import run_audition
from sublatch.errors import OutputError, PlanError

pytestmark = pytest.mark.usefixtures("plain_page")


def test_every_recording_that_is_not_there_is_told_and_nothing_is_written(folder):
    plan = write_plan(folder, ("a.wav", "aa.wav", "x/b.wav"), head='bed = "b.wva"')
    with pytest.raises(PlanError) as caught:
        run_audition(plan)
    assert str(caught.value).splitlines() == [
        f"{folder / 'plan.toml'}: takes: {folder / 'aa.wav'}: there is no such file; did you mean 'a.wav'?",
        f"{folder / 'plan.toml'}: takes: {folder / 'x' / 'b.wav'}: there is no such file; is the path right?",
        f"{folder / 'plan.toml'}: bed: {folder / 'b.wva'}: there is no such file; did you mean 'b.wav'?",
    ]
    assert not (folder / "audition").exists()


def test_a_slip_of_the_pen_leaves_an_earlier_audition_as_it_is(folder):
    run_audition(write_plan(folder, ("a.wav", "b.wav")))
    before = times(folder / "audition")
    with pytest.raises(PlanError, match=r"bb\.wav: there is no such file"):
        run_audition(write_plan(folder, ("a.wav", "bb.wav")))
    assert times(folder / "audition") == before


def test_the_command_says_what_is_missing_and_nothing_of_a_page(folder):
    plan = write_plan(folder, ("a.wav", "bb.wav"))
    result = sublatch("audition", plan.path)
    assert (result.exit_code, result.stdout) == (2, "")
    assert f"sublatch: {plan.path}: takes: {folder / 'bb.wav'}: there is no such file; did you mean" in result.stderr
    assert "Open" not in result.stderr


@pytest.mark.parametrize("output", ["nope/../vic", "nope/no/../../vic", "vic/no/.."])
@pytest.mark.parametrize("name", ["results.csv", "index.html", MANIFEST_NAME])
def test_a_way_over_a_folder_that_is_not_there_replaces_nothing(folder, monkeypatch, output, name):
    monkeypatch.chdir(folder)
    (folder / "vic").mkdir()
    (folder / "vic" / name).write_bytes(b"mine")
    plan, before = write_plan(folder), content(folder)
    with pytest.raises(OutputError, match=f"{name} exists and was not made by sublatch"):
        run_audition(plan, output=output)
    assert content(folder) == content(folder) | before
    (folder / "vic" / name).unlink()
    result = sublatch("audition", "plan.toml", "-o", output)
    assert result.stdout.endswith(f"Open {folder / 'vic' / 'index.html'}\n")
    assert (folder / "vic" / "results.csv").is_file()
    assert {entry.name for entry in folder.iterdir()} == {"a.wav", "b.wav", "plan.toml", "vic"}


def test_a_plan_that_leads_out_of_its_folder_writes_nothing_unless_told_where(folder):
    inner = folder / "plans"
    inner.mkdir()
    write_plan(inner, ("../a.wav",), head='output = "nope/../../x"')
    before = content(folder)
    result = sublatch("audition", inner / "plan.toml")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "output must be a folder below the plan's own, got 'nope/../../x'; to write elsewhere, say" in result.stderr
    assert content(folder) == before
    assert sublatch("audition", inner / "plan.toml", "-o", folder / "x").exit_code == 0
    assert (folder / "x" / "index.html").is_file()


@pytest.mark.parametrize("source", ["plan.toml", "box.toml"])
@pytest.mark.parametrize("name", ["index.html", MANIFEST_NAME, "audio/a/bypassed.wav"])
def test_neither_plan_nor_circuit_is_written_over_whatever_is_asked(folder, source, name):
    (folder / "box.toml").write_text('title = "Box"\n[octave]\nkind = "gain-gated"\n', encoding="utf-8")
    plan = write_plan(folder, candidates={**CANDIDATES, "own": 'circuit = "box.toml"'})
    (folder / "audition" / name).parent.mkdir(parents=True)
    os.link(folder / source, folder / "audition" / name)
    before = content(folder)
    with pytest.raises(OutputError, match="so it cannot be written to as well"):
        run_audition(plan, overwrite=True)
    assert content(folder) == before


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_a_pipe_in_the_ledgers_place_is_refused_and_not_waited_for(folder):
    (folder / "audition").mkdir()
    os.mkfifo(folder / "audition" / MANIFEST_NAME)
    with pytest.raises(OutputError, match="must be a file, got a device or pipe"):
        run_audition(write_plan(folder))
    assert Path(folder / "audition" / MANIFEST_NAME).is_fifo()
