"""Which part of the package may import which, where each library lives, and how long a module may be.

The rules are read from the imports in the source, those inside functions and for type checkers too.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from fnmatch import fnmatch
from importlib.util import resolve_name
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "src" / "sublatch"
LONGEST_MODULE = 350

BASE = {"errors", "units", "checked", "text_file"}
FILES = {"outputs", "files", "remarks", "take"}
ON_SIGNAL = BASE | FILES | {"circuit", "signal"}

LAYERS: dict[str, set[str]] = {
    "errors": set(),
    "units": {"errors"},
    "checked": {"errors", "units"},
    "text_file": {"errors"},
    "outputs": {"errors", "units"},
    "files": BASE | {"outputs"},
    "remarks": set(),
    "take": BASE | {"outputs", "files", "remarks"},
    "take_report": BASE | FILES,
    "tone": BASE | FILES,
    "picture_file": BASE | {"outputs"},
    "demo": BASE | {"outputs", "files"},
    "circuit": BASE | {"outputs"},
    "calibration": BASE | FILES | {"tone", "circuit"},
    "signal": BASE | {"circuit", "take"},
    "rendering": ON_SIGNAL,
    "tracking": ON_SIGNAL,
    "build": ON_SIGNAL | {"demo"},
    "bench": ON_SIGNAL,
    "audition": ON_SIGNAL | {"calibration", "rendering", "tracking"},
}
"""What each part may import besides itself, from the bottom up. `TOP` may import anything, and nothing imports it."""
TOP = {"cli", "__init__", "__main__"}
HELPERS = {
    "_quantity": "units",
    "_scales": "units",
    "_toml_faults": "checked",
    "_containers": "files",
    "_pcm": "files",
    "_pitch_range": "take_report",
    "_rest": "take_report",
}
"""Modules that are split off from a part, and that only this part uses."""

HOMES = {
    "click": ["cli/*.py"],
    "jinja2": ["audition/*.py", "build/sheet/*.py"],
    "librosa": ["tracking/pitch.py", "_pitch_range.py"],
    "matplotlib": ["pictures.py", "*/pictures.py", "*/pictures/*.py"],
    "numba": ["kernels.py", "*/kernels.py"],
    "schemdraw": ["build/schematic/*.py"],
    "soxr": ["signal/rates.py", "_pitch_range.py"],
    "pyloudnorm": ["signal/*.py", "audition/*.py"],
    "soundfile": ["files.py"],
}
"""The modules that may import a library."""
ONE_MODULE = {"pyloudnorm"}
"""Libraries that only one of the modules in `HOMES` may import."""


def test_parts_import_only_what_lies_below_them() -> None:
    faults = wrong_imports(PACKAGE)
    assert not faults, "\n".join(faults)


def test_every_library_stays_at_home() -> None:
    faults = strayed_libraries(PACKAGE)
    assert not faults, "\n".join(faults)


def test_no_module_is_too_long() -> None:
    faults = long_modules(PACKAGE)
    assert not faults, "\n".join(faults)


def test_layers_are_listed_from_the_bottom_up() -> None:
    listed = list(LAYERS)
    assert all(below <= set(listed[:place]) for place, below in enumerate(LAYERS.values()))


def test_the_package_is_really_read() -> None:
    assert {part for _, _, part in inner_imports(PACKAGE)} >= {"errors", "units", "circuit", "take"}
    assert {name for _, _, name in outer_imports(PACKAGE)} >= {"numpy", "soundfile", "pydantic"}


@pytest.mark.parametrize(
    ("path", "line", "fault"),
    [
        ("errors.py", "import sublatch.units", "errors may not import units"),
        ("_scales.py", "from sublatch.outputs import write_text", "units may not import outputs"),
        ("circuit/pots.py", "from sublatch.signal import chain", "circuit may not import signal"),
        ("circuit/pots.py", "from sublatch import take", "circuit may not import take"),
        ("circuit/pots.py", "from ..signal.chain import run", "circuit may not import signal"),
        ("circuit/pots.py", "from .. import signal", "circuit may not import signal"),
        ("signal/chain.py", "def f():\n    import sublatch.files as f", "signal may not import files"),
        ("signal/chain.py", "import importlib\nimportlib.import_module('sublatch.cli')", "signal may not import cli"),
        ("signal/__init__.py", "from ..tracking import lock", "signal may not import tracking"),
        ("build/knobs.py", "from sublatch.tracking.lock import track", "build may not import tracking"),
        ("bench/fit.py", "from sublatch.build import response", "bench may not import build"),
        ("audition/run.py", "from sublatch.bench import probe", "audition may not import bench"),
        ("demo/write.py", "from sublatch.take import Take", "demo may not import take"),
        ("take.py", "from sublatch._containers import x", "take may not import _containers"),
        ("tracking/lock.py", "from sublatch import render", "tracking may not import sublatch"),
        ("tracking/lock.py", "import sublatch", "tracking may not import sublatch"),
        ("build/knobs.py", "from sublatch.tracking.lock import track, Lock", "build may not import tracking"),
        ("novelty.py", "import math", "novelty has no place in LAYERS"),
        ("novelty/deep/er.py", "import math", "novelty has no place in LAYERS"),
    ],
)
def test_a_wrong_import_is_found(tmp_path: Path, path: str, line: str, fault: str) -> None:
    written = _tree(tmp_path, path, line)
    assert wrong_imports(tmp_path) == [f"{path}:{written}: {fault}"]


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ("audition/run.py", "from sublatch.tracking.lock import track"),
        ("cli/render.py", "from sublatch import render"),
        ("__init__.py", "from sublatch.audition import run"),
        ("files.py", "from sublatch import __version__"),
        ("files.py", "from sublatch._containers import checked_size"),
        ("circuit/pots.py", "from .network import Part"),
        ("circuit/pots.py", "from . import network"),
        ("circuit/pots.py", "import json, signal"),
    ],
)
def test_a_right_import_is_left_alone(tmp_path: Path, path: str, line: str) -> None:
    _tree(tmp_path, path, line)
    assert wrong_imports(tmp_path) == []


@pytest.mark.parametrize(
    ("path", "line", "library"),
    [
        ("take.py", "import soundfile", "soundfile"),
        ("build/sheet.py", "def f():\n    import matplotlib.pyplot as plt", "matplotlib"),
        ("signal/kernels.py", "from librosa import pyin", "librosa"),
        ("signal/edges.py", "from numba import njit", "numba"),
        ("signal/chain.py", "import click", "click"),
        ("build/trim.py", "import pyloudnorm", "pyloudnorm"),
        ("cli/page.py", "from jinja2 import Environment", "jinja2"),
    ],
)
def test_a_strayed_library_is_found(tmp_path: Path, path: str, line: str, library: str) -> None:
    written = _tree(tmp_path, path, line)
    assert strayed_libraries(tmp_path) == [f"{path}:{written}: {library} lives in {' or '.join(HOMES[library])}"]


def test_a_second_home_is_found(tmp_path: Path) -> None:
    _tree(tmp_path, "signal/levels.py", "import pyloudnorm")
    _tree(tmp_path, "audition/match.py", "import pyloudnorm")
    assert strayed_libraries(tmp_path) == ["pyloudnorm is imported by audition/match.py and signal/levels.py"]


def test_a_long_module_is_found(tmp_path: Path) -> None:
    (tmp_path / "fits.py").write_text("\n" * LONGEST_MODULE, encoding="utf-8")
    (tmp_path / "long.py").write_text("\n" * (LONGEST_MODULE + 1), encoding="utf-8")
    assert long_modules(tmp_path) == [f"long.py has {LONGEST_MODULE + 1} lines; at most {LONGEST_MODULE}"]


def wrong_imports(package: Path) -> list[str]:
    """Return where a part imports what does not lie below it, and where a part is in no layer."""
    faults = [f"{path}:1: {part} has no place in LAYERS" for path, part in _parts(package) if not _is_known(part)]
    for path, line, imported in inner_imports(package):
        part = _part_of(path)
        if _is_known(part) and not _may_import(part, imported):
            faults.append(f"{path}:{line}: {HELPERS.get(part, part)} may not import {imported}")
    return list(dict.fromkeys(faults))


def strayed_libraries(package: Path) -> list[str]:
    """Return where a library is imported outside its home, and which have two homes where one is allowed."""
    faults, users = [], {library: set[str]() for library in HOMES}
    for path, line, library in outer_imports(package):
        if library in HOMES:
            users[library].add(path)
            if not any(fnmatch(path, home) for home in HOMES[library]):
                faults.append(f"{path}:{line}: {library} lives in {' or '.join(HOMES[library])}")
    crowded = {library: sorted(paths) for library, paths in users.items() if library in ONE_MODULE and len(paths) > 1}
    return faults + [f"{library} is imported by {' and '.join(paths)}" for library, paths in crowded.items()]


def long_modules(package: Path) -> list[str]:
    """Return which modules have too many lines."""
    lengths = {path: len((package / path).read_text(encoding="utf-8").splitlines()) for path, _ in _parts(package)}
    return [f"{path} has {n} lines; at most {LONGEST_MODULE}" for path, n in lengths.items() if n > LONGEST_MODULE]


def inner_imports(package: Path) -> Iterator[tuple[str, int, str]]:
    """Yield file, line and imported part for every import from the package itself."""
    for path, line, module, name in _imports(package):
        top, _, rest = module.partition(".")
        if top == "sublatch" and (module, name) != ("sublatch", "__version__"):
            known = name in {*LAYERS, *HELPERS, *TOP, *(part for _, part in _parts(package))}
            yield path, line, rest.partition(".")[0] or (name if known else "sublatch")


def outer_imports(package: Path) -> Iterator[tuple[str, int, str]]:
    """Yield file, line and library for every import from elsewhere."""
    for path, line, module, _ in _imports(package):
        if (top := module.partition(".")[0]) != "sublatch":
            yield path, line, top


def _imports(package: Path) -> Iterator[tuple[str, int, str, str]]:
    """Yield file, line, module and the name taken from it, relative ones resolved, also where a text names it."""
    for path, _ in _parts(package):
        within = ".".join(["sublatch", *Path(path).parent.parts])
        for node in ast.walk(ast.parse((package / path).read_text(encoding="utf-8"), filename=path)):
            if isinstance(node, ast.Import):
                yield from ((path, node.lineno, alias.name, "") for alias in node.names)
            elif isinstance(node, ast.ImportFrom):
                module = resolve_name("." * node.level + (node.module or ""), within)
                yield from ((path, node.lineno, module, alias.name) for alias in node.names)
            elif isinstance(node, ast.Call) and "import_module" in ast.unparse(node.func):
                named = [arg.value for arg in node.args[:1] if isinstance(arg, ast.Constant)]
                yield from ((path, node.lineno, str(module), "") for module in named)


def _parts(package: Path) -> list[tuple[str, str]]:
    """Return the path of every module within the package, with the part it belongs to."""
    paths = sorted(path.relative_to(package).as_posix() for path in package.rglob("*.py"))
    return [(path, _part_of(path)) for path in paths]


def _part_of(path: str) -> str:
    """Return the first step of a path, without an ending."""
    return path.partition("/")[0].removesuffix(".py")


def _is_known(part: str) -> bool:
    """Return whether a part has its place."""
    return part in LAYERS or part in HELPERS or part in TOP


def _may_import(part: str, imported: str) -> bool:
    """Return whether one part, or a helper in its stead, may import another."""
    if part in TOP or part == imported:
        return True
    owner = HELPERS.get(part, part)
    if imported in HELPERS:
        return HELPERS[imported] == owner
    return imported in LAYERS[owner]


def _tree(folder: Path, path: str, text: str) -> int:
    """Write one module into a package and return the line of its last statement."""
    (folder / path).parent.mkdir(parents=True, exist_ok=True)
    (folder / path).write_text(text + "\n", encoding="utf-8")
    return len(text.splitlines())
