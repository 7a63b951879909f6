"""The tree: what may import what, where each library lives, and how much stands in one place.

The rules are read from the imports in the source, those inside functions and for type checkers too. Each rule that
nothing uses any more is itself a fault.
"""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from fnmatch import fnmatch
from importlib.util import resolve_name
from pathlib import Path

import pytest

import sublatch

PACKAGE = Path(__file__).parent.parent / "src" / "sublatch"
LONGEST_MODULE = 350
MOST_MODULES = 12
"""Side by side in a folder, commands apart: there the list is the point."""

LAYERS: dict[str, set[str]] = {
    "errors": set(),
    "version": set(),
    "arrays": set(),
    "json_data": set(),
    "units": {"errors", "arrays"},
    "checked": {"errors"},
    "files": {"errors", "version", "arrays"},
    "sampling": {"arrays"},
    "circuit": {"errors", "arrays", "units", "checked", "files"},
    "takes": {"errors", "arrays", "units", "checked", "files", "circuit"},
    "pitch": {"errors", "arrays", "units", "files", "sampling", "takes"},
    "signal": {"errors", "arrays", "sampling", "circuit", "takes"},
    "take_report": {"errors", "arrays", "circuit", "takes", "pitch", "signal"},
    "rendering": {"arrays", "json_data", "units", "files", "sampling", "circuit", "takes", "signal"},
    "demo": {"errors", "arrays", "units", "files"},
    "pictures": {"errors", "arrays", "files", "circuit"},
    "tracking": {
        *("errors", "arrays", "units", "checked", "sampling", "circuit", "takes", "pitch", "signal", "pictures"),
    },
    "parts": {"errors", "arrays", "units", "files", "sampling", "circuit", "takes", "signal", "pictures", "demo"},
    "board": {"errors", "version", "arrays", "units", "files", "circuit", "takes", "signal", "parts", "pictures"},
    "trial": {"errors", "json_data", "checked", "files"},
    "audition": {
        *("errors", "version", "arrays", "json_data", "units", "checked", "files", "sampling", "circuit", "takes"),
        *("pitch", "signal", "rendering", "pictures", "tracking", "parts"),
    },
    "manual": {"errors", "units", "checked", "circuit", "audition"},
}
"""What each part may import besides itself, from the bottom up; `TOP` may import anything, and nothing imports it."""
TOP = {"cli", "__init__", "__main__"}
WITHIN: dict[str, tuple[str, ...]] = {
    "circuit": (
        *("components", "devices", "networks", "filters", "detectors", "octave_stages", "mixing", "output_buffers", ""),
    ),
    "pitch": ("reference", "", "given"),
    "signal": ("filtering", "octave_stage", "front", ""),
    "tracking": ("", "pictures", "tune"),
    "parts": ("", "knobs", "choose", "fit", "mybox"),
    "board": (
        "packages",
        "",
        "check",
        "schematic/placing",
        "schematic",
        "stripboard",
        "orders",
        "sheet",
        "change",
        "change/page",
    ),
    "audition": ("plan", "folder", "listen", "live", "page", "verdicts", ""),
}
"""The folders of a part, from the bottom up; an empty name is the part's own modules."""

HOMES = {
    "click": ["cli/*.py"],
    "jinja2": ["audition/page/*.py", "board/sheet/*.py", "board/change/page/*.py"],
    "librosa": ["pitch/second_opinion.py"],
    "matplotlib": [
        *("pictures/*.py", "tracking/pictures/*.py", "parts/knobs/plot.py", "board/sheet/*.py", "audition/page/*.py"),
    ],
    "mido": ["pitch/given/midi_file.py"],
    "numba": ["board/stripboard/annealing.py"],
    "pydantic": [
        *(
            "checked/*.py",
            "circuit/*.py",
            "audition/plan/*.py",
            "audition/verdicts/*.py",
            "takes/calibration.py",
            "trial/*.py",
            "manual/*.py",
        ),
        "json_data.py",
    ],
    "pyloudnorm": ["sampling/levels.py"],
    "schemdraw": ["board/schematic/*.py"],
    "soundfile": ["files/sound.py"],
    "soxr": ["sampling/rates.py"],
}
"""The modules that may import a library."""


