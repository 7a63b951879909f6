"""``sublatch audition``: the table, the page it names, and what it does with bad takes, bad plans, files in its way."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from command_line import sublatch
from sublatch.files.sound import write_audio

RATE = 8000
NOTE = 0.3 * np.sin(2 * np.pi * 60 * np.arange(4000) / RATE) * np.linspace(1, 0, 4000)
PLAN = """takes = ["take.wav"]
full_scale = "2V"
[[candidates]]
name = "as built"
circuit = "gated-first-order"
[[sweeps]]
name = "tone"
circuit = "gated-swept"
vary = "knobs.tone"
values = [2, 8]
"""
HEADS = [
    *(" LUFS", "gain dB", "peak dBFS", "at limits %", "at unity %", "RMS dBFS", "below 200 Hz dBFS"),
    *("locked %", "open strings %"),
]


@pytest.fixture
def here(tmp_path, monkeypatch):
    """Give a working folder with a plan and its take in it."""
    monkeypatch.chdir(tmp_path)
    write_audio("take.wav", NOTE, RATE)
    write_plan(PLAN)
    return tmp_path


def write_plan(text):
    Path("plan.toml").write_text(text, encoding="utf-8")


def test_a_table_for_each_take_and_the_page_to_open(here):
    result = sublatch("audition", "plan.toml")
    assert result.exit_code == 0
    first, heads, *rows = result.stdout.split("\n\n")[0].splitlines()
    assert first == "take, 0.5 s, matched by loudness; levels are before the gain"
    assert heads == "  candidate  " + "  ".join(HEADS)
    assert [row[:11].strip() for row in rows] == ["bypassed", "as built", "tone 2", "tone 8"]
    assert {len(row) for row in rows} == {len(heads)}
    assert result.stdout.endswith(f"Open {Path('audition') / 'index.html'}\n")
    assert (here / "audition" / "index.html").is_file()
    assert result.stderr.startswith("Rendering")
    assert result.stderr.count("\n") == 1


def test_the_table_says_what_the_document_says(here):
    rows = sublatch("audition", "plan.toml").stdout.splitlines()[2:6]
    told = json.loads(sublatch("audition", "plan.toml", "--json").stdout)["takes"][0]["candidates"]
    for row, candidate in zip(rows, told, strict=True):
        levels = candidate["levels"]
        wanted = [levels["loudness_lufs"], candidate["gain_db"], levels["peak_dbfs"], 0.0]
        wanted += [levels["rms_dbfs"], levels["low_band_dbfs"]]
        *levels, locked, open_strings = row[12:].split()
        at_unity, share_at_unity = levels.pop(4), candidate["at_limit_share_unity"]
        assert at_unity == "–" if share_at_unity is None else float(at_unity) == pytest.approx(100 * share_at_unity)
        assert [float(cell) for cell in levels] == pytest.approx(wanted, abs=0.0501)
        for cell, share in ((locked, candidate["locked_share"]), (open_strings, candidate["open_string_locked_share"])):
            assert cell == "–" if share is None else float(cell) == pytest.approx(100 * share, abs=0.1)


def test_a_candidate_that_is_lifted_far_is_told_under_the_table_with_what_clips_at_unity(here):
    weak = '"knobs.volume" = 2, "supply" = "3.3V"'
    write_plan(f'takes = ["take.wav"]\n[[candidates]]\nname = "low"\ncircuit = "gated-swept"\nset = {{ {weak} }}\n')
    _, heads, _, row, remark, *_ = sublatch("audition", "plan.toml").stdout.splitlines()
    told = json.loads(sublatch("audition", "plan.toml", "--json").stdout)["takes"][0]["candidates"][1]
    place = heads.index("at limits %")
    assert row[place:].split()[:2] == ["0", f"{100 * told['at_limit_share_unity']:.1f}"]
    assert told["at_limit_share_unity"] > 0.01
    assert told["matched_gain_db"] > 6.0
    assert remark == f"  low: {told['remarks'][0]['text']}"


def test_open_strings_have_a_share_of_their_own(here):
    """B1, which is an open string of no four-string bass in standard tuning."""
    write_audio("take.wav", 0.3 * np.sin(2 * np.pi * 61.74 * np.arange(4000) / RATE) * np.linspace(1, 0, 4000), RATE)
    for head in ("", "tuning = 'B1 E2'\n"):
        write_plan(head + PLAN)
        bypassed, *rows = [row.split()[-2:] for row in sublatch("audition", "plan.toml").stdout.splitlines()[2:6]]
        assert bypassed == ["–", "–"]
        for locked, open_strings in rows:
            assert float(locked) > 50.0
            assert open_strings == (locked if head else "–")


def test_one_json_document_and_nothing_else_on_standard_output(here):
    result = sublatch("audition", "plan.toml", "--json", "-o", "out")
    told = json.loads(result.stdout)
    assert told["page"] == str(Path("out") / "index.html")
    assert (told["match"], [take["name"] for take in told["takes"]]) == ("loudness", ["take"])
    assert all((here / "out" / candidate["file"]).is_file() for candidate in told["takes"][0]["candidates"])
    assert f"Open {Path('out') / 'index.html'}" in result.stderr
    assert not (here / "audition").exists()


def test_a_second_run_says_the_same(here):
    assert sublatch("audition", "plan.toml").stdout == sublatch("audition", "plan.toml", "--jobs", "1").stdout


def test_an_assumed_full_scale_and_a_remark_are_noted_once(here):
    write_audio("hot.wav", np.clip(9 * NOTE, -1, 1), RATE)
    write_plan(PLAN.replace('"take.wav"', '"take.wav", "hot.wav"').replace('full_scale = "2V"\n', ""))
    result = sublatch("audition", "plan.toml")
    assert result.exit_code == 0
    assert (
        result.stderr.count(
            "note: 0 dBFS is taken for 1 V peak; say otherwise with full_scale or calibration in the plan\n"
        )
        == 1
    )
    assert result.stderr.count("note: hot: clipped: ") == 1


def test_a_bad_take_is_named_once_and_the_rest_is_done(here):
    Path("bad.wav").write_text("no sound\n")
    write_plan(PLAN.replace('"take.wav"', '"bad.wav", "take.wav"'))
    result = sublatch("audition", "plan.toml")
    assert result.exit_code == 1
    assert result.stdout.startswith("take, 0.5 s, ")
    assert [line for line in result.stderr.splitlines() if line.startswith("sublatch:")] == [
        "sublatch: bad.wav: must be a sound file, got a text"
    ]
    told = json.loads(sublatch("audition", "plan.toml", "--json").stdout)
    assert [take["error"] is None for take in told["takes"]] == [False, True]


def test_a_silent_take_is_not_matched_and_has_no_levels(here):
    write_audio("take.wav", 0 * NOTE, RATE)
    result = sublatch("audition", "plan.toml")
    assert result.exit_code == 0
    assert result.stdout.startswith("take, 0.5 s, not matched; ")
    assert result.stdout.splitlines()[2].split() == ["bypassed", "–", "0.0", "–", "0", *("–" * 5)]
    assert "note: take: silent: every sample is 0" in result.stderr


def test_a_little_time_at_the_limits_is_not_none(here):
    write_audio("take.wav", NOTE / 0.3, RATE)
    write_plan(PLAN.replace("[2, 8]", "[8]\nset = { knobs.volume = 10, supply = '5V' }"))
    assert 1.0 < float(sublatch("audition", "plan.toml").stdout.splitlines()[4].split()[5]) < 100.0


def test_a_long_or_many_lined_name_does_not_break_the_table(here):
    write_plan(PLAN.replace('"as built"', '"one\\ntwo\\u001b[31m"').replace('"tone"', f'"{"x" * 200}"'))
    rows = sublatch("audition", "plan.toml").stdout.splitlines()
    assert rows[3].startswith("  one two [31m")
    assert rows[4].startswith(f"  {'x' * 39}…  ")
    assert max(len(row) for row in rows) < 150


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (None, "plan.toml: no such plan; 'sublatch demo my-sounds' writes one to start from"),
        ("takes = ", "plan.toml: line 1: takes must have a value after its equals sign"),
        (PLAN.replace('"tone"', '"as built"').replace("[2, 8]", "[2, 2]"), "got 'as built 2' more than once"),
        (PLAN.replace('"as built"', '"../x"'), "a name must stay in its folder, got '../x'"),
        (
            PLAN.replace("[2, 8]", "[2, 11]"),
            "candidate 'tone 11': gated-swept: knobs.tone: a knob's position must be 0",
        ),
        (PLAN.replace("gated-swept", "swept"), "candidate 'tone 2': no built-in circuit 'swept'"),
        ("tuning = 'bass'\n" + PLAN, "plan.toml: tuning: a tuning must be one of bass-4, bass-5, bass-6, "),
        (PLAN.replace('"2V"', '"47k"'), "plan.toml: full_scale: a voltage must be from −1 kV to 1 kV, got '47k'"),
    ],
)
def test_a_plan_that_cannot_be_is_refused_before_anything_is_done(here, text, words):
    write_plan(text) if text else Path("plan.toml").unlink()
    before = sorted(here.rglob("*"))
    result = sublatch("audition", "plan.toml", "--json")
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr
    assert result.stderr.count("\n") == 1
    assert sorted(here.rglob("*")) == before


def test_what_the_user_changed_is_replaced_only_when_asked(here):
    sublatch("audition", "plan.toml")
    changed = here / "audition" / "audio" / "take" / "tone 2.wav"
    changed.write_bytes(b"mine")
    result = sublatch("audition", "plan.toml")
    assert (result.exit_code, changed.read_bytes()) == (1, b"mine")
    assert "exists and was not made by sublatch, or was changed since; choose another name, or replace" in result.stderr
    assert sublatch("audition", "plan.toml", "--overwrite").exit_code == 0
    assert changed.read_bytes() != b"mine"


def test_a_take_inside_the_folder_is_not_written_over_whatever_is_asked(here):
    write_plan(PLAN.replace('"take.wav"', '"audition/reels/take.wav"'))
    (here / "audition" / "reels").mkdir(parents=True)
    (here / "take.wav").rename(here / "audition" / "reels" / "take.wav")
    for more in ([], ["--overwrite"]):
        result = sublatch("audition", "plan.toml", *more)
        assert result.exit_code == 1
        assert "so it cannot be written to as well" in result.stderr
        assert "--overwrite" not in result.stderr


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        ([], 2, "Missing argument 'PLAN'"),
        (["plan.toml", "--jobs", "0"], 2, "0 is not in the range x>=1"),
        (["plan.toml", "-o", "take.wav"], 1, "take.wav must be a folder, got a file; choose another name"),
        (["plan.toml", "-o", "take.wav/x"], 1, "a part of its path is a file, not a folder; correct the path"),
        (["."], 2, ".: must be a plan file, got a folder"),
        (["take.wav"], 2, "take.wav: must be a text file in UTF-8, got something else"),
    ],
)
def test_wrong_usage_is_refused(here, arguments, status, words):
    result = sublatch("audition", *arguments)
    assert (result.exit_code, result.stdout) == (status, "")
    assert words in result.stderr
