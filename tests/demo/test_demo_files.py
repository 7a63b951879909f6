"""Writing the demo: what is in the folder, and what is never replaced."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from sublatch import demo
from sublatch.audition.plan.load import load_audition
from sublatch.circuit.load import load_circuit
from sublatch.demo import write
from sublatch.errors import OutputError
from sublatch.files.sound import made_here

NAMES = ["open-strings", "walking-line", "hard-accents", "slide", "dead-notes"]


@pytest.fixture(autouse=True)
def _low_rate(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(write, "SAMPLE_RATE_HZ", 8000)  # so that it takes no time


def contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def take_files(plan: dict[str, Any]) -> list[str]:
    return [take["file"] if isinstance(take, dict) else take for take in plan["takes"]]


TEXTS = ["own.toml", "filters.toml", "audition.toml"]


def test_the_demo_is_takes_a_bed_a_circuit_and_plans_that_name_them(tmp_path: Path) -> None:
    written = demo.write_demo(tmp_path / "new" / "folder")
    folder = tmp_path / "new" / "folder"
    assert [path.relative_to(folder).as_posix() for path in written] == [
        *(f"takes/{name}.flac" for name in NAMES),
        "bed.flac",
        *TEXTS,
    ]
    assert set(contents(folder)) == {path.relative_to(folder).as_posix() for path in written}
    plan = tomllib.loads(written[-1].read_text(encoding="utf-8"))
    assert [folder / file for file in take_files(plan)] == written[:5]
    assert [entry["bed"] for entry in plan["takes"] if isinstance(entry, dict)] == ["bed.flac"]
    assert plan["full_scale"] == f"{demo.FULL_SCALE_VOLTS:g}V"


def test_every_plan_can_be_carried_out_and_the_circuit_has_a_filter_of_its_own(tmp_path: Path) -> None:
    demo.write_demo(tmp_path)
    for name in ("filters.toml", "audition.toml"):
        plan = load_audition(tmp_path / name)
        assert all(plan.take_path(entry).is_file() for entry in plan.plan.takes)
    own, plain = load_circuit(tmp_path / "own.toml"), load_circuit("gated-open")
    assert own.filter.kind == "network"
    assert own == plain.model_copy(update={"title": own.title, "filter": own.filter})


def test_the_takes_are_24_bit_mono_at_the_level_the_plan_says(tmp_path: Path) -> None:
    demo.write_demo(tmp_path)
    for name, volts in demo.demo_takes(8000).items():
        path = tmp_path / "takes" / f"{name}.flac"
        found = soundfile.info(path)
        assert (found.format, found.subtype, found.channels) == ("FLAC", "PCM_24", 1)
        samples, _ = soundfile.read(path)
        np.testing.assert_allclose(samples * 2.0, volts, rtol=0, atol=2.0 / 2**23)
        assert made_here(path)


def test_writing_again_changes_nothing(tmp_path: Path) -> None:
    demo.write_demo(tmp_path)
    first = contents(tmp_path)
    demo.write_demo(tmp_path)
    assert contents(tmp_path) == first


@pytest.mark.parametrize("name", [*TEXTS, "takes/slide.flac", "bed.flac"])
def test_a_file_of_the_users_is_kept_and_nothing_is_written(tmp_path: Path, name: str) -> None:
    own = tmp_path / name
    own.parent.mkdir(exist_ok=True)
    own.write_text("mine")
    with pytest.raises(OutputError, match=own.name):
        demo.write_demo(tmp_path)
    assert contents(tmp_path) == {name: b"mine"}


def test_an_edited_plan_is_kept_until_told_otherwise(tmp_path: Path) -> None:
    plan = demo.write_demo(tmp_path)[-1]
    plan.write_text(plan.read_text(encoding="utf-8").replace("loudness", "peak"), encoding="utf-8")
    with pytest.raises(OutputError, match=r"audition\.toml"):
        demo.write_demo(tmp_path)
    assert "peak" in plan.read_text(encoding="utf-8")
    demo.write_demo(tmp_path, overwrite=True)
    assert plan.read_bytes() == demo.plan_text().encode("utf-8")


def test_the_samples_are_small_and_made_by_the_script() -> None:
    folder = Path(__file__).parents[2] / "samples"
    for name, text in demo.demo_texts().items():
        assert (folder / name).read_bytes() == text.encode("utf-8")
    plan = (folder / "audition.toml").read_bytes()
    sounds = [*(folder / file for file in take_files(tomllib.loads(plan.decode("utf-8")))), folder / "bed.flac"]
    for path in sounds:
        assert made_here(path), path
        assert 6 <= soundfile.info(path).duration <= 12
    assert sum(path.stat().st_size for path in folder.rglob("*")) < 4e6