def test_parts_import_only_what_lies_below_them() -> None:
    faults = wrong_imports(PACKAGE)
    assert not faults, "\n".join(faults)


def test_no_module_imports_itself_by_a_circle() -> None:
    assert circles(PACKAGE) == []


def test_every_library_stays_at_home() -> None:
    faults = strayed_libraries(PACKAGE)
    assert not faults, "\n".join(faults)


def test_no_rule_is_dead() -> None:
    faults = dead_rules(PACKAGE)
    assert not faults, "\n".join(faults)


def test_no_module_is_too_long() -> None:
    faults = long_modules(PACKAGE)
    assert not faults, "\n".join(faults)


def test_no_folder_shows_too_many_modules() -> None:
    counts = Counter(Path(path).parent.as_posix() for path in _paths(PACKAGE) if not path.endswith("__init__.py"))
    assert not {folder: count for folder, count in counts.items() if count > MOST_MODULES and folder != "cli"}


def test_no_folder_bears_the_name_of_a_public_function() -> None:
    """Once a module of such a folder is imported, the folder would stand in the function's place."""
    folders = {path.name for path in PACKAGE.iterdir() if path.is_dir()}
    assert not folders & set(dir(sublatch))


def test_layers_are_listed_from_the_bottom_up() -> None:
    listed = list(LAYERS)
    assert all(below <= set(listed[:place]) for place, below in enumerate(LAYERS.values()))


def test_the_package_is_really_read() -> None:
    known = {module for _, _, module in inner_imports(PACKAGE)}
    assert known >= {"errors", "units", "circuit.components.pots", "takes.take"}
    assert {name for _, _, name in outer_imports(PACKAGE)} >= {"numpy", "soundfile", "pydantic"}


@pytest.mark.parametrize(
    ("path", "line", "fault"),
    [
        ("errors.py", "import sublatch.units", "errors may not import units"),
        ("circuit/model.py", "from sublatch.signal import chain", "circuit may not import signal"),
        ("circuit/model.py", "from sublatch import takes", "circuit may not import takes"),
        ("circuit/model.py", "from ..signal.chain import run", "circuit may not import signal"),
        ("circuit/model.py", "from .. import signal", "circuit may not import signal"),
        ("signal/chain.py", "def f():\n    import sublatch.demo as f", "signal may not import demo"),
        ("signal/chain.py", "import importlib\nimportlib.import_module('sublatch.cli')", "signal may not import cli"),
        ("signal/__init__.py", "from ..tracking import lock", "signal may not import tracking"),
        ("parts/knobs/report.py", "from sublatch.tracking.lock import track", "parts may not import tracking"),
        ("demo/write.py", "from sublatch.takes.take import Take", "demo may not import takes"),
        ("tracking/lock.py", "from sublatch import render", "tracking may not import sublatch"),
        ("tracking/lock.py", "import sublatch", "tracking may not import sublatch"),
        ("tracking/lock.py", "from sublatch.tracking.tune import job", "tracking may not import tracking/tune"),
        ("audition/plan/load.py", "from sublatch.audition import run", "audition/plan may not import audition"),
        ("audition/plan/load.py", "import sublatch.audition.page.data", "audition/plan may not import audition/page"),
        ("novelty.py", "import math", "novelty has no place in LAYERS"),
        ("novelty/deep/er.py", "import math", "novelty has no place in LAYERS"),
        ("parts/novelty/er.py", "import math", "parts/novelty has no place in WITHIN"),
    ],
)
def test_a_wrong_import_is_found(tmp_path: Path, path: str, line: str, fault: str) -> None:
    _tree(tmp_path, "audition/run.py", "import math")
    _tree(tmp_path, "audition/page/data.py", "import math")
    _tree(tmp_path, "tracking/tune/job.py", "import math")
    written = _tree(tmp_path, path, line)
    assert wrong_imports(tmp_path) == [f"{path}:{written}: {fault}"]


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ("audition/run.py", "from sublatch.tracking.lock import track"),
        ("audition/page/data.py", "from sublatch.audition.plan.load import load_audition"),
        ("tracking/tune/job.py", "from sublatch.tracking import lock"),
        ("cli/render.py", "from sublatch import render"),
        ("__init__.py", "from sublatch.audition import run"),
        ("circuit/model.py", "from .components import pots"),
        ("circuit/components/pots.py", "from . import quantities"),
        ("circuit/components/pots.py", "import json, signal"),
    ],
)
def test_a_right_import_is_left_alone(tmp_path: Path, path: str, line: str) -> None:
    for there in ("circuit/components/quantities.py", "audition/plan/load.py", "tracking/lock.py"):
        _tree(tmp_path, there, "import math")
    _tree(tmp_path, path, line)
    assert wrong_imports(tmp_path) == []


