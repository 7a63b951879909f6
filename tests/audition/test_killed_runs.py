"""A run that is killed at any write is taken up by the next as if it had never been; what the user changed stays.

Most of these kills are played: from the write on, no write of any kind comes through. One is real.
"""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from small_auditions import CANDIDATES, content, write_plan
from sublatch.audition.run import run_audition
from sublatch.errors import OutputError
from sublatch.files import whole_files

pytestmark = [pytest.mark.long, pytest.mark.usefixtures("plain_page")]

FEW = {"open": CANDIDATES["open"], "swept": CANDIDATES["swept"]}
OTHER = {**FEW, "swept": CANDIDATES["third"]}
TEXTS = ["index.html", "results.csv", "results.json"]


class Killed(BaseException):
    """What a run ends with that can do nothing any more."""


def killed(plan, after, when, monkeypatch):
    """Carry a plan out up to before or after write number `after`; return whether it came to that."""
    count, replace = 0, os.replace

    def counted(source, target):
        nonlocal count
        count += 1
        if count < after or (count == after and when == "after"):
            replace(source, target)
        if count >= after:
            raise Killed

    with monkeypatch.context() as patch:
        patch.setattr(whole_files.os, "replace", counted)
        try:
            run_audition(plan, jobs=1)
        except Killed:
            return True
    return False


def clear(folder):
    """Take everything out of a folder."""
    for path in sorted(folder.rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()


@pytest.mark.parametrize("when", ["before", "after"])
def test_a_first_run_killed_at_any_write_is_taken_up(folder, monkeypatch, when):
    plan, after = write_plan(folder, candidates=FEW), 1
    run_audition(plan, output=folder / "fresh")
    wanted = content(folder / "fresh")
    while killed(plan, after, when, monkeypatch):
        run_audition(plan)
        assert content(folder / "audition") == wanted, after
        clear(folder / "audition")
        after += 1
    assert after > len(wanted)


@pytest.mark.parametrize("when", ["before", "after"])
def test_runs_of_changing_plans_killed_at_any_write_are_taken_up(folder, monkeypatch, when):
    run_audition(write_plan(folder, candidates=OTHER), output=folder / "fresh")
    run_audition(write_plan(folder, candidates=FEW))
    after = 1
    while killed(write_plan(folder, candidates=OTHER), after, when, monkeypatch):
        killed(write_plan(folder, candidates=FEW), after, when, monkeypatch)
        after += 1
    assert after > len(TEXTS)
    run_audition(write_plan(folder, candidates=OTHER))
    assert content(folder / "audition") == content(folder / "fresh")


@pytest.mark.parametrize("name", TEXTS)
@pytest.mark.parametrize("replaced", range(len(TEXTS) + 1))
def test_what_the_user_changed_after_the_kill_is_still_refused(folder, monkeypatch, name, replaced):
    plan = write_plan(folder, candidates=FEW)
    run_audition(plan)
    changed = write_plan(folder, candidates={"open": CANDIDATES["open"]})
    ahead = 2  # the reel, and the manifest that tells what is about to be written
    assert killed(changed, ahead + replaced, "after", monkeypatch)
    (folder / "audition" / name).write_bytes(b"mine")
    before = content(folder / "audition")
    for one in (plan, changed):
        with pytest.raises(OutputError, match=f"{name} exists and was not made by sublatch, or was changed since"):
            run_audition(one)
    assert content(folder / "audition") == before


def test_what_was_to_be_replaced_with_leave_is_refused_again_after_a_kill(folder, monkeypatch):
    plan = write_plan(folder, candidates=FEW)
    run_audition(plan)
    (folder / "audition" / "results.csv").write_bytes(b"mine")
    real = whole_files.os.replace

    def stop_at_the_table(source, target):
        if os.path.basename(target) == "results.csv":
            raise Killed
        real(source, target)

    with monkeypatch.context() as patch:
        patch.setattr(whole_files.os, "replace", stop_at_the_table)
        with pytest.raises(Killed):
            run_audition(plan, overwrite=True)
    with pytest.raises(OutputError, match=r"results\.csv exists and was not made by sublatch"):
        run_audition(plan)
    assert (folder / "audition" / "results.csv").read_bytes() == b"mine"


KILL_AFTER_THE_PAGE = """
import os, sys
from sublatch.files import whole_files
from sublatch.cli import main
replace = os.replace
def last(source, target):
    replace(source, target)
    if os.path.basename(target) == "index.html":
        os._exit(9)
whole_files.os.replace = last
main(["audition", sys.argv[1]])
"""


@pytest.mark.usefixtures("real_page")
def test_a_process_that_is_gone_once_the_page_is_there_is_taken_up(folder):
    plan = write_plan(folder, candidates={"open": CANDIDATES["open"]})
    for _ in range(2):  # the first run, and one that makes the page anew
        done = subprocess.run(
            [sys.executable, "-c", KILL_AFTER_THE_PAGE, str(plan.path)], capture_output=True, text=True
        )
        assert done.returncode == 9, done.stderr
        run_audition(plan)
        run_audition(plan, output=folder / "fresh")
        assert content(folder / "audition") == content(folder / "fresh")
        plan = write_plan(folder, candidates={"open": CANDIDATES["third"]})
