"""Files written whole or not at all, under names that are safe on every system."""

from __future__ import annotations

import errno
import os
import re
import secrets
import unicodedata
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from hashlib import sha256
from pathlib import Path

from sublatch.errors import OutputError, PlanError

LONGEST_NAME_BYTES = 96
"""Longest file name that `safe_name` gives, in bytes of UTF-8; a suffix still fits on every file system."""

_DEVICE_NAMES = re.compile(r"(CON|PRN|AUX|NUL|CONIN\$|CONOUT\$|(COM|LPT)[0-9¹²³])[ ]*(\.|$)", re.IGNORECASE)
_REASONS = {
    errno.ENOSPC: "the disk is full; free some space or write to another disk",
    errno.EDQUOT: "the disk quota is used up; free some space or write to another disk",
    errno.EFBIG: "it would be larger than a file may be here; write to another disk",
    errno.EACCES: "writing there is not allowed; is it write-protected or open in another program?",
    errno.EPERM: "writing there is not allowed; is it write-protected or open in another program?",
    errno.EROFS: "the disk is read-only; write to another folder",
    errno.ENOENT: "its folder does not exist; make the folder first or correct the path",
    errno.ENOTDIR: "a part of its path is a file, not a folder; correct the path",
    errno.EISDIR: "it is a folder; give a file's name",
    errno.ENAMETOOLONG: "the name or path is too long; shorten it",
}


