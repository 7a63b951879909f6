"""Every command is documented, every option explains itself, and the documents name nothing that is not there."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

ROOT = Path(__file__).parent.parent
DOCUMENTS = ("README.md", "DEVELOPERS.md")

Commands = dict[str, click.Command]


@pytest.fixture(scope="module")
def commands() -> Commands:
    from sublatch.cli import main

    return commands_of(main)


def test_every_command_is_in_the_documents(commands: Commands) -> None:
    documents = "\n".join(_document(name) for name in DOCUMENTS)
    faults = unmentioned(documents, commands)
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize("name", DOCUMENTS)
def test_documents_show_only_commands_and_options_that_exist(name: str, commands: Commands) -> None:
    faults = invented(_document(name), commands)
    assert not faults, "\n".join(faults)


def test_every_command_and_option_has_help(commands: Commands) -> None:
    faults = helpless(commands)
    assert not faults, "\n".join(faults)


def test_the_main_job_has_its_commands(commands: Commands) -> None:
    assert set(commands) >= {"demo", "audition", "render", "take", "response", "circuits"}


def test_every_circuit_and_plan_that_is_named_is_one_that_the_reader_has() -> None:
    """What a command in the README reads, a command before it or the demo wrote."""
    from sublatch.demo.write import demo_texts

    assert unwritten(_document("README.md"), {*demo_texts()}) == []


def test_the_readme_shows_the_demos_files_as_they_are() -> None:
    from sublatch.demo.write import demo_texts

    blocks = re.findall(r"^```toml\n(.*?)^```", _document("README.md"), flags=re.MULTILINE | re.DOTALL)
    for name, start in (("filters.toml", "title = "), ("own.toml", '[filter]\nkind = "network"')):
        (shown,) = (block for block in blocks if block.startswith(start))
        assert shown in demo_texts()[name]


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        ("```\n$ sublatch audition demo.toml\n```", []),
        ("```\n$ sublatch play -c mine.toml\n```", ["sublatch play -c mine.toml: nothing wrote mine.toml"]),
        ("```\n$ sublatch circuits a > mine.toml\n$ sublatch play -c mine.toml\n```", []),
        ("```\n$ sublatch tune -o mine.toml\n$ sublatch play -c mine.toml\n```", []),
        ("```\n$ sublatch tune --plan near.toml\n$ sublatch audition near.toml\n```", []),
    ],
)
def test_a_file_that_nothing_wrote_is_found(text: str, faults: list[str]) -> None:
    assert unwritten(text, {"demo.toml"}) == faults


@click.group()
def sample() -> None:
    """Do this and that."""


@sample.command()
@click.argument("take")
@click.option("-o", "--output", help="Where to.")
@click.option("--loud/--soft", help="How.")
@click.option("--mute")
@click.option("--secret", hidden=True)
def play(**_: object) -> None:
    """Play it."""


@sample.group()
def board() -> None:
    """Do something with a board."""


@board.command()
def fit() -> None:
    pass


def test_commands_are_found_at_every_level() -> None:
    assert set(commands_of(sample)) == {"play", "board fit"}


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("`sublatch play` and `sublatch board fit`", []),
        ("`sublatch play`, `sublatch board`", ["sublatch board fit"]),
        ("`sublatch player`, `sublatch board fit`", ["sublatch play"]),
        ("", ["sublatch board fit", "sublatch play"]),
    ],
)
def test_a_command_without_a_mention_is_found(text: str, missing: list[str]) -> None:
    assert unmentioned(text, commands_of(sample)) == missing


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        ("`sublatch play x -o y --soft`, and sublatch sings --loudly.", []),
        ("    sublatch --help\n```\n$ sublatch play --help\n```", []),
        ("`sublatch --play`", ["sublatch --play: no option --play"]),
        ("`sublatch sing`", ["sublatch sing: no such command"]),
        ("```console\n$ sublatch play x --softly\n```", ["sublatch play x --softly: no option --softly"]),
        ("```\nsublatch play \\\n  x -q\n```", ["sublatch play x -q: no option -q"]),
        ("```\n.venv/bin/sublatch play --low  # so\n```", ["sublatch play --low: no option --low"]),
        ("`sublatch board fit --mute`", ["sublatch board fit --mute: no option --mute"]),
    ],
)
def test_an_invented_command_or_option_is_found(text: str, faults: list[str]) -> None:
    assert invented(text, commands_of(sample)) == faults


def test_a_command_or_option_without_help_is_found() -> None:
    assert helpless(commands_of(sample)) == ["sublatch board fit", "sublatch play --mute"]


def commands_of(group: click.Group, prefix: str = "") -> Commands:
    """Return every command under its full name, those of groups within the group too."""
    context = click.Context(group)
    found: Commands = {}
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None, f"{name} is listed but not there"
        deeper = commands_of(command, f"{prefix}{name} ") if isinstance(command, click.Group) else {}
        found |= deeper or {f"{prefix}{name}": command}
    return found


def unmentioned(text: str, commands: Commands) -> list[str]:
    """Return the commands that a text does not mention with the program's name before them."""
    wanted = [f"sublatch {name}" for name in commands]
    return [name for name in wanted if not re.search(rf"\b{re.escape(name)}(?![\w-])", text)]


