"""The wheel holds everything, and works where nothing else of this repository is in reach."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
import venv
from collections.abc import Iterator
from pathlib import Path
from zipfile import Path as PackedPath
from zipfile import ZipFile

import pytest

import sublatch
from sublatch.audition.folder.code_digest import source_digest
from sublatch.manual.topics import topic, topic_names

ROOT = Path(__file__).parent.parent
SOURCE = ROOT / "src"
CIRCUITS = {"polarity-third-order", "gated-first-order", "gated-open", "gated-swept", "polarity-swept"}
DATA = {
    "sublatch/py.typed",
    "sublatch/demo/audition.toml",
    "sublatch/demo/filters.toml",
    "sublatch/demo/own.toml",
    *(f"sublatch/circuit/library/{name}.toml" for name in CIRCUITS),
    *(f"sublatch/manual/{name}.md" for name in topic_names()),
}

pytestmark = pytest.mark.wheel


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("dist")
    _run([sys.executable, "-m", "build", "--wheel", "--outdir", str(folder), str(ROOT)], folder)
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Give the folder of the programs in an environment that holds the wheel and what it asks for."""
    folder = tmp_path_factory.mktemp("clean")
    venv.create(folder, with_pip=True)
    programs = folder / ("Scripts" if os.name == "nt" else "bin")
    _run([str(programs / "python"), "-m", "pip", "install", "--quiet", "--no-input", str(wheel)], folder)
    yield programs
    shutil.rmtree(folder, ignore_errors=True)  # half a gigabyte


def test_the_wheel_holds_all_that_the_source_holds(wheel: Path) -> None:
    files = {path.relative_to(SOURCE).as_posix() for path in (SOURCE / "sublatch").rglob("*") if path.is_file()}
    source = {name for name in files if "__pycache__" not in name}
    with ZipFile(wheel) as contents:
        packed = {name for name in contents.namelist() if ".dist-info/" not in name}
    assert packed == source
    assert packed >= DATA
    assert any(name.startswith("sublatch/audition/page/") for name in packed)


def test_the_code_has_the_same_digest_in_the_wheel_and_in_the_source(wheel: Path) -> None:
    assert source_digest(PackedPath(wheel, "sublatch/")) == source_digest(SOURCE / "sublatch")


def test_the_package_comes_from_the_clean_environment(installed: Path, tmp_path: Path) -> None:
    code = "import sublatch; print(sublatch.__version__, sublatch.__file__)"
    version, file = _run([str(installed / "python"), "-c", code], tmp_path).split(maxsplit=1)
    installed_as = "from importlib.metadata import version; print(version('sublatch'))"
    assert version == _run([str(installed / "python"), "-c", installed_as], tmp_path).strip() == sublatch.__version__
    assert Path(file.strip()).is_relative_to(installed.parent)


def test_the_environment_has_all_that_it_needs(installed: Path, tmp_path: Path) -> None:
    assert "No broken requirements" in _run([str(installed / "python"), "-m", "pip", "check"], tmp_path)


def test_built_in_circuits_come_along(installed: Path, tmp_path: Path) -> None:
    listed = _run([str(installed / "sublatch"), "circuits"], tmp_path)
    assert {name for name in CIRCUITS if name in listed} == CIRCUITS
    for name in sorted(CIRCUITS):
        circuit = tomllib.loads(_run([str(installed / "sublatch"), "circuits", name], tmp_path))
        assert {"title", "supply", "octave"} <= set(circuit), name


def test_the_manual_comes_along(installed: Path, tmp_path: Path) -> None:
    for name in topic_names():
        assert topic(name).title in _run([str(installed / "sublatch"), "manual", name], tmp_path)


def test_the_demo_comes_along(installed: Path, tmp_path: Path) -> None:
    _run([str(installed / "sublatch"), "demo", "start"], tmp_path)
    plan = tomllib.loads((tmp_path / "start" / "audition.toml").read_text(encoding="utf-8"))
    files = [take["file"] if isinstance(take, dict) else take for take in plan["takes"]]
    assert files
    assert all((tmp_path / "start" / file).stat().st_size > 10_000 for file in files)


def test_an_audition_can_be_made(installed: Path, tmp_path: Path) -> None:
    _run([str(installed / "sublatch"), "demo", "start"], tmp_path)
    lines = [
        'full_scale = "2V"',
        'takes = ["start/takes/dead-notes.flac"]',
        "[[candidates]]",
        'name = "open"',
        'circuit = "gated-open"',
    ]
    (tmp_path / "plan.toml").write_text("\n".join(lines), encoding="utf-8")
    _run([str(installed / "sublatch"), "audition", "plan.toml", "-o", "out"], tmp_path)
    assert "<html" in (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert len(list((tmp_path / "out" / "audio").rglob("*.wav"))) >= 1


def _run(command: list[str], folder: Path) -> str:
    """Run a program away from the repository and return what it says; its complaint is the failure's message."""
    outside = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV"))}
    done = subprocess.run(command, cwd=folder, env=outside, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}{done.stderr}"
    return done.stdout