@contextmanager
def atomic_path(path: str | Path) -> Iterator[Path]:
    """Give a temporary path to write to; put it in the target's place only when all went well.

    Parameters
    ----------
    path
        The target. A link is followed, as it is when a file is opened for writing.

    Yields
    ------
    Path
        An empty file beside the target, whose name starts with "." and ends with ".part".

    Raises
    ------
    OutputError
        When the file cannot be written; the target is then as it was, and the temporary file gone.

    Notes
    -----
    The file is flushed to the disk before it is renamed, so that after a power cut too there is either the old
    file or the whole new one. An error about some other file that happens inside passes through unchanged.
    """
    target = Path(os.path.realpath(path))
    temporary = target.with_name(f".{target.name[:32]}-{secrets.token_hex(4)}.part")
    try:
        _refuse_what_is_no_file(Path(path), target)
        os.close(os.open(temporary, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
        yield temporary
        _flush(temporary)
        os.replace(temporary, target)
    except BaseException as problem:
        with suppress(OSError):
            temporary.unlink()
        if isinstance(problem, OSError) and _is_about(problem, (temporary, target)):
            raise OutputError(f"{path} cannot be written: {_reason(problem)}") from problem
        raise


def write_text(path: str | Path, text: str) -> None:
    """Write a text file in UTF-8, whole or not at all, with line ends as they are in `text`.

    Raises
    ------
    OutputError
        When the file cannot be written.
    """
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: str | Path, data: bytes) -> None:
    """Write a file, whole or not at all.

    Raises
    ------
    OutputError
        When the file cannot be written.
    """
    with atomic_path(path) as temporary:
        temporary.write_bytes(data)


def resolved(path: str | Path) -> Path:
    """Return where a path leads, also where ".." comes after a folder that is not there.

    Parameters
    ----------
    path
        A path of the user's, such as ``new/../old``. Once ``new`` is made, it is ``old``; before that, a system finds
        nothing there, and a check for files that are in the way would find none.

    Returns
    -------
    Path
        The path as it is, unless such a folder is missing; then the same place without ".." and links.
    """
    path = Path(path)
    steps = len(path.parts) - [*reversed(path.parts), ".."].index("..")
    return path if os.path.exists(Path(*path.parts[:steps])) else Path(os.path.realpath(path))


def make_folder(path: str | Path) -> None:
    """Make a folder and those above it, unless they are there.

    Raises
    ------
    OutputError
        When it cannot be made, or a file has its name.
    """
    try:
        Path(path).mkdir(parents=True, exist_ok=True)
    except FileExistsError:
        raise OutputError(f"{path} must be a folder, got a file; choose another name") from None
    except OSError as problem:
        raise OutputError(f"{path} cannot be made: {_reason(problem)}") from problem


def guard(path: str | Path, *, overwrite: bool, made_here: Callable[[Path], bool]) -> None:
    """Refuse to replace a file that the program did not make.

    Parameters
    ----------
    path
        The output.
    overwrite
        Whether the user said that whatever is there may be replaced.
    made_here
        Tells whether an existing file is this program's own work, unchanged since.

    Raises
    ------
    OutputError
        When a file is there, is not the program's own and may not be replaced; always when a folder or a
        device is there.
    """
    path = Path(path)
    target = Path(os.path.realpath(path))
    try:
        _refuse_what_is_no_file(path, target)
        present = target.exists()
    except OutputError:
        raise
    except OSError as problem:
        raise OutputError(f"{path} cannot be written: {_reason(problem)}") from problem
    if present and not overwrite and not made_here(path):
        raise OutputError(
            f"{path} exists and was not made by sublatch, or was changed since; choose another name, or replace "
            "it with --overwrite"
        )


def guard_folder(path: str | Path) -> None:
    """Refuse an output whose folder is not there, before any work is done for it.

    Parameters
    ----------
    path
        The output.

    Raises
    ------
    OutputError
        When there is no such folder, or a file has its name.
    """
    try:
        os.stat(os.path.join(Path(path).parent, ""))
    except OSError as problem:
        raise OutputError(f"{path} cannot be written: {_reason(problem)}") from problem


def guard_inputs(output: str | Path, inputs: Iterable[str | Path]) -> None:
    """Refuse an output that is one of the inputs, under whatever name.

    Parameters
    ----------
    output
        The file to be written.
    inputs
        The files that are read; links to them count as well.

    Raises
    ------
    OutputError
        When writing the output would replace an input.
    """
    for input_path in inputs:
        is_same = os.path.realpath(output) == os.path.realpath(input_path)
        with suppress(OSError):
            is_same = is_same or os.path.samefile(output, input_path)
        if is_same:
            alias = "" if str(output) == str(input_path) else f", under the name {input_path}"
            raise OutputError(
                f"{output} is read{alias}, so it cannot be written to as well; choose another name for the output"
            )


def safe_name(name: str) -> str:
    """Return a name as a file name for Linux, macOS and Windows.

    Parameters
    ----------
    name
        A candidate's or take's name.

    Returns
    -------
    str
        The name itself where it is fit. Otherwise the characters that some system refuses are replaced by "_",
        the length is cut to `LONGEST_NAME_BYTES`, and eight digits made from the whole name are appended, so
        that different names stay different.

    Raises
    ------
    PlanError
        When the name is empty or would lead out of its folder.

    Notes
    -----
    Names that differ only in case are left alone here; `safe_names` tells them apart.
    """
    if not name.strip():
        raise PlanError(f"a name must not be empty, got {name!r}")
    if "/" in name or "\\" in name or name.strip() in (".", ".."):
        raise PlanError(f"a name must stay in its folder, got {name!r}; use no slashes, and more than dots")
    safe = unicodedata.normalize("NFC", name)
    safe = "".join("_" if _is_refused(character) else character for character in safe).strip()
    safe = re.sub(r"\A\.|\.\Z", "_", safe)
    if _DEVICE_NAMES.match(safe):
        safe = "_" + safe
    if safe == name and len(name.encode()) <= LONGEST_NAME_BYTES:
        return name
    return _with_digits(safe, name)


def safe_names(names: Iterable[str]) -> dict[str, str]:
    """Return the file name for each of several names that share a folder.

    Parameters
    ----------
    names
        Candidates' or takes' names.

    Returns
    -------
    dict
        `safe_name` of each; names that a file system may not tell apart by case get digits as well.

    Raises
    ------
    PlanError
        When one of them is empty or would lead out of its folder.
    """
    safe = {name: safe_name(name) for name in names}
    folded = [_folded(text) for text in safe.values()]
    return {name: _with_digits(text, name) if folded.count(_folded(text)) > 1 else text for name, text in safe.items()}


def _with_digits(text: str, name: str) -> str:
    """Return `text`, cut where needed, with eight digits made from `name`."""
    digits = "-" + sha256(name.encode("utf-8", "surrogatepass")).hexdigest()[:8]
    kept = text.encode("utf-8", "replace")[: LONGEST_NAME_BYTES - len(digits)]
    return kept.decode("utf-8", "ignore") + digits


def _folded(text: str) -> str:
    """Return `text` as file systems compare it that ignore case and composition."""
    return unicodedata.normalize("NFD", text.casefold())


def _is_refused(character: str) -> bool:
    """Return whether some system refuses the character in a file name, or shows it as something else."""
    return character in '<>:"|?*' or unicodedata.category(character) in ("Cc", "Cf", "Cs", "Zl", "Zp")


def _refuse_what_is_no_file(path: Path, target: Path) -> None:
    """Refuse a folder or a device as an output, named as `path`."""
    if target.is_dir():
        raise OutputError(f"{path} must be a file, got a folder; add a file's name")
    if target.exists() and not target.is_file():
        raise OutputError(f"{path} must be a file, got a device or pipe; give a file's name")


def _flush(path: Path) -> None:
    """Have a file's content written to the disk."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _is_about(problem: OSError, paths: tuple[Path, Path]) -> bool:
    """Return whether an error is the system's, about one of the paths or about no file that it names."""
    if problem.errno is None:
        return False
    return problem.filename is None or str(problem.filename) in {str(path) for path in paths}


def _reason(problem: OSError) -> str:
    """Return what went wrong and what to do about it."""
    return _REASONS.get(problem.errno or 0, problem.strerror or str(problem))
