"""Text files of our own that a user may have edited since: replaced only while they are as they were written."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from sublatch.errors import OutputError
from sublatch.files.whole_files import guard, guard_folder, guard_inputs, write_text


@dataclass(frozen=True)
class OwnFiles:
    """One sort of such files; the last line of each tells whether it was changed since.

    Attributes
    ----------
    name
        What they are, such as "circuit files".
    endings
        Endings of their names, the usual one first.
    before, after
        What stands around the check digits of the last line, such as the signs of a comment; no two sorts have the
        same, so that none replaces another.
    """

    name: str
    before: str
    after: str = "\n"
    endings: tuple[str, ...] = (".toml",)

    def guard(self, path: str | Path, *, inputs: Iterable[str | Path] = (), overwrite: bool = False) -> None:
        """Refuse, ahead of the work, a file that `write` would not write.

        Parameters
        ----------
        path
            The file.
        inputs
            Files that must never be replaced, whatever `overwrite` says.
        overwrite
            Replace a file that is not of this sort, or that was changed since.

        Raises
        ------
        OutputError
            When the name's ending is another, there is no such folder, or the file must not be replaced.
        """
        ending = Path(path).suffix
        if ending.lower() not in self.endings:
            raise OutputError(f"{path} must end in {self.endings[0]}, as {self.name} do, got {ending or 'no ending'!r}")
        guard_inputs(path, inputs)
        guard(path, overwrite=overwrite, made_here=self.is_ours)
        guard_folder(path)

    def write(self, path: str | Path, text: str) -> None:
        """Write a text and its last line, whole or not at all.

        Raises
        ------
        OutputError
            When the file cannot be written.
        """
        write_text(path, self.with_check(text))

    def with_check(self, text: str) -> str:
        """Return a text with a last line that tells whether it was changed since."""
        return f"{text}{self.before}{_check_digits(text.encode('utf-8', 'replace'))}{self.after}"

    def is_ours(self, path: Path) -> bool:
        """Return whether a file is of this sort, and as it was written."""
        try:
            text, mark, rest = path.read_bytes().rpartition(self.before.encode())
        except OSError:
            return False
        return bool(mark) and rest.decode("ascii", "replace") == f"{_check_digits(text)}{self.after}"


def _check_digits(text: bytes) -> str:
    """Return a short text that stands for a longer one."""
    return sha256(text).hexdigest()[:16]
