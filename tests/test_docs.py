"""Every command is documented, every option explains itself, and the documents name nothing that is not there."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import click
import pytest

from sublatch.errors import ManualError
from sublatch.manual.reference import answer
from sublatch.manual.topics import COMMANDS_OF, topic, topic_names

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "src" / "sublatch"
MANUAL = tuple(f"src/sublatch/manual/{name}.md" for name in topic_names())
DOCUMENTS = ("README.md", "DEVELOPERS.md", "tests/published/README.md", *MANUAL)

Commands = dict[str, click.Command]


@pytest.fixture(scope="module")
def commands() -> Commands:
    from sublatch.cli import main

    return commands_of(main)


def test_every_command_is_in_the_readme(commands: Commands) -> None:
    faults = unmentioned(_document("README.md"), commands)
    assert not faults, "\n".join(faults)


def test_every_command_is_explained_by_one_topic_of_the_manual(commands: Commands) -> None:
    explained = [command for own in COMMANDS_OF.values() for command in own]
    assert sorted(explained) == sorted(commands)
    for name in commands:
        assert not unmentioned(topic(name).text, {name: commands[name]})


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
    """What a command in README and manual reads, a command before it or the demo wrote."""
    from sublatch.demo.write import demo_texts

    assert unwritten(_document("README.md"), {*demo_texts()}) == []
    assert unwritten("\n".join(_document(name) for name in MANUAL), {*demo_texts()}) == []


def test_the_documents_show_the_demos_files_as_they_are() -> None:
    from sublatch.demo.write import demo_texts

    text = "\n".join(_document(name) for name in ("README.md", *MANUAL))
    blocks = re.findall(r"^```toml\n(.*?)^```", text, flags=re.MULTILINE | re.DOTALL)
    for name, start, times in (("filters.toml", "title = ", 2), ("own.toml", '[filter]\nkind = "network"', 1)):
        shown = [block for block in blocks if block.startswith(start)]
        assert len(shown) == times
        assert all(block in demo_texts()[name] for block in shown)


@pytest.mark.parametrize("name", DOCUMENTS)
def test_links_lead_to_files_that_are_there(name: str) -> None:
    links = re.findall(r"\]\(([^)]+)\)", _document(name))
    assert not [link for link in links if not ((ROOT / name).parent / link).exists()]


@pytest.mark.parametrize("name", MANUAL)
def test_links_of_the_manual_stay_in_the_package(name: str) -> None:
    links = re.findall(r"\]\(([^)]+)\)", _document(name))
    others = [link for link in links if link.removesuffix(".md") not in COMMANDS_OF]
    assert not [link for link in others if not re.fullmatch(r"pictures/[a-z-]+\.png", link)]


@pytest.mark.parametrize("name", DOCUMENTS)
def test_files_of_the_repository_that_are_named_are_there(name: str) -> None:
    named = re.findall(r"`((?:[\w.-]+/)+[\w.-]*\.(?:py|js|md))`", _document(name))
    named = [path for path in named if not Path(path).stem.isupper() or path.endswith(".md")]
    assert not [path for path in named if not any((folder / path).exists() for folder in (ROOT, PACKAGE))]


@pytest.mark.parametrize("name", DOCUMENTS)
def test_topics_and_settings_that_are_asked_for_are_there(name: str) -> None:
    assert unknown(_document(name)) == []


def test_a_topic_or_setting_that_is_not_there_is_found() -> None:
    text = (
        "`sublatch manual tracking`, `sublatch manual COMMAND`, `sublatch manual songs`, `sublatch settings filter.x`"
    )
    assert unknown(text) == ["sublatch manual songs", "sublatch settings filter.x"]


def test_the_tree_in_the_developers_page_has_every_folder() -> None:
    tree = _document("DEVELOPERS.md").partition("    src/sublatch/\n")[2].partition("\n\n")[0]
    above: list[str] = []
    drawn = set()
    for line in tree.splitlines():
        found = re.match(r" {6}((?:  )*)(\w+)/ ", line)
        if found:
            above = [*above[: len(found[1]) // 2], found[2]]
            drawn.add("/".join(above))
    assert drawn == {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*")
        if path.is_dir() and path.name != "__pycache__"
    }


def test_every_module_says_what_it_is() -> None:
    """The first sentence of its docstring: whoever opens the tree reads it there."""
    paths = sorted(PACKAGE.rglob("*.py"))
    docstrings = {path.relative_to(PACKAGE): ast.get_docstring(ast.parse(path.read_text("utf-8"))) for path in paths}
    firsts = {path: (text or "").partition("\n\n")[0] for path, text in docstrings.items()}
    assert len(firsts) > 150
    assert not [path for path, first in firsts.items() if not first.endswith(".")]


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


def unknown(text: str) -> list[str]:
    """Return the command lines in a text's code that ask for a topic or a setting which is not there."""
    faults = []
    for line in _command_lines(text):
        words = [word for word in line.split()[1:] if not word.startswith("-")]
        if len(words) == 2 and words[0] in ("manual", "settings") and not words[1].isupper():
            try:
                topic(words[1]) if words[0] == "manual" else answer(words[1])
            except ManualError:
                faults.append(line)
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
