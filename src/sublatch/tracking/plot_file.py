"""Writing a picture of tracking: checked ahead, whole or not at all, its maker noted in it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from sublatch.errors import OutputError
from sublatch.outputs import atomic_path, guard, guard_inputs
from sublatch.tracking.playing_levels import LevelLock
from sublatch.tracking.track import Tracking

MAKER = b"sublatch tracking picture"
"""What a PNG of ours says in its Software chunk."""


def guard_picture(path: Path, *, inputs: Iterable[str | Path], overwrite: bool) -> None:
    """Refuse a picture that would replace a take or a file of the user's.

    Raises
    ------
    OutputError
        When the name does not end in .png, or the file must not be replaced.
    """
    if path.suffix.lower() != ".png":
        raise OutputError(f"{path} must end in .png, got {path.suffix or 'no ending'!r}")
    guard_inputs(path, inputs)
    guard(path, overwrite=overwrite, made_here=_is_ours)


def write_picture(path: Path, results: Sequence[Tracking], *, levels: Sequence[LevelLock] = ()) -> None:
    """Draw tracking results into a PNG file.

    Parameters
    ----------
    path
        The file.
    results
        From `track`, take after take.
    levels
        From `lock_over_level` for the same takes, where lock over playing level shall be drawn too.

    Raises
    ------
    OutputError
        When it cannot be written.
    """
    from sublatch.tracking.pictures.page import tracking_png

    data = tracking_png(results, levels=levels, software=MAKER.decode())
    with atomic_path(path) as temporary:
        temporary.write_bytes(data)


def _is_ours(path: Path) -> bool:
    """Return whether a file is a picture drawn here."""
    try:
        with path.open("rb") as file:
            return MAKER in file.read(4096)
    except OSError:
        return False
