"""Text files of the user's, read: only a regular file of a sensible size, and every fault named."""

from __future__ import annotations

import stat
from pathlib import Path

from sublatch.errors import SublatchError, nearest_hint

MOST_BYTES = 4_000_000
"""Size of a text file at most; a plan, a circuit or what the listening page saves comes to far less."""


def read_text(path: Path, *, what: str, missing: str, hint: str, error: type[SublatchError]) -> str:
    """Return the text of a file.

    Parameters
    ----------
    path
        The file, in UTF-8, with or without a byte order mark.
    what
        What it must be, for the message, such as "a plan file".
    missing, hint
        What to say where there is none, such as "no such plan", and what to do about it; the file beside it whose
        name is much like it is told in between.
    error
        The error to raise.

    Returns
    -------
    str
        The text, every line ending in a line feed.

    Raises
    ------
    SublatchError
        Of the kind `error`, when the file is not there, is a folder, a device or a pipe (they may never end, or
        never begin), is larger than `MOST_BYTES`, or is no text.
    """
    return decoded(read_content(path, what=what, missing=missing, hint=hint, error=error), path, error=error)


def read_content(path: Path, *, what: str, missing: str, hint: str, error: type[SublatchError]) -> bytes:
    """Return the bytes of a file, as `read_text` reads them: only those of a regular file of a sensible size."""
    try:
        mode = path.stat().st_mode
        if not stat.S_ISREG(mode):
            came = "got a folder" if stat.S_ISDIR(mode) else "got a device or pipe; give a file's name"
            raise error(f"{path}: must be {what}, {came}")
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise error(f"{path}: {missing}{_near_file(path)}; {hint}") from None
    except error:
        raise
    except (OSError, ValueError) as problem:  # ValueError: a null character in the path
        raise error(f"{str(path)!r}: cannot be read: {getattr(problem, 'strerror', None) or problem}") from None
    if len(content) > MOST_BYTES:
        raise error(f"{path}: must be at most {MOST_BYTES // 1_000_000} MB, got more; is it {what}?")
    return content


def decoded(content: bytes, path: Path, *, error: type[SublatchError]) -> str:
    """Return bytes as the text that `read_text` gives."""
    try:
        return content.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError:
        raise error(f"{path}: must be a text file in UTF-8, got something else") from None


def names_beside(folder: Path, *, ending: str) -> list[str]:
    """Return the names in a folder that have an ending, none where there is no such folder."""
    try:
        return sorted(entry.name for entry in folder.iterdir() if entry.name.lower().endswith(ending))
    except (OSError, ValueError):  # ValueError: a null character in the path
        return []


def _near_file(path: Path) -> str:
    """Return a hint at the file beside `path` whose name is much like it, an empty text without one."""
    ending = path.suffix
    stems = [name.removesuffix(ending) for name in names_beside(path.parent, ending=ending.lower())]
    return nearest_hint(path.stem, stems).replace("'?", f"{ending}'?")
