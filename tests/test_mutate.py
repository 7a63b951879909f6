"""The script that changes the code and asks whether a test notices, on a small package of its own."""

from __future__ import annotations

import ast
import json
import sys
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

import pytest

pytestmark = pytest.mark.long

SCRIPTS = Path(__file__).parent.parent / "scripts"

VOLTS = '''"""Volts."""

LIMIT_V = 9.0
SLACK = 0


def clipped(volts):
    """Return volts within limits."""
    return LIMIT_V if volts > LIMIT_V else volts - SLACK


def never(volts):
    while volts > 0:
        volts = volts - 1
    return volts
'''
TEST = """from tiny.parts.volts import clipped, never


def test_clipped():
    assert [clipped(v) for v in (3.0, 9.0, 12.0)] == [3.0, 9.0, 9.0]
    assert never(2) == 0
"""


def script(name: str) -> ModuleType:
    spec = spec_from_file_location(name, SCRIPTS / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = sys.modules[name] = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


mutations, mutate = script("_mutations"), script("mutate")


@pytest.fixture
def tree(tmp_path):
    """A package with one module that is tested, one that is not, and a helper between a test and the module."""
    for path, text in {
        "src/tiny/__init__.py": "",
        "src/tiny/parts/__init__.py": "",
        "src/tiny/parts/volts.py": VOLTS,
        "src/tiny/alone.py": "A = [1, 2][0]\n",
        "tests/parts/test_volts.py": TEST,
        "tests/helper.py": "from tiny.parts import volts\n",
        "tests/test_other.py": "import helper\n\n\ndef test_nothing_of_it():\n    assert helper\n",
        "pyproject.toml": '[tool.pytest.ini_options]\npythonpath = ["tests"]\n',
    }.items():
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / path).write_text(text, encoding="utf-8")
    return tmp_path


def changes(source):
    """Return the kinds of changes to a source, and the sources that they make."""
    found = mutations.mutations_of(source, file="x.py")
    return [(one.kind, mutations.apply(source, one)) for one in found]


@pytest.mark.parametrize(
    ("source", "kind", "changed"),
    [
        ("é = a + b\n", "sign", "é = (a - b)\n"),
        ("x = -a\n", "sign", "x = (a)\n"),
        ("x = a < b\n", "comparison", "x = (a <= b)\n"),
        ("x = a is not b\n", "comparison", "x = (a is b)\n"),
        ("x = a[1:]\n", "index", "x = a[(2):]\n"),
        ("x = a < 5\n", "limit", "x = a < (4)\n"),
        ("LEAST = 2.0\n", "limit", "LEAST = (2.2)\n"),
        ("MOST_HZ = 2.0\n", "unit", "MOST_HZ = (2.0 * 1000)\n"),
        ("x = a * 1e-3\n", "unit", "x = a * (0.001 * 1000)\n"),
        ("x = a and b\n", "boolean", "x = (a or b)\n"),
        ("x = not a\n", "boolean", "x = bool(a)\n"),
        ("if a:\n    b()\n", "branch", "if (not (a)):\n    b()\n"),
        ("def f():\n    os.fsync(a)\n", "write", "def f():\n    pass\n"),
        ("key = (a, b)\n", "key", "key = (b,)\n"),
        ("def fingerprint():\n    return f([a, b])\n", "key", "def fingerprint():\n    return f([a])\n"),
        ("def key_of(a):\n    return {'a': a, 'b': b}\n", "key", "def key_of(a):\n    return {'a': a}\n"),
    ],
)
def test_every_kind_of_change_is_made(source, kind, changed):
    assert (kind, changed) in changes(source)


@pytest.mark.parametrize(
    "source",
    ["from a import b\n", "x = 'a' + b\n", "x: Literal[1] = a\n", "if TYPE_CHECKING:\n    import a\n", "f'{a + b}'\n"],
)
def test_what_says_nothing_is_left_alone(source):
    assert changes(source) == []


def test_changes_to_the_package_can_be_parsed():
    for one in mutate.all_mutations(SCRIPTS.parent, "sublatch"):
        if one.line % 101 == 0:
            ast.parse(mutations.apply((SCRIPTS.parent / one.file).read_text(encoding="utf-8"), one))


def test_drawing_is_by_seed_and_gives_every_folder_its_turn(tree):
    found = mutate.all_mutations(tree, "tiny")
    some = mutate.drawn(found, count=4, seed=3)
    assert some == mutate.drawn(found, count=4, seed=3)
    assert some != mutate.drawn(found, count=4, seed=4)
    assert {one.file for one in some[:2]} == {"src/tiny/alone.py", "src/tiny/parts/volts.py"}
    assert sorted(mutate.drawn(found, count=10**6, seed=1), key=str) == sorted(found, key=str)


