"""Writing a picture: checked ahead, whole or not at all, its maker noted in it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from sublatch.errors import OutputError
from sublatch.files.whole_files import guard, guard_folder, guard_inputs, write_bytes

MAKER = "sublatch picture"
"""What a PNG of ours says in its Software chunk."""


def guard_picture(path: Path, *, inputs: Iterable[str | Path], overwrite: bool) -> None:
    """Refuse a picture that cannot be written, or would replace a take, a circuit or another file of the user's.

    Parameters
    ----------
    path
        The picture to be written.
    inputs
        Files that the job reads.
    overwrite
        Replace a file that was not drawn here.

    Raises
    ------
    OutputError
        When the name does not end in .png, or the file must not be replaced.
    """
    if path.suffix.lower() != ".png":
        raise OutputError(f"{path} must end in .png, got {path.suffix or 'no ending'!r}")
    guard_inputs(path, inputs)
    guard(path, overwrite=overwrite, made_here=_is_ours)
    guard_folder(path)


def write_picture(path: Path, png: bytes) -> None:
    """Write a picture that was drawn with `MAKER` as its software.

    Raises
    ------
    OutputError
        When it cannot be written.
    """
    write_bytes(path, png)


def _is_ours(path: Path) -> bool:
    """Return whether a file is a picture drawn here."""
    try:
        with path.open("rb") as file:
            return MAKER.encode() in file.read(4096)
    except OSError:
        return False
