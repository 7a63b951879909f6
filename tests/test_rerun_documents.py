"""The script that runs what the documents show: it finds the commands, and output that is not as shown."""

from __future__ import annotations

import sys
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
_spec = spec_from_file_location("rerun_documents", ROOT / "scripts" / "rerun_documents.py")
assert _spec is not None
assert _spec.loader is not None
script = sys.modules["rerun_documents"] = module_from_spec(_spec)
_spec.loader.exec_module(script)


def test_commands_are_found_with_what_is_shown_below_them() -> None:
    text = "so:\n\n```console\n$ cd x\n$ sublatch a -b\none\n  two\n$ sublatch c\n```\n\n```toml\n$ sublatch d\n```\n"
    assert script.shown(text) == [("sublatch a -b", ["one", "  two"]), ("sublatch c", [])]


def test_the_readme_and_the_manual_show_commands_that_are_compared() -> None:
    commands = [command for command, lines in script.shown(script.README.read_text(encoding="utf-8")) if lines]
    assert [command.split()[1] for command in commands] == ["take", "audition"]
    manual = "\n".join(script.topic(name).text for name in script.topic_names())
    assert sum(bool(lines) for _, lines in script.shown(manual)) > 12
    assert script.PRINTED in [command for command, _ in script.shown(manual)]


@pytest.mark.parametrize(
    ("lines", "out", "err", "same"),
    [
        (["a", "b"], "a\nb\n", "", True),
        (["a", "b"], "a\nc\n", "", False),
        (["a"], "a\nb\n", "", False),
        (["a", "   …", "d"], "a\nb\nc\nd\n", "", True),
        (["a", "   …", "d"], "a\nd\n", "", True),
        (["a", "   …"], "a\nb\n", "", True),
        (["a", "   …", "e"], "a\nb\nc\nd\n", "", False),
        (["a.c"], "abc\n", "", False),
        (["note: x", "a"], "a\n", "note: x\n", True),
        (["note: x", "a"], "a\n", "note: y\n", False),
        (["a", "Written f"], "a\n", "progress\nWritten f\n", True),
        (["a", "Written f"], "a\nWritten f\n", "", True),
        (["a", "Written f"], "a\nWritten g\n", "", False),
    ],
)
def test_output_that_is_not_as_shown_is_found(lines: list[str], out: str, err: str, same: bool) -> None:
    assert script.is_as_shown(lines, out, err) is same