def test_a_circle_is_found(tmp_path: Path) -> None:
    _tree(tmp_path, "signal/a.py", "from sublatch.signal.b import x")
    _tree(tmp_path, "signal/b.py", "def f():\n    from sublatch.signal import c")
    _tree(tmp_path, "signal/c.py", "from sublatch.signal import a")
    assert circles(tmp_path) == [["signal.a", "signal.b", "signal.c"]]


@pytest.mark.parametrize(
    ("path", "line", "library"),
    [
        ("takes/take.py", "import soundfile", "soundfile"),
        ("board/network.py", "def f():\n    import matplotlib.pyplot as plt", "matplotlib"),
        ("signal/chain.py", "from librosa import pyin", "librosa"),
        ("pitch/range.py", "import librosa", "librosa"),
        ("signal/chain.py", "import click", "click"),
        ("parts/knobs/unity.py", "import pyloudnorm", "pyloudnorm"),
        ("cli/page.py", "from jinja2 import Environment", "jinja2"),
    ],
)
def test_a_strayed_library_is_found(tmp_path: Path, path: str, line: str, library: str) -> None:
    written = _tree(tmp_path, path, line)
    assert strayed_libraries(tmp_path) == [f"{path}:{written}: {library} lives in {' or '.join(HOMES[library])}"]


def test_a_long_module_is_found(tmp_path: Path) -> None:
    (tmp_path / "fits.py").write_text("\n" * LONGEST_MODULE, encoding="utf-8")
    (tmp_path / "long.py").write_text("\n" * (LONGEST_MODULE + 1), encoding="utf-8")
    assert long_modules(tmp_path) == [f"long.py has {LONGEST_MODULE + 1} lines; at most {LONGEST_MODULE}"]


def wrong_imports(package: Path) -> list[str]:
    """Return where a part or folder imports what does not lie below it, and where one has no place in the rules."""
    faults = [fault for path in _paths(package) if (fault := _homeless(path))]
    for path, line, imported in inner_imports(package):
        fault = None if _homeless(path) else _wrong(path, imported, package)
        if fault:
            faults.append(f"{path}:{line}: {fault}")
    return list(dict.fromkeys(faults))


def dead_rules(package: Path) -> list[str]:
    """Return the rules that nothing in the package uses."""
    used = {(_part(path), imported.partition(".")[0]) for path, _, imported in inner_imports(package)}
    faults = [
        f"{part} never imports {other}"
        for part, below in LAYERS.items()
        for other in below - {part}
        if (part, other) not in used
    ]
    places = {(_part(path), _folder(path)) for path in _paths(package)}
    faults += [
        f"{part} has no {name or 'modules'}"
        for part, names in WITHIN.items()
        for name in names
        if (part, name) not in places
    ]
    users = {(library, path) for path, _, library in outer_imports(package)}
    faults += [
        f"{library} is in no {home}"
        for library, homes in HOMES.items()
        for home in homes
        if not any(library == one and fnmatch(path, home) for one, path in users)
    ]
    return faults


def circles(package: Path) -> list[list[str]]:
    """Return the circles among the modules' imports, each sorted."""
    arrows: dict[str, set[str]] = {_module(path): set() for path in _paths(package)}
    for path, _, imported in inner_imports(package):
        if imported in arrows and _module(path) not in TOP:
            arrows[_module(path)].add(imported)
    reached = {module: _reached(module, arrows) for module in arrows}
    together = {
        tuple(sorted(other for other in reached[module] if module in reached[other]))
        for module in arrows
        if module in reached[module]
    }
    return [list(circle) for circle in sorted(together)]


