"""Writing the demo: takes, backing, plans and a circuit, in a folder of the user's."""

from __future__ import annotations

from collections.abc import Callable
from importlib import resources
from pathlib import Path

from sublatch.demo.bed import demo_bed
from sublatch.demo.score import SCORES
from sublatch.demo.takes import demo_takes
from sublatch.files.sound import made_here, write_audio
from sublatch.files.whole_files import guard, make_folder, resolved, write_text

FULL_SCALE_VOLTS = 2.0
"""What digital full scale stands for in the takes that are written, as their plan says."""
SAMPLE_RATE_HZ = 48000
PLAN_NAME = "audition.toml"
TEXT_NAMES = ("own.toml", "filters.toml", PLAN_NAME)
"""A circuit with a filter of one's own, a short plan, and the plan to start from."""
BED_NAME = "bed.flac"
TAKE_COMMENT = f"Invented, not recorded. Full scale stands for {FULL_SCALE_VOLTS:g} V."
BED_COMMENT = "Invented, not recorded. A backing for the walking line."


def write_demo(directory: str | Path, *, overwrite: bool = False) -> list[Path]:
    """Write the invented takes, the backing, plans and a circuit to start from.

    Parameters
    ----------
    directory
        Where to; made if it is not there.
    overwrite
        Replace files that this program did not make, and texts that were changed since.

    Returns
    -------
    list of Path
        What was written: the takes, the backing, the texts, and last the plan to start from.

    Raises
    ------
    OutputError
        When a file must not be replaced (then nothing is written) or cannot be written.
    """
    folder = resolved(directory)
    texts = {folder / name: text for name, text in demo_texts().items()}
    takes = {name: folder / "takes" / f"{name}.flac" for name in SCORES}
    bed = folder / BED_NAME
    for path in (*takes.values(), bed):
        guard(path, overwrite=overwrite, made_here=made_here)
    for path, text in texts.items():
        guard(path, overwrite=overwrite, made_here=_holds(text))
    make_folder(folder / "takes")
    for name, volts in demo_takes(SAMPLE_RATE_HZ).items():
        write_audio(takes[name], volts / FULL_SCALE_VOLTS, SAMPLE_RATE_HZ, title=take_title(name), comment=TAKE_COMMENT)
    write_audio(bed, demo_bed(SAMPLE_RATE_HZ), SAMPLE_RATE_HZ, title="Backing", comment=BED_COMMENT)
    for path, text in texts.items():
        write_text(path, text)
    return [*takes.values(), bed, *texts]


def take_title(name: str) -> str:
    """Return the title of a take as it stands in the file, such as "Walking line"."""
    return name.replace("-", " ").capitalize()


def plan_text() -> str:
    """Return the demo's plan, as it is written."""
    return demo_texts()[PLAN_NAME]


def demo_texts() -> dict[str, str]:
    """Return the demo's circuit and plans by their files' names, as they are written."""
    folder = resources.files("sublatch.demo")
    return {name: folder.joinpath(name).read_text(encoding="utf-8") for name in TEXT_NAMES}


def _holds(text: str) -> Callable[[Path], bool]:
    """Return a test for whether a file holds this text and nothing else."""

    def made(path: Path) -> bool:
        try:
            return path.read_bytes() == text.encode("utf-8")
        except OSError:
            return False

    return made
