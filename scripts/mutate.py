"""Would a test notice? ``python scripts/mutate.py [--count N] [--seed N] [--json]``.

Run it with the environment's Python, from anywhere. It makes one small change at a time to a copy of the tree (a sign,
a comparison, an index, a limit, a unit, and/or, a branch, a write left out, a fact of a cache key left out), drawn by
seed so that every folder has its turn, and runs the few test files that concern the changed module. A change that a
test fails for is killed; one that none fails for survived: a test is missing, or the change makes no difference.

A kill counts only where the failing test passes without the change.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from random import Random

from _mutations import Mutation, apply, mutations_of

ROOT = Path(__file__).resolve().parent.parent
PARTS = ("src", "tests", "scripts", "samples", "README.md", "DEVELOPERS.md", "pyproject.toml")
"""What the tests need of the tree."""
MOST_FILES = 6
"""Test files that are run for one change at most."""
LIMIT_S = 180.0
"""Seconds after which the tests of one change are given up: it may have made a loop endless."""
NOT_FOUND = 4
"""What pytest returns where there is no test of a name."""
LEFT_OUT = ("browser", "test_wheel.py", "test_layers.py", "test_reference.py")
"""Tests that say nothing of what a module works out, or need more than Python."""


@dataclass(frozen=True)
class Outcome:
    """What became of a change: ``killed``, ``survived``, ``timed out``, ``untested`` or ``broken`` without it."""

    mutation: Mutation
    verdict: str
    tests: tuple[str, ...]
    by: str = ""

    def told(self) -> str:
        """Return it on one line."""
        by = f"  [{self.by or ' '.join(self.tests) or 'no test imports it'}]"
        return f"{self.verdict:9}  {self.mutation.told()}{by}"


@dataclass
class Tree:
    """A copy of the tree that changes are made to, one at a time."""

    root: Path
    package: str
    limit_s: float = LIMIT_S
    imports: dict[str, set[str]] = field(default_factory=dict)
    users: dict[str, set[str]] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    sound: dict[str, bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Read what every module imports, and every test file, by way of the helpers beside the tests too."""
        for file in (self.root / "src" / self.package).rglob("*.py"):
            name = dotted(file.relative_to(self.root).as_posix())
            for other in imported(file.read_text(encoding="utf-8")):
                self.users.setdefault(other, set()).add(name)
        files = sorted((self.root / "tests").rglob("*.py"))
        own = {file.stem: imported(file.read_text(encoding="utf-8")) for file in files if file.parent.name == "tests"}
        for file in files:
            place = file.relative_to(self.root / "tests")
            if file.name.startswith("test_") and not set(place.parts) & set(LEFT_OUT):
                found, new = set[str](), imported(file.read_text(encoding="utf-8"))
                while new:
                    found |= new
                    new = set().union(*(own.get(name, set()) for name in new)) - found
                self.imports[f"tests/{place.as_posix()}"] = found
                self.texts[f"tests/{place.as_posix()}"] = file.read_text(encoding="utf-8")

    def tests_of(self, file: str, *, most: int = MOST_FILES) -> tuple[str, ...]:
        """Return the test files that concern a module: that of its own name first, of its folder's, or of a user's.

        Then come others in its own folder, or in the nearest above it that has tests; those that speak of it before
        those that import it, then those that import a module which does, and those that import little else before those
        that import much.
        """
        near, ranks = {dotted(file)}, dict[str, tuple[bool, ...]]()
        while not ranks:
            further = near.union(*(self.users.get(name, ()) for name in near))
            ranks = self._ranks(file, further)
            if further == near:
                break
            near = further
        return tuple(sorted(ranks, key=lambda test: (ranks[test], len(self.imports[test]), test))[:most])

    def _ranks(self, file: str, near: set[str]) -> dict[str, tuple[bool, ...]]:
        """Return how far the tests of a module, or of those near it, are from it; true is far."""
        place, name = Path(file).relative_to(Path("src", self.package)), dotted(file)
        tested = {Path(test).parent for test in self.imports}
        beside = next((above for one in place.parents if (above := Path("tests", one)) in tested), Path("tests"))
        stems = tuple(f"test_{one.rpartition('.')[2]}" for one in near)
        ranks: dict[str, tuple[bool, ...]] = {}
        for test, found in self.imports.items():
            inside = Path(test).parent == beside
            own, user = (inside and Path(test).stem.startswith(words) for words in (f"test_{place.stem}", stems))
            family = inside and Path(test).stem == f"test_{place.parent.name}"
            spoken = f'"{place.stem}"' in self.texts[test]  # as a command is
            if own or family or user or found & near:
                ranks[test] = (not own, not family, not user, not inside, not spoken, name not in found)
        return ranks

    def outcome(self, mutation: Mutation) -> Outcome:
        """Return what becomes of a change; the copy is as it was afterwards."""
        tests = self.tests_of(mutation.file)
        if not tests:
            return Outcome(mutation, "untested", tests)
        path = self.root / mutation.file
        before = path.read_text(encoding="utf-8")
        path.write_text(apply(before, mutation), encoding="utf-8")
        try:
            status, said = self._pytest(*tests)
        finally:
            path.write_text(before, encoding="utf-8")
        if status is None or status == 0:
            return Outcome(mutation, "timed out" if status is None else "survived", tests)
        by = failing_test(said)
        return Outcome(mutation, "killed" if self._passes(by or tests[0]) else "broken", tests, by)

    def _passes(self, test: str) -> bool:
        """Return whether a test passes, or a file can be collected, without any change."""
        if test not in self.sound:
            more = () if "::" in test else ("--collect-only",)
            status, _ = self._pytest(test, *more)
            if status == NOT_FOUND:  # its name holds what was changed
                status, _ = self._pytest(test.partition("[")[0])
            self.sound[test] = status == 0
        return self.sound[test]

    def _pytest(self, *arguments: str) -> tuple[int | None, str]:
        """Run tests up to the first failure; return their exit status, None after too long, and what they said."""
        options = ("-x", "-q", "--no-header", "--tb=no", "-rfE", "-p", "no:cacheprovider", "-m", "not wheel")
        environment = os.environ | {
            "PYTHONPATH": str(self.root / "src"),
            "PYTHONDONTWRITEBYTECODE": "1",  # a change within the same second and of the same length is else not seen
            "OPENBLAS_NUM_THREADS": "1",
        }
        child = subprocess.Popen(
            [sys.executable, "-m", "pytest", *options, *arguments],
            cwd=self.root,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )
        try:
            said, _ = child.communicate(timeout=self.limit_s)
        except subprocess.TimeoutExpired:
            os.killpg(child.pid, signal.SIGKILL)
            child.communicate()
            return None, ""
        return child.returncode, said


