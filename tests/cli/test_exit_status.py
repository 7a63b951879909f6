"""Errors to exit statuses: a message on standard error, an exit status, and never a traceback."""

from __future__ import annotations

import errno
import io
import json
import sys

import click
import pytest
from click.testing import CliRunner

from sublatch import errors
from sublatch.cli.changes import read_changes
from sublatch.cli.exit_status import ReportingGroup
from sublatch.cli.main import main
from sublatch.cli.options import level, number, print_json, share

COMMANDS = [
    "audition",
    "change",
    "choose",
    "circuits",
    "decide",
    "demo",
    "knobs",
    "layout",
    "manual",
    "mybox",
    "render",
    "response",
    "settings",
    "sheet",
    "take",
    "track",
    "trial",
    "tune",
]


def run(problem):
    """Run a command that ends in a problem."""

    @click.group(cls=ReportingGroup)
    def group():
        """Hold one command."""

    @group.command()
    def fail():
        raise problem

    return CliRunner().invoke(group, ["fail"])


@pytest.mark.parametrize(
    ("problem", "status", "words"),
    [
        (errors.CircuitError("this"), 2, "sublatch: this\n"),
        (errors.PlanError("this\nand that"), 2, "sublatch: this\nsublatch: and that\n"),
        (errors.UnitError("this"), 2, "sublatch: this\n"),
        (errors.AudioFileError("this"), 1, "sublatch: this\n"),
        (errors.AudioDataError("this"), 1, "sublatch: this\n"),
        (errors.OutputError("this"), 1, "sublatch: this\n"),
        (MemoryError(), 1, "sublatch: not enough memory; try a shorter take or fewer --jobs\n"),
        (OSError(errno.ENOSPC, "No space left on device"), 1, "sublatch: output: No space left on device\n"),
        (PermissionError(errno.EACCES, "Permission denied", "x.wav"), 1, "sublatch: x.wav: Permission denied\n"),
        (KeyboardInterrupt(), 130, "\nsublatch: stopped; files already written are whole, nothing else was kept\n"),
    ],
)
def test_a_problem_becomes_a_message_and_a_status(problem, status, words):
    result = run(problem)
    assert (result.exit_code, result.stderr, result.stdout) == (status, words, "")


def test_a_reader_that_has_seen_enough_is_no_problem_to_tell():
    result = run(BrokenPipeError(errno.EPIPE, "Broken pipe"))
    assert (result.exit_code, result.stderr) == (1, "")


def test_a_mistake_of_the_programs_own_is_not_hidden():
    assert isinstance(run(ZeroDivisionError()).exception, ZeroDivisionError)


def test_characters_that_a_terminal_does_not_know_are_escaped(monkeypatch):
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="ascii"))
    with pytest.raises(SystemExit) as ended:
        main(["--help"], standalone_mode=True)
    sys.stdout.flush()
    assert ended.value.code == 0

    @click.group(cls=ReportingGroup)
    def group():
        """Hold one command."""

    group.command("say")(lambda: print("größer – 低"))
    with pytest.raises(SystemExit):
        group(["say"])
    sys.stdout.flush()
    assert raw.getvalue().endswith(b"gr\\xf6\\xdfer \\u2013 \\u4f4e\n")


def test_the_help_names_every_command_in_one_whole_line():
    text = CliRunner().invoke(main, ["--help"]).stdout
    assert "  sublatch audition my-sounds/audition.toml\n" in text
    lines = text.partition("Commands:\n")[2].splitlines()
    assert [line.split()[0] for line in lines] == COMMANDS
    assert not [line for line in lines if line.endswith("...")]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_and_json(command):
    result = CliRunner().invoke(main, [command, "-h"])
    assert result.exit_code == 0
    assert "--json" in result.stdout


@pytest.mark.parametrize(("arguments", "status"), [([], 2), (["--version"], 0), (["circuit"], 2), (["--nonsense"], 2)])
def test_wrong_usage_has_its_status(arguments, status):
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == status
    if arguments == ["circuit"]:
        assert "No such command 'circuit'. Did you mean 'circuits'?" in result.stderr


def test_the_last_of_two_settings_counts():
    assert read_changes(("knobs.tone=1", "knobs.tone = 2")) == {"knobs.tone": 2}


def test_json_has_no_number_that_is_none(capsys):
    print_json({"a": [1, None, "ö"]})
    out = capsys.readouterr().out
    assert json.loads(out) == {"a": [1, None, "ö"]}
    assert out.isascii()
    with pytest.raises(ValueError, match="Out of range float"):
        print_json({"a": float("nan")})


def test_numbers_for_tables():
    assert [number(value) for value in (-0.04, 0.04, -12.34, None)] == ["0.0", "0.0", "-12.3", "–"]
    assert [level(value, "dB", signed=True) for value in (1.26, -1.26, 0.01, None)] == [
        "+1.3 dB",
        "-1.3 dB",
        "0.0 dB",
        "–",
    ]
    assert [share(value) for value in (0.0, 1e-6, 0.0123, 1.0)] == ["0", "< 0.1", "1.2", "100.0"]
