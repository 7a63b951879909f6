"""The public names: each is where it is said to be, and has a docstring."""

import ast
import io
import pydoc
import subprocess
import sys
from pathlib import Path

import pytest

import sublatch

NAMES = [name for name in dir(sublatch) if name != "__version__"]


@pytest.mark.parametrize("name", NAMES)
def test_every_public_name_can_be_used(name):
    assert getattr(sublatch, name).__doc__
    assert name in dir(sublatch)


def test_an_unknown_name_is_no_attribute():
    with pytest.raises(AttributeError, match="nothing_like_it"):
        _ = sublatch.nothing_like_it


def test_the_names_for_type_checkers_are_the_same():
    tree = ast.parse(Path(sublatch.__file__).read_text(encoding="utf-8"))
    block = next(node for node in tree.body if isinstance(node, ast.If))
    named = {alias.asname for node in block.body for alias in node.names}
    assert named == set(NAMES)


def test_importing_the_package_loads_nothing_heavy():
    heavy = "numpy", "scipy", "pydantic", "matplotlib", "librosa", "soundfile"
    code = f"import sys, sublatch.cli; print([m for m in {heavy!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def shown_by_help() -> list[str]:
    """Return the lines that ``help(sublatch)`` shows."""
    page = io.StringIO()
    pydoc.Helper(output=page).help(sublatch)
    return page.getvalue().splitlines()


def test_help_begins_with_the_functions_and_is_short():
    lines = shown_by_help()
    first = next(place for place, line in enumerate(lines, start=1) if "read_take" in line)
    assert lines[3].strip().startswith("sublatch - Hear, measure and choose")
    assert first <= 12
    assert len(lines) <= 150


@pytest.mark.parametrize("name", NAMES)
def test_help_tells_every_public_name_with_its_own_first_sentence(name):
    sentence = (getattr(sublatch, name).__doc__ or "").strip().splitlines()[0]
    row = next(line for line in shown_by_help() if line.split()[:1] == [name] or line.split()[1:2] == [name])
    assert row.endswith(f" {sentence}")


def test_there_are_as_many_names_as_functions_and_records():
    assert len(NAMES) > 25
    assert {"render", "track", "choose", "Take", "Circuit"} <= set(NAMES)