def dotted(file: str) -> str:
    """Return the name under which a file in ``src`` is imported."""
    parts = Path(file).relative_to("src").with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


def imported(source: str) -> set[str]:
    """Return the dotted names of all modules that a source imports, and of what it imports from them."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{name.name}" for name in node.names)}
    return found


def failing_test(said: str) -> str:
    """Return the test, or the file, that pytest's short summary names first; nothing where it names none."""
    for line in said.splitlines():
        if line.startswith(("FAILED ", "ERROR ")):
            return line.split(" ", 1)[1].partition(" - ")[0].strip()
    return ""


def drawn(mutations: Sequence[Mutation], *, count: int, seed: int) -> list[Mutation]:
    """Return so many changes, drawn so that every folder has its turn, and within it every kind as likely."""
    rng = Random(seed)
    folders: dict[str, dict[str, list[Mutation]]] = {}
    for one in mutations:
        folders.setdefault(str(Path(one.file).parent), {}).setdefault(one.kind, []).append(one)
    found: list[Mutation] = []
    while folders and len(found) < count:
        for folder in rng.sample(sorted(folders), len(folders)):
            kinds = folders[folder]
            kind = rng.choice(sorted(kinds))
            found.append(kinds[kind].pop(rng.randrange(len(kinds[kind]))))
            if not kinds[kind]:
                del kinds[kind]
            if not kinds:
                del folders[folder]
    return found[:count]


def survivors(mutations: Iterable[Mutation], told: str) -> list[Mutation]:
    """Return the changes that survived, by what an earlier run told on its lines."""
    lines = [line for line in told.splitlines() if line.startswith("survived ")]
    return [one for one in mutations if any(f"  {one.told()}  [" in line for line in lines)]


def copied(root: Path, to: Path) -> Path:
    """Copy what the tests need of a tree, and return the copy."""
    for part in PARTS:
        if (root / part).is_dir():
            shutil.copytree(root / part, to / part, ignore=shutil.ignore_patterns("__pycache__", "*.egg-info"))
        elif (root / part).exists():
            shutil.copy2(root / part, to / part)
    return to


def all_mutations(root: Path, package: str) -> list[Mutation]:
    """Return every change that can be made to a package in a tree."""
    files = sorted((root / "src" / package).rglob("*.py"))
    return [
        one
        for file in files
        for one in mutations_of(file.read_text(encoding="utf-8"), file=file.relative_to(root).as_posix())
    ]


def report(outcomes: Iterable[Outcome]) -> dict[str, object]:
    """Return the outcomes as plain data for JSON, with their count by verdict."""
    outcomes = list(outcomes)
    return {
        "counts": dict(Counter(one.verdict for one in outcomes)),
        "mutations": [
            {**asdict(one.mutation), "verdict": one.verdict, "tests": list(one.tests), "by": one.by} for one in outcomes
        ],
    }


def main(arguments: Sequence[str] | None = None) -> int:
    """Draw changes, make each, run its tests, and tell what became of it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--count", type=int, default=60, help="changes to draw (60)")
    parser.add_argument("--seed", type=int, default=1, help="what they are drawn by (1)")
    parser.add_argument("--limit", type=float, default=LIMIT_S, help="seconds that the tests of one may take (180)")
    parser.add_argument(
        "--again", type=Path, metavar="FILE", help="make the changes that survived, by an earlier output"
    )
    parser.add_argument("--json", action="store_true", help="print a document when all are done")
    parser.add_argument("--root", type=Path, default=ROOT, help="the tree (this one)")
    parser.add_argument("--package", default="sublatch", help="the package in its src (sublatch)")
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        tree = Tree(copied(asked.root.resolve(), Path(folder)), asked.package, limit_s=asked.limit)
        every, outcomes = all_mutations(tree.root, asked.package), []
        again = survivors(every, asked.again.read_text(encoding="utf-8")) if asked.again else None
        for one in again if again is not None else drawn(every, count=asked.count, seed=asked.seed):
            outcomes.append(tree.outcome(one))
            print(outcomes[-1].told(), file=sys.stderr if asked.json else sys.stdout, flush=True)
    told = report(outcomes)
    print(json.dumps(told, indent=2, ensure_ascii=False) if asked.json else told["counts"])
    return 0


if __name__ == "__main__":
    sys.exit(main())
