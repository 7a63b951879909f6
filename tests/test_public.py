"""The public names: each is where it is said to be, and has a docstring."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import sublatch


@pytest.mark.parametrize("name", [n for n in sublatch.__all__ if n != "__version__"])
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
    assert named == set(sublatch.__all__) - {"__version__"}


def test_importing_the_package_loads_nothing_heavy():
    heavy = "numpy", "scipy", "pydantic", "matplotlib", "librosa", "soundfile"
    code = f"import sys, sublatch.cli; print([m for m in {heavy!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
