"""Check everything: ``python3 scripts/test.py [PYTEST ARGUMENTS]``; style, types, then the tests.

Tests that build and install the package run first, by themselves; the rest runs on two cores (``-n`` says otherwise).
Tests marked ``long`` are left out unless marks are asked for: ``-m long`` runs them, ``-m "long or not long"`` all.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys

from _environment import PYTHON, ROOT, prepare, run, run_calmly

USUAL = "not long"
"""The marks that run when none are asked for."""
ALONE = "wheel"
"""The mark of the tests that run by themselves."""
ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")
"""What keeps each of the processes to one core: their threads only get in each other's way."""
SHARED = ("--dist", "loadfile", "--no-loadscope-reorder")
"""How the processes share the tests: file by file, in order, since the files with fewest tests take longest."""
NOTHING_COLLECTED = 5
"""What pytest returns when no test was chosen."""
PAGE_SCRIPTS = "src/sublatch/audition/page/scripts"
TYPED_SCRIPTS = f"{PAGE_SCRIPTS}/live/jsconfig.json"
"""Those that say their types."""


def main() -> int:
    """Run every check, even after one has failed, and pytest's larger part last."""
    prepare("[test]")
    for name in ONE_THREAD:
        os.environ.setdefault(name, "1")
    chosen, others = _arguments()
    failed = [
        name
        for name, command in (
            ("ruff check", ["ruff", "check"]),
            ("ruff format --check", ["ruff", "format", "--check"]),
            ("mypy", ["mypy", "src", "scripts"]),
        )
        if _run(name, command)
    ]
    if _linted_scripts():
        failed.append("oxlint")
    if _typed_scripts():
        failed.append("tsc")
    alone = _pytest(chosen.m, ALONE, others)
    if alone not in (0, NOTHING_COLLECTED):
        failed.append(f"pytest -m '{ALONE}'")
    if failed:
        print(f"\nFailed so far: {', '.join(failed)}", flush=True)
    rest = _pytest(chosen.m, f"not ({ALONE})", ["-n", chosen.n, *SHARED, *others])
    if rest == NOTHING_COLLECTED and alone != NOTHING_COLLECTED:
        rest = 0
    return rest or bool(failed)


def _arguments() -> tuple[argparse.Namespace, list[str]]:
    """Return the two arguments of pytest that have a default here, and the others."""
    parser = argparse.ArgumentParser(description=__doc__, allow_abbrev=False, usage="%(prog)s [PYTEST ARGUMENTS]")
    parser.add_argument("-m", metavar="MARKS", default=USUAL, help="only tests with these marks, as for pytest")
    parser.add_argument("-n", metavar="COUNT", default="2", help="processes that share the tests, as for pytest-xdist")
    return parser.parse_known_args()


def _pytest(marks: str, more_marks: str, arguments: list[str]) -> int:
    """Run the tests that carry both the marks asked for and those of this part."""
    both = f"({marks}) and ({more_marks})" if marks else more_marks
    return _run(f"pytest -m '{both}'", ["pytest", "-m", both, *arguments])


def _typed_scripts() -> int:
    """Check the types of the page's scripts where TypeScript's compiler is installed, and return its exit status."""
    checker = shutil.which("tsc")
    if checker is None:
        print("\n== tsc is not installed: the types of the page's scripts are not checked", flush=True)
        return 0
    print(f"\n== tsc -p {TYPED_SCRIPTS}", flush=True)
    return subprocess.run([checker, "-p", TYPED_SCRIPTS], cwd=ROOT, check=False).returncode


def _linted_scripts() -> int:
    """Lint the page's scripts and return the exit status; the linter is a program of the environment, not a module."""
    print(f"\n== oxlint {PAGE_SCRIPTS}", flush=True)
    return subprocess.run([PYTHON.with_name("oxlint"), PAGE_SCRIPTS], cwd=ROOT, check=False).returncode


def _run(name: str, command: list[str]) -> int:
    """Run one tool of the environment under a heading and return its exit status."""
    print(f"\n== {name}", flush=True)
    return run("-m", *command)


if __name__ == "__main__":
    sys.exit(run_calmly(main))
