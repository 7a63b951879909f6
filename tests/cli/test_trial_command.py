"""``sublatch trial``: what was heard blind, in words and as JSON."""

from __future__ import annotations

import json

import pytest

from command_line import sublatch
from trial_files import NAMES, forced, ranking, write


@pytest.fixture
def here(tmp_path, monkeypatch):
    """Give a working folder."""
    monkeypatch.chdir(tmp_path)
    write(tmp_path / "a.json", forced(12, probability=2517 / 65536))
    write(tmp_path / "b.json", forced(7, answered=8, probability=9 / 256, digits="b" * 16))
    write(tmp_path / "c.json", ranking([NAMES] * 6))
    return tmp_path


def test_a_forced_choice_in_plain_words(here):
    result = sublatch("trial", "a.json")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.splitlines() == [
        "a.json",
        "  take riff, Which filter, 2030-01-31",
        "  forced choice: as built (the reference) against brighter",
        "  12 of 16 right: a guess does this well 4 times in 100.",
        "  Guessing is a poor explanation: most likely a difference was heard. It says nothing of how large it is, "
        "or which of the two is better.",
    ]


def test_it_tells_what_it_was_heard_through_and_with(here):
    write(here / "p.json", forced(12, probability=2517 / 65536, voicing="loudspeaker", bed="bed.flac"))
    assert sublatch("trial", "p.json").stdout.splitlines()[2] == "  heard through loudspeaker and with bed.flac"
    (told,) = json.loads(sublatch("trial", "p.json", "--json").stdout)["trials"]
    assert (told["voicing"], told["bed"]) == ("loudspeaker", "bed.flac")


def test_a_ranking_in_plain_words(here):
    lines = sublatch("trial", "c.json").stdout.splitlines()
    assert lines[2:8] == [
        "  ranking of 3, the most liked first, with the mean place:",
        "     1.0  as built",
        "     2.0  brighter",
        "     3.0  darker",
        "  as built before brighter in 6 of 6 rounds; a coin is as clear 3 times in 100",
        "  as built before darker in 6 of 6 rounds; a coin is as clear 3 times in 100",
    ]


def test_the_pairs_of_many_candidates_are_not_all_printed(here):
    names = tuple("pqrstuv")
    write(here / "d.json", ranking([names] * 2, names=names))
    result = sublatch("trial", "d.json")
    assert result.stdout.count(" before ") == 6
    assert "(15 more pairs, less clear; --json has them)" in result.stdout
    (told,) = json.loads(sublatch("trial", "d.json", "--json").stdout)["trials"]
    assert len(told["pairs"]) == 21


def test_sessions_of_one_comparison_are_added_and_others_told_apart(here):
    result = sublatch("trial", "a.json", "c.json", "b.json", "--json")
    assert result.exit_code == 0
    both, alone = json.loads(result.stdout)["trials"]
    assert (both["files"], both["right"], both["planned"]) == (["a.json", "b.json"], 19, 24)
    assert (alone["files"], alone["mean_ranks"]) == (["c.json"], [1.0, 2.0, 3.0])
    text = sublatch("trial", "a.json", "c.json", "b.json").stdout
    assert "19 of 24 right: a guess does this well 3 times in 1000." in text


def test_an_altered_file_is_told(here):
    document = forced(12, probability=2517 / 65536)
    document["result"]["right"] = 16
    write(here / "d.json", document)
    assert "  note: d.json was altered, or not written by the page: it says right = 16" in (
        sublatch("trial", "d.json").stdout
    )


def test_bad_files_are_named_and_the_good_ones_told(here):
    (here / "cut.json").write_text((here / "a.json").read_text()[:700])
    (here / "other.json").write_text('{"takes": []}')
    result = sublatch("trial", "gone.json", "a.json", "cut.json", "other.json", here, "--json")
    assert result.exit_code == 1
    assert len(json.loads(result.stdout)["trials"]) == 1
    told = result.stderr.splitlines()
    assert [line.split(": ")[1] for line in told] == ["gone.json", "cut.json", "other.json", str(here)]
    assert "is the file cut short?" in told[1]


def test_no_good_file_leaves_an_empty_list(here):
    result = sublatch("trial", "gone.json", "--json")
    assert (result.exit_code, json.loads(result.stdout)) == (1, {"trials": []})
    assert sublatch("trial", "gone.json").stdout == ""
    assert sublatch("trial").exit_code == 2


def test_a_name_moves_no_cursor(here):
    names = ("as built", "red\x1b[31m\nline")
    write(here / "d.json", forced(12, probability=2517 / 65536, names=names, take="x\ty"))
    result = sublatch("trial", "d.json")
    assert "\x1b" not in result.stdout
    assert "\t" not in result.stdout
    assert "against red�[31m�line" in result.stdout
