"""The Tab key: what is offered where, and how bash's cut words are put together again."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest
from click.shell_completion import ShellComplete, get_completion_class

from sublatch.circuit.components.preferred import series
from sublatch.circuit.load import circuit_names
from sublatch.cli import main
from sublatch.pitch.open_strings import TUNINGS


def offered(line: str, shell: str = "fish") -> list[str]:
    """Return what is offered for the last word of a line."""
    *words, incomplete = line.split(" ")
    kind = get_completion_class(shell)
    assert kind is not None
    return [item.value for item in kind(main, {}, "sublatch", "_X").get_completions(words, incomplete)]


def asked(line: str, shell: str, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the lines that a shell gets which has cut a line at its blanks, the last piece being typed."""
    monkeypatch.setenv("COMP_WORDS", line)
    monkeypatch.setenv("COMP_CWORD", str(len(line.split(" ")) - 1))
    kind = get_completion_class(shell)
    assert kind is not None
    completion: ShellComplete = kind(main, {}, "sublatch", "_X")
    return completion.complete().splitlines()


def test_circuits_are_offered_after_c(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in ("mine.toml", "notes.txt", ".hidden.toml"):
        Path(name).write_text("", encoding="utf-8")
    Path("boxes").mkdir()
    Path("boxes", "old.toml").write_text("", encoding="utf-8")
    for command in ("response", "render t.wav", "track t.wav", "tune t.wav", "knobs", "sheet", "choose"):
        assert offered(f"{command} -c ") == [*circuit_names(), "boxes/", "mine.toml"]
    assert offered("response -c gated-s") == ["gated-swept"]
    assert offered("response --circuit mi") == ["mine.toml"]
    assert offered("response -c boxes/") == ["boxes/old.toml"]
    assert offered(f"response -c {tmp_path}/bo") == [f"{tmp_path}/boxes/"]
    assert offered("response -c nowhere/") == []
    assert offered("knobs -c gated-swept --same-as gated-f") == ["gated-first-order"]
    assert offered("circuits polarity-s") == ["polarity-swept"]


def test_setting_paths_are_offered_as_the_circuit_has_them():
    assert offered("response -c gated-swept --set knobs.") == ["knobs.volume=", "knobs.direct=", "knobs.tone="]
    assert offered("response -c gated-open --set knobs.") == ["knobs.volume=", "knobs.direct="]
    assert "filter.pot.taper=" in offered("response -c gated-swept --set filter.")
    assert offered("response -c gated-swept --set filter.kind=first-order --set filter.") == [
        "filter.kind=",
        "filter.resistor=",
        "filter.capacitor=",
    ]
    assert "knobs.tone=" in offered("response --set kn")
    assert "knobs.tone=" in offered("response -c nothing.toml --set kn")


@pytest.mark.parametrize(
    ("typed", "values"),
    [
        ("switches.peak=", ["flat", "peaked"]),
        ("switches.drive=i", ["inverted"]),
        ("octave.kind=", ["polarity-switched", "gain-gated"]),
        ("filter.kind=f", ["first-order"]),
        ("divider.stages=", ["1", "2"]),
        ("output.pot.taper=l", ["linear", "log"]),
        ("output.trim_resistor=", ["none"]),
        ("knobs.tone=", []),
        ("knobs.nonsense=", []),
    ],
)
def test_values_are_offered_where_there_are_few(typed, values):
    path = typed.partition("=")[0]
    assert offered(f"response -c gated-swept --set {typed}") == [f"{path}={value}" for value in values]


def test_tunings_kinds_and_commands_are_offered():
    assert offered("track t.wav --tuning bass") == [name for name in TUNINGS if name.startswith("bass")]
    assert offered("choose --kind t") == ["third-order"]
    assert offered("ren") == ["render"]


@pytest.mark.parametrize(
    ("typed", "values"),
    [
        ("--taper l", ["linear", "log"]),
        ("--taper r", ["reverse-log"]),
        ("--shape b", ["butterworth", "bessel"]),
        ("--shape c", ["chebyshev"]),
        ("--series ", ["E3", "E6", "E12", "E24"]),
        ("--resistor-series E4", ["E48"]),
        ("--resistor-series E1", ["E12", "E192"]),
        ("--distribution ", ["uniform", "normal"]),
        ("--low ", []),
    ],
)
def test_words_among_few_are_offered_to_choose(typed, values):
    assert offered(f"choose {typed}") == values


def test_every_series_that_is_offered_for_resistors_is_one():
    for name in offered("choose --resistor-series "):
        assert series(name)


@pytest.mark.parametrize(
    "line", ["track ", "tune ", "take ", "trial ", "render ", "audition ", "render t.wav -o ", "track t.wav --notes "]
)
def test_files_are_left_to_the_shell(line):
    completion = ShellComplete(main, {}, "sublatch", "_X")
    items = completion.get_completions(line.split(" ")[:-1], "")
    assert [item.type for item in items] == ["file"]


@pytest.mark.parametrize(
    ("line", "lines"),
    [
        ("sublatch response -c gated-swept --set switches.pe", ["plain,switches.peak="]),
        ("sublatch response -c gated-swept --set switches.peak =", ["plain,flat", "plain,peaked"]),
        ("sublatch response -c gated-swept --set switches.peak = p", ["plain,peaked"]),
        ("sublatch response -c gated-swept --set filter.kind = none --set filter.", ["plain,filter.kind="]),
        ("sublatch response --circuit = gated-s", ["plain,gated-swept"]),
    ],
)
def test_bash_cuts_words_at_equals_signs(line, lines, monkeypatch):
    assert asked(line, "bash", monkeypatch) == lines


def test_zsh_and_fish_get_whole_settings_with_what_they_are(monkeypatch):
    line = "sublatch response -c gated-swept --set knobs.to"
    assert asked(line, "zsh", monkeypatch) == [
        "plain",
        "knobs.tone=",
        "Sweep of the output filter, where it has one.",
    ]
    monkeypatch.setenv("COMP_WORDS", line)
    monkeypatch.setenv("COMP_CWORD", "knobs.to")
    kind = get_completion_class("fish")
    assert kind is not None
    assert kind(main, {}, "sublatch", "_X").complete().startswith("plain,knobs.tone=\t")


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_script_can_be_read_by_its_shell(shell, tmp_path):
    kind = get_completion_class(shell)
    assert kind is not None
    script = tmp_path / "script"
    script.write_text(kind(main, {}, "sublatch", "_SUBLATCH_COMPLETE").source(), encoding="utf-8")
    if shell != "fish":  # no blank after what goes on; fish knows that by itself
        assert "[=/]" in script.read_text(encoding="utf-8")
    if shutil.which(shell) is not None:
        subprocess.run([shell, "-n", script], check=True)


@pytest.mark.skipif(shutil.which("bash") is None or os.name == "nt", reason="bash is not there")
def test_bash_offers_it(tmp_path):
    """The script in bash itself, with a program of its name that answers as the real one does."""
    kind = get_completion_class("bash")
    assert kind is not None
    (tmp_path / "script").write_text(kind(main, {}, "sublatch", "_SUBLATCH_COMPLETE").source(), encoding="utf-8")
    program = tmp_path / "sublatch"
    program.write_text("#!/bin/sh\necho plain,flat\necho plain,peaked\n", encoding="utf-8")
    program.chmod(0o755)
    ask = (
        f"source {tmp_path / 'script'}; compopt() {{ :; }}; "
        "COMP_WORDS=(sublatch response --set switches.peak =); COMP_CWORD=4; "
        f'_sublatch_completion {program}; echo "${{COMPREPLY[@]}}"'
    )
    done = subprocess.run(["bash", "--norc", "-c", ask], capture_output=True, text=True, check=True)
    assert done.stdout == "flat peaked\n"
