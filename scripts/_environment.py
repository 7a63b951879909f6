"""The folder ``.venv`` with the package in it, made when it is not there; for the scripts beside this file.

It needs nothing but the standard library, and parses on Pythons too old for the package, so as to say so.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from hashlib import sha256
from importlib.util import find_spec
from pathlib import Path

OLDEST_PYTHON = (3, 11)
ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
EXTRAS = ("", "[test]")
"""What can be installed; each includes the one before it."""


class SetupError(Exception):
    """The environment cannot be made; the message says why and what helps."""


def run_calmly(job: Callable[[], int]) -> int:
    """Do a script's job and return its exit status; what goes wrong on the way is said in a sentence."""
    try:
        return job()
    except SetupError as problem:
        print(problem, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped. Run it again to go on from here.", file=sys.stderr)
        return 130


def run(*arguments: str) -> int:
    """Run the environment's Python in the repository's folder and return its exit status."""
    with subprocess.Popen([str(PYTHON), *arguments], cwd=ROOT) as child:
        try:
            return child.wait()
        except KeyboardInterrupt:
            child.wait()  # it was told too, and may have something to put in order
            raise


def prepare(extra: str = "") -> None:
    """Make `PYTHON` ready to run the package with one of `EXTRAS`; quick when it is already."""
    if sys.version_info[:2] < OLDEST_PYTHON:
        needed, this = (".".join(map(str, version)) for version in (OLDEST_PYTHON, sys.version_info[:3]))
        raise SetupError(f"Sublatch needs Python {needed} or newer; {sys.executable} is Python {this}.")
    version = _version() or _make_venv()
    if any(_holds(_stamp_file(more), _stamp(more, version)) for more in EXTRAS[EXTRAS.index(extra) :]):
        return
    _install(extra)
    _stamp_file(extra).write_text(_stamp(extra, version), encoding="utf-8")


def _version() -> str:
    """Return which Python the environment holds, or an empty text if none that has pip and is new enough."""
    if not PYTHON.exists():
        return ""
    question = f"import pip, sys; sys.exit(sys.version_info[:2] < {OLDEST_PYTHON} or print(sys.version))"
    asked = subprocess.run([PYTHON, "-c", question], capture_output=True, text=True, check=False)
    return "" if asked.returncode else asked.stdout.strip()


def _make_venv() -> str:
    """Make the folder, or make good what is missing in it, and return which Python it holds."""
    missing = [name for name in ("venv", "ensurepip") if find_spec(name) is None]
    if missing:
        raise SetupError(
            f"{sys.executable} cannot make virtual environments: its module {missing[0]} is missing.\n"
            "On Debian and Ubuntu the package python3-venv brings it: sudo apt install python3-venv"
        )
    print(f"Making the environment {VENV}", flush=True)
    made = subprocess.run([sys.executable, "-m", "venv", VENV], capture_output=True, text=True, check=False)
    if made.returncode:
        raise SetupError(f"{made.stdout}{made.stderr}\nThe environment {VENV} could not be made; see above.")
    version = _version()
    if not version:
        raise SetupError(f"The environment {VENV} does not work. Delete that folder, then run this again.")
    return version


def _install(extra: str) -> None:
    """Install the package, editable, and tell what pip is busy with on one line."""
    print("Installing Sublatch and the libraries it uses; the first time takes a minute or two.", flush=True)
    began = time.monotonic()
    command = [str(PYTHON), "-m", "pip", "install", "--disable-pip-version-check", "--no-input", "-e", f".{extra}"]
    output = []
    with subprocess.Popen(
        command,
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        errors="replace",
    ) as pip:
        try:
            for line in pip.stdout or ():
                output.append(line)
                _show(line.strip())
        except KeyboardInterrupt:
            pip.communicate()
            raise
    _show("")
    if pip.returncode:
        raise SetupError(f"{''.join(output)}\nInstalling failed; what pip said stands above.")
    print(f"Installed in {time.monotonic() - began:.0f} s.", flush=True)


def _show(text: str) -> None:
    """Write over the terminal's present line; into a file or a pipe nothing goes."""
    if sys.stdout.isatty():
        width = shutil.get_terminal_size().columns - 1
        shown = text.encode("ascii", "replace").decode("ascii")[:width]
        print(f"\r{shown:<{width}}" + ("" if text else "\r"), end="", flush=True)


def _stamp(extra: str, version: str) -> str:
    """Return in short what an installation depends on: the package's description, the Python and the folder."""
    parts = ((ROOT / "pyproject.toml").read_bytes(), version.encode(), str(ROOT).encode(), extra.encode())
    return sha256(b"\0".join(parts)).hexdigest()


def _stamp_file(extra: str) -> Path:
    """Return where the stamp of an installation is kept."""
    return VENV / f"installed{extra}.stamp"


def _holds(path: Path, text: str) -> bool:
    """Return whether a file is there and holds just this text."""
    return path.exists() and path.read_text(encoding="utf-8") == text
