"""The help of each command: options in groups, and examples that can be typed."""

from __future__ import annotations

import shlex

import click
import pytest
from click.testing import CliRunner

from command_line import sublatch
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.cli import main
from sublatch.cli.changes import read_changes
from sublatch.cli.help import LONG, Manual

COMMANDS = sorted(main.commands)


def manual(name: str) -> Manual:
    """Return a command, which has a manual."""
    command = main.commands[name]
    assert isinstance(command, Manual)
    return command


@pytest.mark.parametrize("name", COMMANDS)
def test_the_help_ends_with_examples(name):
    lines = sublatch(name, "--help").stdout.splitlines()
    examples = manual(name).examples
    assert 1 <= len(examples) <= 3
    assert lines[-len(examples) :] == [f"  {example}" for example in examples]
    assert lines[-len(examples) - 1] in ("Example:", "Examples:")


@pytest.mark.parametrize(("name", "example"), [(name, line) for name in COMMANDS for line in manual(name).examples])
def test_each_example_is_one_of_its_command_and_can_be_read(name, example):
    program, command, *words = shlex.split(example.partition(" > ")[0])
    assert (program, command) == ("sublatch", name)
    context = manual(name).make_context(name, list(words))
    given = context.params.get("circuits") or [context.params.get(word) for word in ("circuit", "before", "after")]
    built_in = [circuit for circuit in given if circuit is not None and not circuit.endswith(".toml")]
    assert set(built_in) <= set(circuit_names())
    changes = context.params.get("changes") or ()
    assert not changes or built_in
    for circuit in built_in:
        load_circuit(circuit, changes=read_changes(changes))


@pytest.mark.parametrize("example", [*manual("response").examples[:1], *manual("circuits").examples])
def test_examples_without_a_take_can_be_run(example):
    words = shlex.split(example.partition(" > ")[0])[1:]
    result = sublatch(*words)
    assert (result.exit_code, result.stderr) == (0, "")


def sections(text: str) -> dict[str, list[str]]:
    """Return the names of the options under each heading of a help screen."""
    found: dict[str, list[str]] = {}
    for line in text.splitlines():
        if line.endswith(":") and not line.startswith(" "):
            found[line[:-1]] = []
        elif line.startswith("  -") and found:
            found[list(found)[-1]].append(line.split()[0].rstrip(","))
    return {title: names for title, names in found.items() if names}


def test_every_option_stands_in_one_group_of_a_long_command():
    for name in COMMANDS:
        options = [one for one in manual(name).get_params(click.Context(manual(name))) if isinstance(one, click.Option)]
        told = sections(sublatch(name, "-h").stdout)
        assert sorted(name for names in told.values() for name in names) == sorted(one.opts[0] for one in options)
        if len(options) <= LONG:
            assert list(told) == ["Options"]
        else:
            assert len(told) >= 3
            assert list(told)[-1] == "Output"
            assert max(map(len, told.values())) <= LONG


def test_groups_hold_only_options_that_are_there():
    for name in COMMANDS:
        known = {text for one in manual(name).params for text in one.opts}
        assert {text for names in manual(name).groups.values() for text in names} <= known


def test_choose_has_its_wishes_apart_from_its_tolerances():
    told = sections(sublatch("choose", "-h").stdout)
    assert told["Swept filter"][:3] == ["--low", "--high", "--peak"]
    assert "--pot-tolerance" in told["Boards as they come out"]
    assert next(iter(told)) == "Kind of filter"


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        ("sheet x.toml", "sublatch sheet -c x.toml"),
        ("sheet gated-open -o page.html", "sublatch sheet -o page.html -c gated-open"),
        ("response a.toml b.toml", "sublatch response -c a.toml -c b.toml"),
        ("render 'my take.wav' x.toml", "sublatch render 'my take.wav' -c x.toml"),
        ("tune a.wav gated-open -o x.toml", "sublatch tune a.wav -o x.toml -c gated-open"),
    ],
)
def test_a_circuit_without_its_option_is_told_how(words, meant):
    result = CliRunner().invoke(main, shlex.split(words), prog_name="sublatch")
    assert result.exit_code == 2
    assert f"a circuit is named with -c; did you mean: {meant}\n" in result.stderr


def test_without_any_circuit_the_built_in_ones_are_named():
    result = sublatch("render", "take.wav", "-o", "x.toml")
    assert result.exit_code == 2
    assert "Missing option '-c' / '--circuit'. It is a .toml file or a built-in one: gated-first-order" in result.stderr
