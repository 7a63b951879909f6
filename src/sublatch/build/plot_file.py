"""Writing a picture of knobs: checked ahead, whole or not at all, its maker noted in it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from sublatch.build.knobs import Knobs
from sublatch.errors import OutputError
from sublatch.outputs import guard, guard_folder, guard_inputs, write_bytes

MAKER = b"sublatch knob picture"
"""What a PNG of ours says in its Software chunk."""


def guard_picture(path: Path, *, inputs: Iterable[str | Path], overwrite: bool) -> None:
    """Refuse a picture that cannot be written, or would replace a take or a file of the user's.

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


def write_picture(path: Path, found: Knobs) -> None:
    """Draw knobs into a PNG file.

    Parameters
    ----------
    path
        The file.
    found
        From `knobs`.

    Raises
    ------
    OutputError
        When it cannot be written.
    """
    from sublatch.build.pictures import knobs_png

    write_bytes(path, knobs_png(found, software=MAKER.decode()))


def _is_ours(path: Path) -> bool:
    """Return whether a file is a picture drawn here."""
    try:
        with path.open("rb") as file:
            return MAKER in file.read(4096)
    except OSError:
        return False
