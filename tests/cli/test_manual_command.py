"""``sublatch manual`` and ``sublatch settings``."""

from __future__ import annotations

import json

import pytest
from click.shell_completion import ShellComplete

from command_line import sublatch
from sublatch.cli import main
from sublatch.manual.plain import WIDEST, plain_text
from sublatch.manual.topics import COMMANDS_OF, topic, topic_names


def test_topics_are_listed_with_their_first_sentence() -> None:
    told = " ".join(sublatch("manual").stdout.split())
    assert all(f"{name} {topic(name).summary}" in told for name in topic_names())


def test_a_topic_is_shown_as_plain_text(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(WIDEST))
    shown = sublatch("manual", "completion")
    assert (shown.exit_code, shown.stderr) == (0, "")
    assert shown.stdout.rstrip() == plain_text(topic("completion").text, width=WIDEST).rstrip()


@pytest.mark.parametrize(
    ("command", "name"), [(each, own) for own, commands in COMMANDS_OF.items() for each in commands]
)
def test_a_commands_name_shows_the_topic_that_explains_it(command: str, name: str) -> None:
    assert sublatch("manual", command).stdout.startswith(topic(name).title)


def test_the_manual_as_a_document() -> None:
    listed = json.loads(sublatch("manual", "--json").stdout)["topics"]
    assert [one["name"] for one in listed] == topic_names()
    assert next(one["commands"] for one in listed if one["name"] == "tracking") == ["track"]
    assert json.loads(sublatch("manual", "sheet", "--json").stdout) == {
        "name": "sheet",
        "title": topic("sheet").title,
        "summary": topic("sheet").summary,
        "text": topic("sheet").text,
    }


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("manual", "tracing"), "sublatch: the manual has no topic 'tracing'; did you mean 'tracking'?"),
        (("settings", "suply"), "sublatch: there is no setting 'suply'; did you mean 'supply'?"),
    ],
)
def test_what_is_not_there_is_wrong_usage(words: tuple[str, ...], message: str) -> None:
    result = sublatch(*words)
    assert result.exit_code == 2
    assert result.stderr.startswith(message)


def test_a_setting_is_shown_with_all_there_is_to_say() -> None:
    assert sublatch("settings", "detector.filter.capacitor").stdout == (
        'detector.filter.capacitor in a circuit file, where kind = "first-order"\n'
        "  Capacitor to ground.\n"
        '  unit     farads, as "47n"\n'
        "  range    1 pF to 0.1 F\n"
        '  default  "15n"\n'
    )


def test_a_table_is_shown_with_its_settings() -> None:
    assert sublatch("settings", "divider").stdout == (
        "divider in a circuit file\n  The flip-flops.\n  stages  1, 2  1 for an octave down, 2 for two. Default: 1.\n"
    )


def test_tables_are_listed_file_by_file() -> None:
    lines = sublatch("settings").stdout.splitlines()
    assert (
        lines.index("In a circuit file:") < lines.index("  knobs") < lines.index("In a plan:") < lines.index("  sweeps")
    )
    assert "  title, supply, hardwired, octave, filter, origins" in lines
    assert '  octave, where kind = "gain-gated"' in lines


def test_settings_as_a_document() -> None:
    tables = json.loads(sublatch("settings", "--json").stdout)["tables"]
    assert [one["table"] for one in tables if one["file"] == "plan"] == [
        *("", "takes", "candidates", "sweeps", "candidates.moves"),
    ]
    found = json.loads(sublatch("settings", "knobs.tone", "--json").stdout)
    assert found == {
        "settings": [
            {
                "file": "circuit",
                "table": "knobs",
                "tag": None,
                "name": "tone",
                "unit": None,
                "range": "0 to 10",
                "default": "none",
                "description": "Sweep of the output filter, where it has one.",
            }
        ],
        "tables": [],
    }
    (table,) = json.loads(sublatch("settings", "divider", "--json").stdout)["tables"]
    assert [row["name"] for row in table["settings"]] == ["stages"]


@pytest.mark.parametrize(
    ("command", "typed", "offered"),
    [("manual", "tu", ["tuning"]), ("manual", "o", ["own-filter"]), ("settings", "mix.o", ["mix.octave_resistor"])],
)
def test_the_tab_key_offers_topics_and_paths(command: str, typed: str, offered: list[str]) -> None:
    found = ShellComplete(main, {}, "sublatch", "_SUBLATCH_COMPLETE").get_completions([command], typed)
    assert [item.value for item in found] == offered
