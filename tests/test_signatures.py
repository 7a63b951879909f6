"""How much a function asks for: what travels together is one object."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import sublatch

PACKAGE = Path(sublatch.__file__).parent
MOST = 7
"""Parameters of a function, keyword-only ones too; commands apart, whose options are what the user reads."""


def test_no_function_has_too_many_parameters() -> None:
    faults = crowded(PACKAGE)
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize(
    "head",
    [
        "def f(a, b, c, d, e, f, g, h): ...",
        "def f(a, b, /, c, d, *, e, f, g, h): ...",
        "def f(a, b, c, d, e, f, *g, **h): ...",
        "class C:\n    def f(self, a, b, c, d, e, f, g, h): ...",
        "f = lambda a, b, c, d, e, f, g, h: a",
        "@command\ndef f(a, b, c, d, e, f, g, h): ...",
    ],
)
def test_a_crowded_function_is_found(tmp_path: Path, head: str) -> None:
    (tmp_path / "module.py").write_text(head + "\n", encoding="utf-8")
    (fault,) = crowded(tmp_path)
    assert fault.startswith("module.py:")
    assert fault.endswith("has 8 parameters, at most 7")


@pytest.mark.parametrize(
    "head",
    [
        "def f(a, b, c, d, e, f, g): ...",
        "class C:\n    def f(self, a, b, c, d, e, f, g): ...",
        "@click.command('f')\ndef f(a, b, c, d, e, f, g, h): ...",
        "@main.command()\n@click.option('--a')\ndef f(a, b, c, d, e, f, g, h): ...",
    ],
)
def test_others_are_left_alone(tmp_path: Path, head: str) -> None:
    (tmp_path / "module.py").write_text(head + "\n", encoding="utf-8")
    assert crowded(tmp_path) == []


def crowded(package: Path) -> list[str]:
    """Return which functions have too many parameters."""
    return [
        f"{path.relative_to(package).as_posix()}:{node.lineno}: {getattr(node, 'name', 'lambda')} "
        f"has {count} parameters, at most {MOST}"
        for path in sorted(package.rglob("*.py"))
        for node in _functions(ast.parse(path.read_text(encoding="utf-8")))
        if (count := _count(node.args)) > MOST and not _is_command(node)
    ]


def _functions(tree: ast.AST) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda]:
    """Yield every function of a module, inner ones and methods too."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            yield node


def _count(args: ast.arguments) -> int:
    """Return how many parameters there are, the object or class of a method apart."""
    names = [arg.arg for arg in (*args.posonlyargs, *args.args, *args.kwonlyargs, args.vararg, args.kwarg) if arg]
    return len([name for name in names if name not in ("self", "cls")])


def _is_command(node: ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda) -> bool:
    """Return whether a function is a command, by its decorator."""
    decorators = [] if isinstance(node, ast.Lambda) else node.decorator_list
    called = [ast.unparse(one.func) for one in decorators if isinstance(one, ast.Call)]
    return any(name.endswith(".command") for name in called)