def test_the_tests_of_a_module_are_that_of_its_name_and_those_that_import_it(tree):
    assert mutate.Tree(tree, "tiny").tests_of("src/tiny/parts/volts.py") == (
        "tests/parts/test_volts.py",
        "tests/test_other.py",
    )
    assert mutate.Tree(tree, "tiny").tests_of("src/tiny/parts/volts.py", most=1) == ("tests/parts/test_volts.py",)
    assert mutate.Tree(tree, "tiny").tests_of("src/tiny/alone.py") == ()


def test_a_module_in_a_folder_without_tests_has_those_of_the_folder_above_it(tree):
    (tree / "src/tiny/parts/deep").mkdir()
    (tree / "src/tiny/parts/deep/ohms.py").write_text("A = [1, 2][0]\n", encoding="utf-8")
    names = ("tests/parts/test_ohms.py", "tests/parts/test_deep.py")
    for place in (*names, "tests/test_ohms.py"):
        (tree / place).write_text("import tiny\n", encoding="utf-8")
    assert mutate.Tree(tree, "tiny").tests_of("src/tiny/parts/deep/ohms.py") == names


def test_a_change_that_matters_is_killed_and_one_that_does_not_is_reported(tree):
    """``volts > 9`` and ``volts >= 9`` give the same; ``0 - 1`` more or less do not; nothing imports ``alone``."""
    copy = mutate.Tree(tree, "tiny", limit_s=20.0)
    found = {(one.line, one.kind, one.after): one for one in mutate.all_mutations(tree, "tiny")}
    verdicts = {
        key: copy.outcome(found[key]).verdict
        for key in (
            (9, "comparison", "(volts >= LIMIT_V)"),
            (3, "limit", "(8.1)"),
            (1, "index", "(1)"),
        )
    }
    assert list(verdicts.values()) == ["survived", "killed", "untested"]
    assert (tree / "src/tiny/parts/volts.py").read_text(encoding="utf-8") == VOLTS


def test_an_endless_loop_is_given_up_and_a_test_that_fails_anyway_kills_nothing(tree):
    copy = mutate.Tree(tree, "tiny", limit_s=2.5)
    found = {(one.line, one.kind): one for one in mutate.all_mutations(tree, "tiny")}
    assert copy.outcome(found[14, "sign"]).verdict == "timed out"
    (tree / "tests/parts/test_volts.py").write_text(TEST + "    assert False\n", encoding="utf-8")
    assert mutate.Tree(tree, "tiny").outcome(found[3, "unit"]).verdict == "broken"


def test_a_test_whose_name_holds_what_was_changed_kills_too(tree):
    text = "import pytest\n\nfrom tiny.parts.volts import LIMIT_V\n\n\n"
    text += "@pytest.mark.parametrize('limit', [LIMIT_V])\ndef test_limit(limit):\n    assert limit == 9.0\n"
    (tree / "tests/parts/test_volts.py").write_text(text, encoding="utf-8")
    (unit,) = (one for one in mutate.all_mutations(tree, "tiny") if (one.line, one.kind) == (3, "unit"))
    outcome = mutate.Tree(tree, "tiny").outcome(unit)
    assert (outcome.verdict, outcome.by) == ("killed", "tests/parts/test_volts.py::test_limit[9000.0]")


def test_those_that_survived_are_made_again_and_no_others(tree, tmp_path, capsys):
    found = mutate.all_mutations(tree, "tiny")
    (slack,) = (one for one in found if (one.line, one.after) == (9, "(volts >= LIMIT_V)"))
    outcomes = [mutate.Outcome(one, "survived" if one is slack else "killed", ("a.py",)) for one in found]
    (tmp_path / "earlier.txt").write_text("\n".join(one.told() for one in outcomes), encoding="utf-8")
    assert mutate.main(["--root", str(tree), "--package", "tiny", "--again", str(tmp_path / "earlier.txt")]) == 0
    line, counts = capsys.readouterr().out.splitlines()
    assert slack.told() in line
    assert counts == "{'survived': 1}"


def test_the_document_tells_place_change_and_counts(tree, capsys):
    before = {path: path.read_bytes() for path in tree.rglob("*.py")}
    assert mutate.main(["--root", str(tree), "--package", "tiny", "--count", "2", "--seed", "3", "--json"]) == 0
    said = capsys.readouterr()
    told = json.loads(said.out)
    assert len(told["mutations"]) == 2
    assert sum(told["counts"].values()) == 2
    assert {"file", "line", "kind", "before", "after", "verdict", "tests", "by"} <= set(told["mutations"][0])
    assert len(said.err.splitlines()) == 2
    assert {path: path.read_bytes() for path in before} == before