def _reached(module: str, arrows: dict[str, set[str]]) -> set[str]:
    """Return every module that imports lead to from one."""
    found: set[str] = set()
    waiting = list(arrows[module])
    while waiting:
        if (other := waiting.pop()) not in found:
            found.add(other)
            waiting += arrows[other]
    return found


def strayed_libraries(package: Path) -> list[str]:
    """Return where a library is imported outside its home."""
    return [
        f"{path}:{line}: {library} lives in {' or '.join(HOMES[library])}"
        for path, line, library in outer_imports(package)
        if library in HOMES and not any(fnmatch(path, home) for home in HOMES[library])
    ]


def long_modules(package: Path) -> list[str]:
    """Return which modules have too many lines."""
    lengths = {path: len((package / path).read_text(encoding="utf-8").splitlines()) for path in _paths(package)}
    return [f"{path} has {n} lines; at most {LONGEST_MODULE}" for path, n in lengths.items() if n > LONGEST_MODULE]


def inner_imports(package: Path) -> Iterator[tuple[str, int, str]]:
    """Yield file, line and imported module, without the package's name, for every import from the package itself."""
    modules = {_module(path) for path in _paths(package)}
    for path, line, module, name in _imports(package):
        if module.partition(".")[0] == "sublatch":
            inner = module.removeprefix("sublatch").removeprefix(".")
            deeper = f"{inner}.{name}".strip(".")
            known = deeper in modules or (not inner and name in {*LAYERS, *TOP})
            yield path, line, deeper if known else inner or "sublatch"


def outer_imports(package: Path) -> Iterator[tuple[str, int, str]]:
    """Yield file, line and library for every import from elsewhere."""
    for path, line, module, _ in _imports(package):
        if (top := module.partition(".")[0]) != "sublatch":
            yield path, line, top


def _imports(package: Path) -> Iterator[tuple[str, int, str, str]]:
    """Yield file, line, module and the name taken from it, relative ones resolved, also where a text names it."""
    for path in _paths(package):
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


def _paths(package: Path) -> list[str]:
    """Return the path of every module within the package."""
    return sorted(path.relative_to(package).as_posix() for path in package.rglob("*.py"))


def _module(path: str) -> str:
    """Return a module's name without the package's."""
    name = path.removesuffix(".py").replace("/", ".")
    return name.removesuffix(".__init__")


def _part(path: str) -> str:
    """Return the first step of a path, without an ending."""
    return path.partition("/")[0].removesuffix(".py")


def _folder(path: str) -> str:
    """Return the folder of a module within its part, an empty text for the part's own."""
    return "/".join(Path(path).parts[1:-1])


def _homeless(path: str) -> str | None:
    """Return what is wrong with a module that has no place in the rules."""
    part, folder = _part(path), _folder(path)
    if part not in LAYERS and part not in TOP:
        return f"{path}:1: {part} has no place in LAYERS"
    if folder and folder not in WITHIN.get(part, ()) and part not in TOP and not path.endswith("library/__init__.py"):
        return f"{path}:1: {part}/{folder} has no place in WITHIN"
    return None


def _wrong(path: str, imported: str, package: Path) -> str | None:
    """Return what is wrong with an import of a module that has its place."""
    part, other = _part(path), imported.partition(".")[0]
    if part in TOP:
        return None
    if other != part:
        return None if other in LAYERS[part] else f"{part} may not import {other}"
    order = (*WITHIN.get(part, ("",)), *(() if "" in WITHIN.get(part, ("",)) else ("",)))
    inside = "/".join(imported.split(".")[1:])
    there = inside if (package / part / inside).is_dir() else "/".join(imported.split(".")[1:-1])
    if order.index(there) > order.index(_folder(path)):
        names = [f"{part}/{name}".rstrip("/") for name in (_folder(path), there)]
        return "{} may not import {}".format(*names)
    return None


def _tree(folder: Path, path: str, text: str) -> int:
    """Write one module into a package and return the line of its last statement."""
    (folder / path).parent.mkdir(parents=True, exist_ok=True)
    (folder / path).write_text(text + "\n", encoding="utf-8")
    return len(text.splitlines())