def invented(text: str, commands: Commands) -> list[str]:
    """Return the command lines in a text's code that name a command or an option which does not exist."""
    faults = []
    for line in _command_lines(text):
        words = line.split()[1:]
        named = next((name for name in commands if words[: len(name.split())] == name.split()), None)
        if named is None and words and not words[0].startswith("-") and not words[0].isupper():
            faults.append(f"{line}: no such command")
            continue
        known = {"--help", "--version"} if named is None else {"--help", *_options(commands[named])}
        used = [found[0] for word in words if (found := re.match(r"\[?(--?[a-z][\w-]*)", word))]
        faults += [f"{line}: no option {option.strip('[')}" for option in used if option.strip("[") not in known]
    return faults


def unwritten(text: str, there: set[str]) -> list[str]:
    """Return the commands in a text's code blocks that read a circuit or plan which no command before them wrote."""
    faults = []
    blocks = re.findall(r"^```[^\n]*\n(.*?)^```", text, flags=re.MULTILINE | re.DOTALL)
    for line in (line for block in blocks for line in block.splitlines() if line.startswith("$ sublatch ")):
        command = line.removeprefix("$ ")
        written = set(re.findall(r"(?:>|-o|--output|--plan) *([\w/-]+\.toml)", command))
        read = set(re.findall(r"[\w/-]+\.toml", command)) - written
        faults += [f"{command}: nothing wrote {name}" for name in sorted(read - there)]
        there |= written
    return faults


def helpless(commands: Commands) -> list[str]:
    """Return the commands, and the options of commands, that have no help."""
    faults = []
    for name, command in commands.items():
        options = (option for option in command.params if isinstance(option, click.Option) and not option.hidden)
        faults += [f"sublatch {name}"] * (not command.help)
        faults += [f"sublatch {name} {option.opts[-1]}" for option in options if not option.help]
    return faults


def _options(command: click.Command) -> set[str]:
    """Return every spelling of a command's options."""
    options = (option for option in command.params if isinstance(option, click.Option))
    return {spelling for option in options for spelling in (*option.opts, *option.secondary_opts)}


def _command_lines(text: str) -> list[str]:
    """Return the command lines in a text's code blocks, fenced or indented, and in its code words."""
    fenced = re.findall(r"^```[^\n]*\n(.*?)^```", text, flags=re.MULTILINE | re.DOTALL)
    prose = re.sub(r"^```[^\n]*\n.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)
    indented = re.findall(r"^(?: {4}|\t)(.*)$", prose, flags=re.MULTILINE)
    lines = "\n".join([*fenced, *indented]).replace("\\\n", " ").splitlines()
    in_prose = [" ".join(code.split()) for code in re.findall(r"`([^`]+)`", prose)]
    calls = (
        re.match(r"(?:\$ |> )?(?:\S*[/\\])?(sublatch\b(?![./-])[^#|>]*)", line.strip()) for line in lines + in_prose
    )
    return [" ".join(call[1].split()) for call in calls if call]


def _document(name: str) -> str:
    """Return the text of a document at the top of the repository."""
    return (ROOT / name).read_text(encoding="utf-8")
